"""Cures: what has to be put right before homings can say more, because its cause shows in them.

Of a candidate that has none of them a cause is named in at most 1 of 20 trials, all kinds and series together:
each kind has its share of that, and of several series each a share of the share.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from holdzero.compute.findings.values import Findings, Misses
from holdzero.compute.signature.values import Signature
from holdzero.compute.spread.layout import Layout
from holdzero.compute.tails.apart import Apart, apart
from holdzero.quantity import System, show_signed

NAMED_BY_MISTAKE = 0.05  # share of trials without any cause in which one is named
KINDS = 6  # not steady, two places, lattice, one apart, another protocol; fault and switched unit together
RISK = NAMED_BY_MISTAKE / KINDS  # of one kind, for the candidate as a whole
_OF_READING = ("unit-switched", "wrong-protocol")  # the homings may be fine
_SIDES = {"L": "Left side", "R": "Right side", "difference": "Right minus left"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Cure:
    """One thing to put right.

    Parameters
    ----------
    code : str
        "fault", "apart", or the code of the signature.
    seen : str
        What was seen, with the side where there are several series.
    do : str
        What to do about it.
    name : str
        The cause in a few words.
    """

    code: str
    seen: str
    do: str
    name: str

    @property
    def sentence(self) -> str:
        """Both."""
        return f"{self.seen} {self.do}"


def cures(series: Sequence[Findings], counted: Misses, *, system: System = "metric") -> tuple[Cure, ...]:
    """Return what has to be put right, gravest first.

    Parameters
    ----------
    series : sequence of Findings
        That the verdict rests on: sides first, then their difference.
    counted : Misses
        Of the candidate.
    system : {"metric", "inch"}
        Units of the sentences.
    """
    to_cure = []
    if counted.fault:
        to_cure.append(_fault(series))
    elsewhere = [(*far, findings) for findings in series if (far := _apart(findings, risk=RISK / len(series)))]
    if elsewhere:
        farthest, label, findings = max(elsewhere, key=lambda far: far[0].statistic)
        to_cure.append(_look_at(findings, farthest, label, len(series) > 1, system))
    shown = {s.code: (f, s) for f in reversed(series) for s in f.signatures if caps(s, of=len(series))}
    if elsewhere:
        shown.pop("two-places", None)  # the same event
    for findings, signature in shown.values():
        then = "Put the readings right" if signature.code in _OF_READING else "Put it right and take a new trial"
        sentence = of_side(findings, signature.sentence, several=len(series) > 1)
        to_cure.append(
            Cure(code=signature.code, seen=sentence, do=f"{signature.check} {then}.", name=signature.words)
        )
    return tuple(to_cure)


def caps(signature: Signature, *, of: int) -> bool:
    """Whether a signature of one of so many series lowers the verdict of the candidate."""
    return signature.lowers == "caps" and (signature.p is None or signature.p <= RISK / of)


def of_side(findings: Findings, sentence: str, *, several: bool) -> str:
    """Name the side a sentence is about, where there are several."""
    if not several or findings.side not in _SIDES:
        return sentence
    return f"{_SIDES[findings.side]}: {sentence[0].lower()}{sentence[1:]}"


def _fault(series: Sequence[Findings]) -> Cure:
    worst = max(series, key=lambda findings: findings.misses.count / max(findings.misses.n, 1))
    step = next((s for s in worst.signatures if s.code.startswith("stray")), None)
    about = f" {step.sentence} {step.check}" if step else ""
    return Cure(
        code="fault",
        name="a fault",
        seen=f"{worst.misses.count} of {worst.misses.n} homings are plainly wrong: this is a fault, find it.",
        do=f"No spread describes it, and more homings do not settle it.{about}",
    )


def _apart(findings: Findings, *, risk: float) -> tuple[Apart, str] | None:
    """The power-up that stands apart, and its label; homings that are plainly wrong left out."""
    if findings.power_ups < 2 or findings.posterior is None:
        return None
    kept = findings.counted.copy()
    kept[list(findings.misses.indices)] = False
    if not kept.any():
        return None
    labels = findings.homings.set_label[kept]
    layout = Layout.read(labels)
    farthest = apart(layout.means(findings.value_mm[kept]), risk=risk)
    if farthest is None or not farthest.shows:
        return None
    return farthest, str(labels[int(np.flatnonzero(layout.of == farthest.place)[0])])


def _look_at(findings: Findings, farthest: Apart, label: str, several: bool, system: System) -> Cure:
    away = show_signed(farthest.away, "length", system=system, digits=2)
    return Cure(
        code="apart",
        name="one power-up stands apart",
        seen=of_side(
            findings, f"One power-up stands apart: set {label} by {away} from the others.", several=several
        ),
        do="Look at it: what was different that time? Put it right and take a new trial, or take more power-ups "
        "and see whether it comes back.",
    )
