"""Beyond: the pages of a book at an address of a network, over TLS, for people who sign in."""

import ipaddress
import ssl
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from holdzero.errors import InputError
from holdzero.quantity import quoted
from holdzero.store import Book
from holdzero.web.app import create_app
from holdzero.web.bound import bound
from holdzero.web.serve import EndingServer, put_away_when_told

USUAL_PORT = 8443


@dataclass(frozen=True, slots=True, kw_only=True)
class ListenAsked:
    """Where a book is to be open to a network, and how it is kept from being read along.

    Parameters
    ----------
    address : str
        An address of this computer, with a port or without.
    certificate, key : Path or None
        Files of the certificate and its private key, as PEM.
    proxy : str or None
        Address of the proxy that speaks TLS in front of this; None: there is none.
    names : tuple of str
        What it may be called by; empty: the address itself.
    """

    address: str
    certificate: Path | None = None
    key: Path | None = None
    proxy: str | None = None
    names: tuple[str, ...] = ()

    @property
    def place(self) -> tuple[str, int]:
        """Address and port.

        Raises
        ------
        InputError
            It is none, or stands for every address of this computer.
        """
        host, _, port = self.address.rpartition(":") if self.address.count(":") == 1 else (self.address, "", "")
        if self.address.startswith("["):
            host, _, port = self.address[1:].partition("]")
            port = port.removeprefix(":")
        try:
            address = ipaddress.ip_address(host)
            number = int(port or USUAL_PORT)
        except ValueError:
            raise _refused(quoted(self.address)) from None
        if address.is_unspecified or address.is_multicast or not 0 <= number < 2**16:
            raise _refused(f"{self.address}, which is not one address of this computer")
        return str(address), number

    def checked(self, people: Iterable[object]) -> "ListenAsked":
        """Return it where it may be opened.

        Raises
        ------
        InputError
            It would be open without TLS, or to nobody; or a file cannot be read.
        """
        _ = self.place
        if self.proxy is None and not (self.certificate and self.key):
            raise InputError(
                where="--listen",
                found="no certificate",
                need="TLS: what is sent there can be read along otherwise",
                do="name --certificate and --key, or say --behind-proxy where a proxy speaks TLS in front of it",
            )
        if self.proxy is not None and (self.certificate or self.key):
            raise InputError(
                where="--listen", found="a certificate and a proxy", need="one of the two", do="leave one out"
            )
        if not list(people):
            raise InputError(
                where="--listen",
                found="a book that nobody may sign in to",
                need="at least one person",
                do="add one: holdzero people BOOK --add NAME",
            )
        if self.certificate and self.key:
            try:
                ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(
                    self.certificate, self.key, password=_no_word
                )
            except OSError as error:
                raise InputError(
                    where="--certificate",
                    found=f"files that cannot be used ({(error.strerror or str(error)).lower()})",
                    need="a certificate and its private key as PEM, without a password",
                    do="look at both names",
                ) from error
        return self


@put_away_when_told()
def serve_beyond(book: Book, asked: ListenAsked, *, say: Callable[[str], None] = print) -> None:
    """Serve a book to people who sign in, until Ctrl-C.

    Parameters
    ----------
    book : Book
        What is shown.
    asked : ListenAsked
        Where, and how.
    say : callable
        Takes the lines that say so.

    Raises
    ------
    InputError
        It may not be opened so, or the address is none of this computer.
    """
    host, port = asked.checked(book.people()).place
    listening = bound(host, port)
    if listening is None:
        raise InputError(
            where="--listen",
            found=f"{host} with port {port}, which is taken or none of this computer",
            need="an address that this computer has, and a free port",
            do="look both up, or name another",
        )
    with listening:
        names = asked.names or (host,)
        open_port = listening.getsockname()[1]
        shown = f"[{names[0]}]" if ":" in names[0] else names[0]
        app = create_app(book, hosts=names, sign_in=True)
        place = f"is open at https://{shown}:{open_port}/ to people who sign in"
        if asked.proxy is not None:
            place = f"waits at {host} port {open_port} for the proxy at {asked.proxy}"
        say(f"{book.name} {place} (Ctrl-C ends)")
        EndingServer(config_of(app, asked), ending=app.state.ending).run(sockets=[listening])


def config_of(app: object, asked: ListenAsked) -> uvicorn.Config:
    """Return how it is served: with TLS, or behind a proxy that alone may say whom it speaks for."""
    return uvicorn.Config(
        app,  # type: ignore[arg-type]
        log_level="warning",
        timeout_graceful_shutdown=1,
        ssl_certfile=asked.certificate,
        ssl_keyfile=asked.key,
        proxy_headers=asked.proxy is not None,
        forwarded_allow_ips=asked.proxy or "127.0.0.1",
        server_header=False,
    )


def _no_word() -> str:
    return ""  # never asked for on the terminal: a server that waits there serves nobody


def _refused(found_words: str) -> InputError:
    return InputError(
        where="--listen",
        found=found_words,
        need="one address of this computer, with a port where it is not 8443",
        do="write it like 192.168.1.20:8443",
    )
