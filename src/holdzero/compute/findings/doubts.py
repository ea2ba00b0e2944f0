"""Doubts: what to know before trusting the figures of one candidate."""

import numpy as np

from holdzero.caution import Caution
from holdzero.compute.findings.misses import slip_in_reading
from holdzero.compute.findings.values import Findings
from holdzero.quantity import System, show

FEW = 8  # homings below which neither drift nor shape can be seen
_OF_ONE_DISPLAY = ("off-grid", "grid-visible")  # a difference of two sides lies between the steps by nature


def doubts(found: Findings, *, system: System = "metric") -> tuple[Caution, ...]:
    """Return the cautions of `spread` and those that the trial itself calls for.

    Parameters
    ----------
    found : Findings
        With the cautions of `spread` in it.
    system : {"metric", "inch"}
        Units of the sentences.
    """
    given = [c for c in found.cautions if found.side != "difference" or c.code not in _OF_ONE_DISPLAY]
    ours = [*_number(found), *_set_aside(found, system), *_mixed(found, system)]
    return tuple({caution.code: caution for caution in (*ours, *given)}.values())


def _number(found: Findings) -> list[Caution]:
    if found.n == 0:
        return [Caution("no-homings", "No homing counts: every one was set aside, or there is none.")]
    if found.n == 1:
        return [Caution("one-homing", "One homing has no spread. Record at least 10, over several power-ups.")]
    if found.n < FEW:
        return [
            Caution(
                "few-readings",
                f"{found.n} homings are few: drift, outlying homings and the shape of the scatter cannot be seen.",
                "docs/methods.md, section 7",
            )
        ]
    return []


def _set_aside(found: Findings, system: System) -> list[Caution]:
    with_them = found.with_set_aside
    if with_them is None:
        return []
    reasons = sorted({reason for reason in found.homings.set_aside.tolist() if reason})
    slips = [reason for reason in reasons if slip_in_reading(reason)]
    text = (
        f"{found.n_set_aside} of {found.n_set_aside + found.n} homings set aside ({'; '.join(reasons)}). "
        f"Without {_them(found)} the span is {show(found.span_mm, 'length', system=system, digits=3)}, "
        f"with {_them(found)} {show(with_them.span_mm, 'length', system=system, digits=3)}."
    )
    if len(slips) < len(reasons):
        text += " They still count as homings when gross misses are counted"
        text += f", but for {'; '.join(slips)}: a slip in reading." if slips else "."
    return [Caution("set-aside", text)]


def _them(found: Findings) -> str:
    return "it" if found.n_set_aside == 1 else "them"


def _mixed(found: Findings, system: System) -> list[Caution]:
    """Readings taken under different conditions, taken together."""
    homings, rows = found.homings, found.counted
    cautions = []
    for code, name, column in (
        ("conditions-mixed", "conditions", homings.condition),
        ("directions-mixed", "directions", homings.direction),
    ):
        different = [word for word in dict.fromkeys(column[rows].tolist()) if word]
        if len(different) > 1:
            cautions.append(
                Caution(
                    code,
                    f"Homings under {len(different)} {name} ({', '.join(different[:4])}) are taken together here; "
                    "what they differ by counts as spread.",
                )
            )
    speeds = np.unique(homings.speed_mm_s[rows & np.isfinite(homings.speed_mm_s)])
    if speeds.size > 1:
        cautions.append(
            Caution(
                "speeds-mixed",
                f"Homings at {speeds.size} speeds ({show(float(speeds[0]), 'speed', system=system, digits=2)} to "
                f"{show(float(speeds[-1]), 'speed', system=system, digits=2)}) are taken together here; "
                "what they differ by counts as spread.",
            )
        )
    if homings.repeat.any():
        again = int(np.count_nonzero(homings.repeat))
        cautions.append(
            Caution(
                "repeats-kept", f"{again} readings without homing in between are kept and do not count as homings."
            )
        )
    return cautions
