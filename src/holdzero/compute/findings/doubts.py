"""Doubts: what to know before trusting the figures of one candidate."""

from dataclasses import replace

import numpy as np

from holdzero.caution import Caution
from holdzero.compute.findings.misses import slip_in_reading
from holdzero.compute.findings.values import Findings
from holdzero.compute.spread.counts import visible_step
from holdzero.quantity import System, show

FEW = 8  # homings below which neither drift nor shape can be seen
_OF_ONE_DISPLAY = ("off-grid", "grid-visible")  # a difference of two sides lies between the steps by nature


def doubts(findings: Findings, *, system: System = "metric") -> tuple[Caution, ...]:
    """Return the cautions of `spread` and those that the trial itself calls for.

    Parameters
    ----------
    findings : Findings
        With the cautions of `spread` in it.
    system : {"metric", "inch"}
        Units of the sentences.
    """
    inherited = [c for c in findings.cautions if findings.side != "difference" or c.code not in _OF_ONE_DISPLAY]
    inherited = [_with_step(c, findings, system) if c.code == "grid-visible" else c for c in inherited]
    own_cautions = [*_number(findings), *_set_aside(findings, system), *_mixed(findings, system)]
    return tuple({caution.code: caution for caution in (*own_cautions, *inherited)}.values())


def visible_grid_mm(findings: Findings) -> float | None:
    """Step that the readings visibly sit on where no resolution is stated; None where none shows. [mm]"""
    if findings.resolution_mm is not None or findings.side == "difference":
        return None
    step = visible_step(findings.homings.deviation_mm[findings.counted])
    return None if step is None else float(f"{step:.9g}")  # a difference of two decimals is not quite one


def _with_step(caution: Caution, findings: Findings, system: System) -> Caution:
    """Offer the step that shows; it is never taken by itself."""
    grid_mm = visible_grid_mm(findings)
    if grid_mm is None:
        return caution
    step = show(grid_mm, "length", system=system)
    typed = " ".join(step.split())  # without the narrow space, as a person types it
    return replace(
        caution,
        text=f"The readings sit on steps of {step}, wider than half their scatter, yet no resolution was stated "
        f'and none is taken into account. If that is the step of the display, say so (--resolution "{typed}").',
    )


def _number(findings: Findings) -> list[Caution]:
    if findings.n == 0:
        return [Caution("no-homings", "No homing counts: every one was set aside, or there is none.")]
    if findings.n == 1:
        return [Caution("one-homing", "One homing has no spread. Record at least 10, over several power-ups.")]
    if findings.n < FEW:
        return [
            Caution(
                "few-readings",
                f"{findings.n} homings are few: drift, outlying homings and the shape of the scatter "
                "cannot be seen.",
                "docs/methods.md, section 7",
            )
        ]
    return []


def _set_aside(findings: Findings, system: System) -> list[Caution]:
    with_them = findings.with_set_aside
    if with_them is None:
        return []
    reasons = sorted({reason for reason in findings.homings.set_aside.tolist() if reason})
    slips = [reason for reason in reasons if slip_in_reading(reason)]
    text = (
        f"{findings.n_set_aside} of {findings.n_set_aside + findings.n} homings set aside ({'; '.join(reasons)}). "
        f"Without {_them(findings)} the span is {show(findings.span_mm, 'length', system=system, digits=3)}, "
        f"with {_them(findings)} {show(with_them.span_mm, 'length', system=system, digits=3)}."
    )
    if len(slips) < len(reasons):
        text += " They still count as homings when gross misses are counted"
        text += f", but for {'; '.join(slips)}: a slip in reading." if slips else "."
    return [Caution("set-aside", text)]


def _them(findings: Findings) -> str:
    return "it" if findings.n_set_aside == 1 else "them"


def _mixed(findings: Findings, system: System) -> list[Caution]:
    """Readings taken under different conditions, taken together."""
    homings, rows = findings.homings, findings.counted
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
