"""Travel: whether each axis stops where there is room, as a section of a document."""

from collections.abc import Iterable, Sequence

from holdzero.caution import Caution
from holdzero.chart.travel import travel_picture
from holdzero.compute.travel import Check, Travel
from holdzero.quantity import System, field_unit, fixed
from holdzero.report.content import Block, Note, Points, Section, Table


def travel_section(found: Sequence[Travel], *, system: System = "metric") -> Section | None:
    """Return the checks of every axis with its drawing to scale.

    Parameters
    ----------
    found : sequence of Travel
        One an axis.
    system : "metric" or "inch"
        Units shown; `found` was worded in the same.

    Returns
    -------
    Section or None
        None where no check could be made on any axis.
    """
    made = [one for one in found if any(check.ok is not None for check in one.checks)]
    if not made:
        return None
    left_out = [one for one in found if one not in made]
    known = dict.fromkeys(caution.text for one in made for caution in _cautions(one))
    rest = [f"Axis {one.axis.name}: no check could be made; give {_listed(one.needs)}." for one in left_out]
    return Section(
        "Travel: does it stop where there is room?",
        (*rest, Points(tuple(known))),
        tuple(_axis(one, system) for one in made),
    )


def _cautions(found: Travel) -> Iterable[Caution]:
    yield from found.cautions
    for check in found.checks:
        yield from check.cautions


def _axis(found: Travel, system: System) -> Section:
    made = [check for check in found.checks if check.ok is not None]
    fails = [check for check in made if not check.ok]
    verdict = (
        f"{len(fails)} of {len(made)} checks fail: {', '.join(map(_name, fails))}."
        if fails
        else f"All {len(made)} checks that could be made fit."
    )
    length, speed = field_unit("length", system=system), field_unit("speed", system=system)
    head = ("Check", "Verdict", f"Uses {length}", f"Room {length}", f"Margin {length}", f"At most {speed}", "of")
    rows = tuple(_row(check, length, speed) for check in made)
    blocks: list[Block] = [verdict, travel_picture(found, system=system)]
    blocks += [Note(f"{_name(check)} fails. {check.why} {check.do}".strip()) for check in fails]
    blocks.append(Table(f"Checks of axis {found.axis.name}; margin is room less use", head, rows, align="llrrrrl"))
    if found.needs:
        blocks.append(f"Not made, for want of {_listed(found.needs)}: {_without(found)}.")
    return Section(f"Axis {found.axis.name}", tuple(blocks))


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


def _without(found: Travel) -> str:
    return ", ".join(_name(check).lower() for check in found.checks if check.ok is None and check.needs)


def _listed(keys: Sequence[str]) -> str:
    names = [key.replace("_", " ") for key in keys]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
