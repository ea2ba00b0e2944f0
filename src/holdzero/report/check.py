"""Check: does a stored record still say what its inputs say?"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import isclose
from typing import Any

from holdzero import __version__
from holdzero.case import Basis, Case, Texts
from holdzero.report.stored import Figure, Stored, figures

CLOSE = 1e-6  # relative: what another computer's arithmetic may change, and no page shows
FILE = {
    "same": "The file is the same to the byte.",
    "added to": "The file was added to since (a signature, a remark); what was written first is unchanged.",
    "other": (
        "The pages are not those that these inputs give: the file was changed after it was written, or it was set "
        "on another computer."
    ),
}
NOTHING = 1e-12  # a figure as small as this is no figure


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One figure, in the record and now; `None` also where there is none."""

    place: str
    then: Figure
    now: Figure

    def __str__(self) -> str:
        return f"{self.place}: {_figure_text(self.then)} in the record, {_figure_text(self.now)} now"


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """What checking a record found.

    Parameters
    ----------
    made_by, checked_by : str
        Versions.
    changed : tuple of str
        Inputs that are others now, or that only one of the two has.
    different : tuple of Difference
        Figures that are others now.
    whole : str
        "same" where the file is what these inputs give, to the byte; "added to" where it begins so; "other"; or
        "not compared", where another version made it or an input changed.
    """

    made_by: str
    checked_by: str
    changed: tuple[str, ...]
    different: tuple[Difference, ...]
    whole: str

    @property
    def same(self) -> bool:
        """Same inputs, same figures, and nobody changed the file."""
        return not self.changed and not self.different and self.whole != "other"

    @property
    def sentences(self) -> tuple[str, ...]:
        """What a person reads, the answer first."""
        return tuple(filter(None, (self._answer, self._versions, self._file)))

    def as_json(self) -> dict[str, Any]:
        """Return what was found, for a program: the fields, and the sentences beside them."""
        return {
            "same": self.same,
            "made_by": self.made_by,
            "checked_by": self.checked_by,
            "changed": list(self.changed),
            "different": [
                {"place": figure.place, "then": figure.then, "now": figure.now} for figure in self.different
            ],
            "file": self.whole,
            "sentences": list(self.sentences),
        }

    @property
    def _answer(self) -> str:
        count = len(self.different)
        figures = f"{count} figure{'' if count == 1 else 's'} differ{'s' if count == 1 else ''}"
        if self.changed:
            inputs = f"Inputs changed: {', '.join(self.changed)}"
            return f"{inputs}; {figures if count else 'the figures are the same'}."
        return f"Same inputs, but {figures}." if count else "Same inputs, same figures."

    @property
    def _versions(self) -> str:
        if self.made_by == self.checked_by:
            return ""
        return f"Made by holdzero {self.made_by}, checked by {self.checked_by}."

    @property
    def _file(self) -> str:
        return FILE.get(self.whole, "")


def check(stored: Stored, basis: Basis | None, raw: bytes) -> Agreement:
    """Reckon a record again and say what differs.

    Parameters
    ----------
    stored : Stored
        What the record says of itself.
    basis : Basis or None
        The book or the files as they are now; None: the inputs that the record carries.
    raw : bytes
        The file.

    Raises
    ------
    InputError
        The record carries no inputs and none are given, or what is given cannot be read.
    """
    from holdzero.report.whole import record_of, set_in  # typesetting only once the inputs are known to be there

    names = {} if basis is None else {name: basis.where(name) for name in basis.texts}
    texts = stored.basis if basis is None else Texts(files=basis.texts, how=stored.how, names=names)
    changed = _changed(stored.digests, texts.digests)
    case = Case(texts)
    now = dict(figures(case.as_json()))
    whole = "not compared"
    if not changed and stored.version == __version__:
        made = set_in("pdf" if raw.startswith(b"%PDF") else "html", record_of(case))
        whole = "same" if raw == made else "added to" if raw.startswith(made) else "other"
    return Agreement(
        made_by=stored.version,
        checked_by=__version__,
        changed=changed,
        different=_different(stored.figures, now),
        whole=whole,
    )


def _changed(then: Mapping[str, str], now: Mapping[str, str]) -> tuple[str, ...]:
    names = dict.fromkeys((*then, *now))
    return tuple(
        name if name in then and name in now else f"{name} ({'gone' if name in then else 'new'})"
        for name in names
        if then.get(name) != now.get(name)
    )


def _different(then: Mapping[str, Figure], now: Mapping[str, Figure]) -> tuple[Difference, ...]:
    places = dict.fromkeys((*then, *now))
    pairs = ((place, then.get(place), now.get(place)) for place in places)
    return tuple(Difference(place=place, then=a, now=b) for place, a, b in pairs if not _alike(a, b))


def _alike(then: Figure, now: Figure) -> bool:
    words = (str, bool, type(None))
    if isinstance(then, words) or isinstance(now, words):
        return then == now and type(then) is type(now)
    return isclose(then, now, rel_tol=CLOSE, abs_tol=NOTHING)


def _figure_text(figure: Figure) -> str:
    if figure is None:
        return "none"
    return f"{figure:.6g}" if isinstance(figure, float) else str(figure)
