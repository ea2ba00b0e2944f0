"""Doubts: what to know before trusting the figures of a capture."""

import numpy as np

from holdzero.caution import Caution
from holdzero.compute.capture.results import SwitchFindings
from holdzero.compute.capture.values import CaptureMap, Recorded

WANDER = 30  # degrees of freedom under which a long series is one slow wander: docs/methods.md, section 12
SAMPLES_A_COUNT = 4  # fewer between two counts, and one may be lost
_METHOD = "docs/methods.md, section 12"


def sample_ticks(recorded: Recorded) -> int:
    """Ticks of one sample: what the edges of the beginning are all multiples of apart; at least 1."""
    few = recorded.count_tick[:20_000]
    edges = np.concatenate([few - few[:1], *(np.diff(changes.tick[:2_000]) for changes in recorded.switches)])
    return max(int(np.gcd.reduce(edges)), 1)


def of_capture(
    recorded: Recorded, channels: CaptureMap, switches: tuple[SwitchFindings, ...]
) -> tuple[Caution, ...]:
    """What to know of the file and its count."""
    cautions = []
    if recorded.cut_off:
        text = "The file ends in the middle. What was whole is here; what came after is missing."
        cautions.append(Caution("cut-off", text))
    if not recorded.count_tick.size:
        names = " and ".join(filter(None, channels.channels[:2]))
        text = f"Nothing was counted on {names}: no place, no speed. Check the map and the tap."
        cautions.append(Caution("nothing-counted", text))
    if recorded.invalid_tick.size:
        times = recorded.invalid_tick.size
        doubtful = sum(int(findings.suspect.sum()) for findings in switches)
        text = (
            f"{times} time{'s' * (times > 1)} both channels changed at once: two counts lost each time, who knows "
            f"which way. {doubtful} trips and releases before the next index are suspect and left out. Sample "
            "faster, or look for interference."
        )
        cautions.append(Caution("invalid-transitions", text))
    if recorded.gap_tick.size:
        text = (
            "A channel that counts was unknown for a time (x, z, or recording switched off): places after it are "
            "suspect and left out."
        )
        cautions.append(Caution("unknown-levels", text))
    if recorded.count_tick.size > 100:
        spans = np.diff(recorded.count_tick[: 1 << 17])
        short = int(np.quantile(spans, 0.01, method="lower")) // sample_ticks(recorded)
        if short < SAMPLES_A_COUNT:
            text = (
                f"The shortest counts last {short} sample{'s' * (short != 1)}: at least four, better ten, "
                "are needed to lose none. Sample faster or run slower."
            )
            cautions.append(Caution("sampled-slowly", text, "common practice, no source"))
    return tuple(cautions)


def of_switch(findings: SwitchFindings, *, counted: bool) -> tuple[Caution, ...]:
    """What to know of one switch. `counted`: the axis was seen to move at all."""
    name, events, cautions = findings.switch.name, findings.events, []
    if not events.trip.any():
        cautions.append(
            Caution("no-trip", f"{name} never tripped. Check the channel, and whether it is active low.")
        )
    if not events.clear_cut:
        text = (
            f"Edges of {name} lie apart neither as bounces do nor as trips do: 20 ms was taken for quiet. State "
            "quiet in the map."
        )
        cautions.append(Caution("quiet-not-found", text))
    if events.unfinished:
        text = f"The last edges of {name} were still bouncing where the file ends: left out."
        cautions.append(Caution("unfinished", text))
    lost = int(np.count_nonzero(events.trip[1:] == events.trip[:-1]))
    if lost:
        text = f"{name} tripped or released twice in a row, {lost} time{'s' * (lost > 1)}: its level was lost."
        cautions.append(Caution("level-lost", text))
    trips = findings.trips
    if trips.effective is not None and trips.n >= WANDER > trips.effective:
        text = (
            f"The {trips.n} trips of {name} are worth {trips.effective:.0f}: one slow wander, not a scatter. Look "
            "for warmth or something working loose."
        )
        cautions.append(Caution("slow-wander", text, _METHOD))
    if trips.n >= 2 and trips.interval is None:
        text = (
            f"The trips of {name} lie closer than one sample, or one count, tells apart: no spread can be stated."
        )
        cautions.append(Caution("no-spread", text))
    if trips.slowest_only:
        text = f"The scatter of {name} differs from speed to speed; the spread is that of the slowest."
        cautions.append(Caution("slowest-speed", text))
    if findings.differential_mm is not None and findings.delay is None:
        text = f"All trips of {name} came at one speed: the way of the delay is still in the differential travel."
        cautions.append(Caution("delay-in-differential", text))
    standing = int((~findings.at.between & ~findings.suspect).sum())
    if standing and counted:
        text = (
            f"{standing} event{'s' * (standing > 1)} of {name} came while the axis stood or turned: known to one "
            "count, without a speed."
        )
        cautions.append(Caution("standing", text))
    return tuple(cautions)
