"""Damage done to files on purpose, seeded: what a disk, a stick, a mail program or an ill will does to them."""

import contextlib
import io
import random
from pathlib import Path

import click

from holdzero.cli import cli
from holdzero.errors import HoldzeroError

PAGE = 4096  # bytes of a page of a book


def damaged(raw: bytes, seed: int) -> bytes:
    """Return a file with a bit flipped, bytes changed, a page lost or torn, an end cut off, or its head wrong."""
    rng, made = random.Random(seed), bytearray(raw)
    at = rng.randrange(len(raw))
    page = at // PAGE * PAGE
    match seed % 6:
        case 0:
            made[at] ^= 1 << rng.randrange(8)
        case 1:
            for _ in range(8):
                made[rng.randrange(len(raw))] = rng.randrange(256)
        case 2:
            made[page : page + PAGE] = bytes(len(made[page : page + PAGE]))
        case 3:
            del made[at:]
        case 4:  # only a part of a page was written
            torn = slice(page + PAGE // 2, page + PAGE)
            made[torn] = rng.randbytes(len(made[torn]))
        case _:
            made[rng.randrange(min(100, len(raw)))] ^= 1 << rng.randrange(8)
    return bytes(made)


def told(*words: object) -> tuple[int, str]:
    """Run a command in this process; return its status and what it said. Anything unforeseen goes through."""
    out, aside = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(aside):
        try:
            status = cli.main([str(word) for word in words], standalone_mode=False)
        except HoldzeroError as error:
            return 2, str(error)
        except click.ClickException as error:
            return 2, error.format_message()
    return int(status or 0), out.getvalue()


def one_sentence(text: str) -> bool:
    """Whether a refusal is one line that says what was found, what is needed and what to do."""
    return "\n" not in text.strip() and "found " in text and "; needed is " in text and len(text) < 600


def left_in(folder: Path) -> set[str]:
    """Names of all that lies in a folder."""
    return {path.name for path in folder.iterdir()}
