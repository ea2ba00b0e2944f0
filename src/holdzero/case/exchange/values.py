"""Values: what came of one part of a file that was brought into a book."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class PartBrought:
    """What came of one part of a file.

    Parameters
    ----------
    file : str
        Its name.
    part : str
        Which part of a machine, by the names of `holdzero.case.FILES`, or "book".
    about : str
        What it is about: the name of the machine, the trial; empty where the part says it all.
    new, same, replaced, kept : tuple of str
        What came in; what was there already, alike; what took the place of something else; what the file says
        otherwise than the book, which keeps its own. Each by name.
    rows_new, rows_same : int or None
        Rows (readings, entries) that came in and that were there; None where it has none.
    example : bool
        It is an invented example's and stays marked.
    notes : tuple of str
        What reading it had to say.
    """

    file: str
    part: str
    about: str = ""
    new: tuple[str, ...] = ()
    same: tuple[str, ...] = ()
    replaced: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    rows_new: int | None = None
    rows_same: int | None = None
    example: bool = False
    notes: tuple[str, ...] = ()
