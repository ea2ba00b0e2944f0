"""Drawings: pictures a command also writes, as SVG files into a folder."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

from holdzero.chart import PRINT, Picture
from holdzero.cli.show import invented
from holdzero.errors import InputError

F = TypeVar("F", bound=Callable[..., Any])


BESIDE = "By sums: prove it by slow jogging with a hand on the stop. A switch here is not a safety function."
"""On each drawing, which goes to the machine alone."""


def drawings_too(command: F) -> F:
    """Add `--drawings`."""
    option = click.option("--drawings", metavar="FOLDER", help="Also write the drawings to scale, as SVG.")
    return option(command)


def pictures_too(command: F) -> F:
    """Add `--pictures`."""
    about = "Also write the pictures of the answer, as SVG and PNG, into this folder."
    return click.option("--pictures", metavar="FOLDER", help=about)(command)


def write_pictures(folder: str, pictures: Mapping[str, Picture]) -> None:
    """Write pictures by name into a folder, which is made if it is not there: SVG, and PNG where it can be drawn.

    Where it cannot, standard error says so.

    Raises
    ------
    InputError
        The folder cannot be written to.
    """
    from holdzero.report.alone import no_png, picture_png, picture_svg

    without = no_png()
    try:
        Path(folder).mkdir(parents=True, exist_ok=True)
        for name, picture in pictures.items():
            path = Path(folder) / _file_name(name)
            path.with_suffix(".svg").write_bytes(picture_svg(picture, invented=invented()))
            if not without:
                path.with_suffix(".png").write_bytes(picture_png(picture, invented=invented()))
    except OSError as error:
        raise _not_written(folder, error) from error
    if without:
        click.echo(without, err=True)


def write_numbered(path: str, pictures: Sequence[Picture]) -> None:
    """Write one picture to a file, several to FILE-1, FILE-2 ...

    Raises
    ------
    InputError
        The file cannot be written.
    """
    target = Path(path)
    try:
        for number, picture in enumerate(pictures, 1):
            name = target if len(pictures) == 1 else target.with_stem(f"{target.stem}-{number}")
            name.write_text(picture.marked(f"{picture.mark} {invented()}".strip()).svg(PRINT), encoding="utf-8")
    except OSError as error:
        raise InputError(
            where=path,
            found=(error.strerror or str(error)).lower(),
            need="a file that can be written",
            do="name another one",
        ) from error


def write_drawings(folder: str, pictures: Mapping[str, Picture]) -> None:
    """Write pictures by name into a folder, which is made if it is not there.

    Raises
    ------
    InputError
        The folder cannot be written to.
    """
    try:
        Path(folder).mkdir(parents=True, exist_ok=True)
        for name, picture in pictures.items():
            picture.wide.foot(BESIDE)
            path = Path(folder) / f"{_file_name(name)}.svg"
            path.write_text(picture.marked(invented()).svg(PRINT), encoding="utf-8")
    except OSError as error:
        raise _not_written(folder, error) from error


def _file_name(name: str) -> str:
    """Return the name of a picture as one of a file, without a dot."""
    return "".join(c if c.isalnum() or c in "-_" else "_" for c in name)


def _not_written(folder: str, error: OSError) -> InputError:
    return InputError(
        where=folder,
        found=(error.strerror or str(error)).lower(),
        need="a folder that can be written to",
        do="name another one",
    )
