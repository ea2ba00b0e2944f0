"""`holdzero people`: who may sign in where a book is open to a network."""

import sys

import click


@click.command("people")
@click.argument("book")
@click.option("--add", metavar="NAME", help="Let someone sign in, or give them another password.")
@click.option("--take-away", metavar="NAME", help="Let someone sign in no more; what they changed stays.")
def command(book: str, add: str | None, take_away: str | None) -> None:
    """List who may sign in to BOOK where it is open to a network; add people, take them away.

    A password is asked for without showing it, or read as a line from standard input where that is no terminal.
    It has at least 10 characters; only what scrypt makes of it is kept, and that goes into no archive or record.
    """
    from holdzero.store import open_book

    with open_book(book, create=False) as opened:
        if add is not None:
            opened.add_person(add, _password())
            click.echo(f"{' '.join(add.split())} may sign in.")
        if take_away is not None:
            opened.remove_person(take_away)
            click.echo(f"{take_away} may sign in no more; sessions of theirs end at once.")
        if add is None and take_away is None:
            for known in opened.people():
                click.echo(f"{known.name}, since {known.added[:10]}")
            if not opened.people():
                click.echo("Nobody yet. holdzero people BOOK --add NAME")


def _password() -> str:
    if sys.stdin.isatty():
        text: str = click.prompt("Password", hide_input=True, confirmation_prompt="Once more", err=True)
        return text
    return sys.stdin.readline().rstrip("\r\n")
