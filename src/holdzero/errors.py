"""What can go wrong that the person at the machine can put right.

    HoldzeroError
    ├── InputError        a value, line, key or file does not say what is needed
    ├── TooFewReadings    a figure was asked of fewer homings than it can be had from
    ├── BookError         the book cannot be opened, read or written as asked
    └── MissingExtra      a part of the installation that few need, and that is not here

The first two are a ValueError too, as whoever calls from Python expects of a value that will not do. A slip of
ours stays a plain exception. Every message says what was found, what is needed and what
to do, on one line; the facts stay on the object as attributes.
"""


class HoldzeroError(Exception):
    """Something the person can put right.

    Parameters
    ----------
    where : str
        File, line, key or part that is meant; empty where there is only one.
    found, need, do : str
        What was found, what is needed, what to do about it. Plain clauses without a full stop.
    """

    def __init__(self, *, where: str = "", found: str, need: str, do: str) -> None:
        self.where, self.found, self.need, self.do = where, found, need, do
        head = f"{' '.join(where.splitlines())}: " if where else ""  # a file's name may have a line end in it
        super().__init__(f"{head}found {found}; needed is {need}; {do}.")


class InputError(HoldzeroError, ValueError):
    """A value, line, key or file does not say what is needed."""


class TooFewReadings(HoldzeroError, ValueError):
    """A figure was asked of fewer homings than it can be had from."""

    def __init__(self, *, got: int, need: int, what: str, where: str = "") -> None:
        self.got, self.needed, self.what = got, need, what
        super().__init__(
            where=where,
            found=f"{got} homing{'' if got == 1 else 's'}",
            need=f"at least {need} for {what}",
            do=f"record {need - got} more",
        )


class BookError(HoldzeroError):
    """The book cannot be opened, read or written as asked."""


class MissingExtra(HoldzeroError):
    """A part of the installation that few need, and that is not here: ``pip install "holdzero[extra]"``.

    Parameters
    ----------
    extra : str
        Its name in brackets.
    package : str
        What was looked for and not found.
    instead : str
        What to do without it.
    """

    def __init__(self, *, extra: str, package: str, instead: str, where: str = "") -> None:
        self.extra, self.package = extra, package
        super().__init__(
            where=where,
            found=f"no {package} here",
            need=f"the extra [{extra}]",
            do=f'install it with pip install "holdzero[{extra}]", or {instead}',
        )
