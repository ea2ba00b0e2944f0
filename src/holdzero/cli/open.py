"""`holdzero open`: the book in a browser."""

from functools import partial
from pathlib import Path

import click

from holdzero.cli import kept, open_at
from holdzero.cli.book_name import BookName, Named
from holdzero.errors import InputError


@click.command("open")
@click.argument("book", type=BookName(), required=False)
@click.option(
    "--port",
    type=click.IntRange(1, 65535),
    help="Where to listen; by default where this book was before, else 8047 or any free one.",
)
@click.option(
    "--phone",
    metavar="[ADDRESS]",
    is_flag=False,
    flag_value="",
    help="Open this address of the computer to one phone as well, for what is entered at the machine.",
)
@click.option("--phone-hours", type=float, default=4.0, show_default=True, help="After how long that closes. [h]")
@click.option(
    "--listen", metavar="ADDRESS[:PORT]", help="Open it to people who sign in, at one address, over TLS."
)
@click.option("--certificate", type=click.Path(path_type=Path), help="For --listen: the certificate, as PEM.")
@click.option("--key", type=click.Path(path_type=Path), help="For --listen: its private key, as PEM.")
@click.option(
    "--behind-proxy",
    metavar="[ADDRESS]",
    is_flag=False,
    flag_value="127.0.0.1",
    help="For --listen: a proxy at this address, by default of this computer, speaks TLS in front of it.",
)
@click.option(
    "--name", "names", multiple=True, help="For --listen: a name it is called by; by default the address."
)
@click.option("--no-browser", is_flag=True, help="Do not open a browser.")
def command(
    book: Named | None,
    port: int | None,
    phone: str | None,
    phone_hours: float,
    listen: str | None,
    certificate: Path | None,
    key: Path | None,
    behind_proxy: str | None,
    names: tuple[str, ...],
    no_browser: bool,
) -> None:
    """Open BOOK in a browser, on this computer only unless told otherwise.

    BOOK is one file with everything of one workshop. It is made if it is not there; without a name it is
    the book that `holdzero where` remembers, else workshop.holdzero in the folder holdzero of your home folder.
    Several people share one in a database: postgresql://user@host/database, without a password.

    With --phone one address of this computer is open to one phone too, for the trial, the tests and the check
    homing, by a code on the page. It is plain http: anyone in that network can read along.

    With --listen it is open at an address of a network instead, over TLS, to people who sign in
    (`holdzero people`).
    """
    from holdzero.store import open_book
    from holdzero.web.serve import serve

    if book is None:
        book = kept.workshop()
        if isinstance(book, Path):
            book.parent.mkdir(parents=True, exist_ok=True)
    with open_book(book) as opened:
        if opened.read_only:
            click.echo(opened.read_only, err=True)
        for caution in opened.cautions:
            click.echo(caution.text, err=True)
        if listen is not None and phone is not None:
            raise InputError(
                where="open",
                found="--listen and --phone",
                need="one of the two",
                do="leave --phone out: over --listen a phone signs in",
            )
        if listen is not None:
            from holdzero.web.people.beyond import ListenAsked, serve_beyond

            serve_beyond(
                opened,
                ListenAsked(address=listen, certificate=certificate, key=key, proxy=behind_proxy, names=names),
                say=click.echo,
            )
            return
        if certificate or key or behind_proxy is not None or names:
            raise InputError(
                where="open",
                found="--certificate, --key, --behind-proxy or --name alone",
                need="--listen ADDRESS with them",
                do="name the address, or leave them out",
            )
        serve(
            opened,
            port=port,
            before=open_at.port_before(book),
            browser=not no_browser,
            say=click.echo,
            opened_at=partial(open_at.keep_port, book),
            phone=phone,
            phone_hours=phone_hours,
        )
