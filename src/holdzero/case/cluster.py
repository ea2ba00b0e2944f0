"""Cluster: the other computers that work is sent to."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from holdzero.errors import InputError, MissingExtra


@contextmanager
def cluster_client(address: str) -> Iterator[Any]:
    """Connect to the scheduler of a Dask cluster.

    Parameters
    ----------
    address : str
        Of the scheduler.

    Yields
    ------
    distributed.Client

    Raises
    ------
    MissingExtra
        Dask is not installed here.
    InputError
        Nothing answers there.
    """
    try:
        from distributed import Client
    except ImportError as missing:
        raise MissingExtra(
            where="--cluster", extra="cluster", package="Dask", instead="leave --cluster out"
        ) from missing
    try:
        client = Client(address, timeout="10s")  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as error:
        raise InputError(
            where="--cluster",
            found=f"no answer from {address}",
            need="the address of a running Dask scheduler",
            do="start one with dask scheduler, or leave --cluster out",
        ) from error
    with client:
        yield client
