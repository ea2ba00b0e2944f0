"""Beliefs: the laws of scatter under which the homings of one side, or of their difference, are looked at."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.findings.values import Findings
from holdzero.compute.spread import effective_n
from holdzero.compute.spread.layout import Layout
from holdzero.compute.tails.belief import Belief
from holdzero.compute.tails.sets import Sets
from holdzero.compute.tails.share import Nodes
from holdzero.memory import MIB, kept_within

Floats = NDArray[np.float64]

LONG_RUN = "long run"  # the `kind` of a reading


@dataclass(frozen=True, slots=True)
class Believed:
    """What one series lets be believed, and whether its display is too coarse to show tails."""

    nodes: Nodes
    log_evidence: Floats
    coarse: bool


def believed(findings: Findings) -> Believed | None:
    """Believe the homings of one series; None where they show no scatter, or nothing of power-ups.

    Homings of a long run, seconds apart, hang together: each counts for n_eff/n (docs/methods.md, section 12).
    """
    if findings.posterior is None or findings.power_ups < 2:
        return None
    values = findings.value_mm[findings.counted]
    layout = Layout.read(findings.homings.set_label[findings.counted])
    kind = findings.homings.kind
    run = np.zeros(values.size, bool) if kind is None else kind[findings.counted] == LONG_RUN
    sets = [values[layout.of == k] for k in range(layout.size.size)]
    share = [counts_for(group, long_run=bool(run[layout.of == k].all())) for k, group in enumerate(sets)]
    level = findings.level[findings.counted]
    levels = tuple(int(level[layout.of == k][0]) for k in range(len(sets)))
    return _believed(tuple(group.tobytes() for group in sets), tuple(share), levels, findings.rounding_mm)


def counts_for(homings: Floats, *, long_run: bool) -> float:
    """Share of the homings of one power-up that are independent of each other. [-]

    Parameters
    ----------
    homings : ndarray, shape (n,)
        Home positions in the order taken. [mm]
    long_run : bool
        Whether all were taken seconds apart; from 30 on it can be seen how they hang together.
    """
    return effective_n(homings) / homings.size if long_run and homings.size >= 30 else 1.0


@kept_within(16 * MIB)
def _believed(
    sets: tuple[bytes, ...], share: tuple[float, ...], levels: tuple[int, ...], rounding_mm: float
) -> Believed | None:
    """The same homings are looked at again for every other tolerance, and on every page."""
    homings = [np.frombuffer(group) for group in sets]
    laid_out = Sets.of(homings, resolution=rounding_mm, share=share, levels=levels)
    if laid_out is None:
        return None
    belief = Belief.of(laid_out)
    return Believed(Nodes.of(belief), belief.log_evidence, laid_out.coarse)
