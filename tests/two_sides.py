"""Two-sided trials as a person takes them: reading by reading, the sides in any order, sets left short."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from holdzero.store import Book, NewReading

ORDERS = ("by homing", "by set", "left first", "right first")


@dataclass(frozen=True, slots=True)
class Read:
    """One reading of one side; `aside`: why it is set aside."""

    side: str
    set_label: str
    homing: int
    deviation_mm: float
    aside: str = ""


def walk(seed: int, *, power_ups: int = 5, homings: int = 4) -> Iterator[tuple[Read, ...]]:
    """Yield the trial after every reading, then while the readings of one set are set aside one by one.

    Either side may come first, each side may have fewer power-ups than the other and each set fewer homings;
    the scatter lies about a few hundredths of a millimetre, or is hidden by the display's step of 0.01 mm.
    """
    rng = np.random.default_rng(seed)
    order = ORDERS[seed % len(ORDERS)]
    spread_mm = rng.choice([0.002, 0.01, 0.02, 0.05])
    decimals = int(rng.choice([2, 3, 3]))
    sets = {side: int(rng.integers(1, power_ups + 1)) for side in "LR"}
    if seed % 3 == 0:  # one side a power-up ahead of the other, as every trial read in turn is half the time
        sets["R"] = max(sets["L"] - 1, 1)
    planned = [
        (side, label, homing)
        for side in "LR"
        for label in range(1, sets[side] + 1)
        for homing in range(1, int(rng.integers(1, homings + 1)) + 1)
    ]
    first = "LR" if rng.random() < 0.5 else "RL"
    sorts = {
        "by homing": lambda place: (place[1], place[2], first.index(place[0])),
        "by set": lambda place: (place[1], first.index(place[0]), place[2]),
        "left first": lambda place: ("LR".index(place[0]), place[1:]),
        "right first": lambda place: ("RL".index(place[0]), place[1:]),
    }
    shift = {(side, label): rng.normal(0, spread_mm) for side in "LR" for label in range(1, power_ups + 1)}
    taken: list[Read] = []
    for side, label, homing in sorted(planned, key=sorts[order]):
        deviation = round(float(shift[side, label] + rng.normal(0, spread_mm)), decimals)
        taken.append(Read(side, str(label), homing, deviation))
        yield tuple(taken)
    emptied = str(rng.integers(1, max(sets.values()) + 1))
    of_side = rng.choice(["L", "R", "LR"])
    for at, read in enumerate(taken):
        if read.set_label == emptied and read.side in of_side:
            taken[at] = replace(read, aside="misread")
            yield tuple(taken)


def csv_of_walk(reads: tuple[Read, ...], sensor: str = "A", axis: str = "Y") -> str:
    """Return a readings file of one state of a walk."""
    lines = [
        f"{sensor},{axis},{read.side},{read.set_label},{read.homing},{read.deviation_mm:.3f},{read.aside}"
        for read in reads
    ]
    return "\n".join(["sensor,axis,side,set,homing,deviation_mm,set_aside", *lines, ""])


MACHINE = {
    "machine": {"name": "Gantry"},
    "requirement": {"squareness": "0.1 mm over 600 mm", "position": "0.1 mm"},
    "axes": {"Y": {"motors": "2", "drive_distance": "980 mm", "travel": "900 mm"}},
}


def kept_trial(book: Book, reads: tuple[Read, ...]) -> int:
    """Keep one state of a walk as a machine of its own; returns the machine."""
    with book.together():
        machine_id = book.add_machine(MACHINE)
        book.add_sensor(machine_id, "A", {"price": "10"})
        trial_id = book.add_trial(machine_id, name="Left and right", axis="Y", resolution="0.001 mm")
        for read in reads:
            book.add_reading(
                trial_id,
                NewReading(
                    sensor="A",
                    axis="Y",
                    side=read.side,
                    set_label=read.set_label,
                    homing=read.homing,
                    deviation_mm=read.deviation_mm,
                    set_aside=read.aside,
                    resolution_mm=0.001,
                ),
            )
    return machine_id
