"""Travel: whether each axis stops where there is room, as a section of a document."""

from collections.abc import Iterable, Sequence

from holdzero.caution import Caution
from holdzero.chart.travel import travel_picture
from holdzero.compute.travel import Check, Travel
from holdzero.quantity import System, field_unit, fixed
from holdzero.tell.blocks import Block, Note, Points, Section, Table


def travel_section(travels: Sequence[Travel], *, system: System = "metric") -> Section | None:
    """Return the checks of every axis with its drawing to scale.

    Parameters
    ----------
    travels : sequence of Travel
        One an axis.
    system : "metric" or "inch"
        Units shown; `travels` was worded in the same.

    Returns
    -------
    Section or None
        None where no check could be made on any axis.
    """
    made = [travel for travel in travels if any(check.ok is not None for check in travel.checks)]
    if not made:
        return None
    left_out = [travel for travel in travels if travel not in made]
    known = dict.fromkeys(caution.text for travel in made for caution in _cautions(travel))
    rest = [
        f"Axis {travel.axis.name}: no check could be made; give {_listed(travel.needs)}." for travel in left_out
    ]
    return Section(
        "Travel: does it stop where there is room?",
        (*rest, Points(tuple(known))),
        tuple(_axis(travel, system) for travel in made),
    )


def _cautions(travel: Travel) -> Iterable[Caution]:
    yield from travel.cautions
    for check in travel.checks:
        yield from check.cautions


def _axis(travel: Travel, system: System) -> Section:
    made = [check for check in travel.checks if check.ok is not None]
    fails = [check for check in made if not check.ok]
    verdict = (
        f"{len(fails)} of {len(made)} checks fail: {', '.join(map(_name, fails))}."
        if fails
        else f"All {len(made)} checks that could be made fit."
    )
    length, speed = field_unit("length", system=system), field_unit("speed", system=system)
    head = ("Check", "Verdict", f"Uses {length}", f"Room {length}", f"Margin {length}", f"At most {speed}", "of")
    rows = tuple(_row(check, length, speed) for check in made)
    blocks: list[Block] = [verdict, travel_picture(travel, system=system)]
    blocks += [Note(f"{_name(check)} fails. {check.why} {check.do}".strip()) for check in fails]
    blocks.append(
        Table(f"Checks of axis {travel.axis.name}; margin is room less use", head, rows, align="llrrrrl")
    )
    if travel.needs:
        blocks.append(f"Not made, for want of {_listed(travel.needs)}: {_without(travel)}.")
    return Section(f"Axis {travel.axis.name}", tuple(blocks))


def _row(check: Check, length: str, speed: str) -> tuple[str, ...]:
    decimals = 2 if length == "mm" else 3
    lengths = (check.uses_mm, check.room_mm, check.margin_mm)
    return (
        _name(check),
        "fits" if check.ok else "FAILS",
        *(fixed(value, "length", unit=length, decimals=decimals)[0] or "–" for value in lengths),
        fixed(check.speed_limit_mm_s, "speed", unit=speed, decimals=1)[0] or "–",
        check.speed_key.replace("_", " "),
    )


def _name(check: Check) -> str:
    return check.check.replace("_", " ").capitalize()


def _without(travel: Travel) -> str:
    return ", ".join(_name(check).lower() for check in travel.checks if check.ok is None and check.needs)


def _listed(keys: Sequence[str]) -> str:
    names = [key.replace("_", " ") for key in keys]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
