"""Drive line: what gives, lags and grows between the motor and the table."""

from collections.abc import Iterator

from holdzero.compute.budget.contribution import Contribution, NotCounted, Reaches
from holdzero.compute.material import material
from holdzero.inputs.machine.values import Axis


def drive_rows(axis: Axis, *, measured: bool) -> Iterator[Contribution | NotCounted]:
    """Rows of what lies between motor and table, and of what the switch pushes away.

    Parameters
    ----------
    axis : Axis
        As read.
    measured : bool
        A trial was made: stretch, wind-up and flex are inside its figures.
    """
    own = axis.influences
    if own.backlash_mm is not None:
        yield _half_width("backlash", own.backlash_mm / 2, "backlash, half of it either way", reaches="home")
    if not measured:
        if own.belt_stretch_mm is not None:
            yield _half_width("belt stretch", own.belt_stretch_mm, "belt_stretch", reaches="both")
        if own.coupling_wind_up_mm is not None:
            yield _half_width(
                "wind-up of the coupling", own.coupling_wind_up_mm, "coupling_wind_up", reaches="both"
            )
        yield from _flag(axis)
    yield from _warming(axis)


def _flag(axis: Axis) -> Iterator[Contribution | NotCounted]:
    own = axis.influences
    wanted = (("flag_stiffness", own.flag_stiffness_n_mm), ("switch_force", own.switch_force_n))
    if own.flag_stiffness_n_mm is None or own.switch_force_n is None:
        missing = tuple(key for key, value in wanted if value is None)
        if len(missing) == 1:
            yield NotCounted("flex of the flag", missing)
        return
    varies_n = own.switch_force_half_width_n or own.switch_force_n
    yield _half_width("flex of the flag", varies_n / own.flag_stiffness_n_mm, "switch_force over flag_stiffness")


def _warming(axis: Axis) -> Iterator[Contribution | NotCounted]:
    """Growth of screw or rack in use: from cold to warm, so half of it either way of the middle."""
    own = axis.influences
    wanted = (
        ("drive_warming", own.drive_warming_k),
        ("drive_growth_length", own.drive_growth_length_mm),
        ("drive_growth_material", own.drive_growth_material),
    )
    missing = tuple(key for key, value in wanted if value is None)
    if len(missing) == len(wanted):
        return
    if own.drive_warming_k is None or own.drive_growth_length_mm is None or own.drive_growth_material is None:
        yield NotCounted("growth of screw or rack in use", missing)
        return
    metal = material(own.drive_growth_material, where=f"axes.{axis.name}.drive_growth_material")
    yield Contribution(
        name="growth of screw or rack in use",
        distribution="rectangular",
        value=own.drive_warming_k / 2,
        unit="K",
        sensitivity=metal.per_k * own.drive_growth_length_mm,
        common=True,
        varies="day",
        reaches="both",
        source=f"drive_warming; {metal.source}",
    )


def _half_width(name: str, half_mm: float, source: str, *, reaches: Reaches = "switch") -> Contribution:
    return Contribution(
        name=name,
        distribution="rectangular",
        value=half_mm,
        unit="mm",
        sensitivity=1.0,
        common=False,
        varies="homing",
        reaches=reaches,
        source=source,
    )
