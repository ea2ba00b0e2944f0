"""Material: how much a length between sensor and datum grows with temperature."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdzero.errors import InputError

if TYPE_CHECKING:  # the keys of a machine take time to read, and most studies know none
    from holdzero.inputs.machine.values import Axis


@dataclass(frozen=True, slots=True)
class Material:
    """Linear expansion, its half width, and where that is from."""

    per_k: float
    half_width_per_k: float
    source: str


SPAN = "common practice, no source; several public tables lie within it"
MATERIALS: Mapping[str, Material] = {
    "steel": Material(11.5e-6, 2e-6, "JCGM 100:2008, annex H.1"),
    "aluminium": Material(23.5e-6, 0.5e-6, SPAN),
    "grey cast iron": Material(10.5e-6, 1.5e-6, SPAN),
    "granite": Material(6e-6, 2e-6, f"{SPAN}; it varies by stone"),
    "brass": Material(18.7e-6, 0.3e-6, SPAN),
}


def material(name: str, *, where: str = "") -> Material:
    """Return a material by name; `InputError` names the ones there are."""
    if name not in MATERIALS:
        raise InputError(
            where=where,
            found=f'"{name}"',
            need=f"one of {', '.join(MATERIALS)}",
            do="write one of them, or give growth_coefficient",
        )
    return MATERIALS[name]


def has_sign(entered: Mapping[str, Any], key: str) -> bool:
    """Whether a figure was written with a sign of its own, or is below zero.

    Examples
    --------
    >>> [has_sign({"trip_drift": text}, "trip_drift") for text in ("+3 um/K", "−3 um/K", "3 um/K", "+- 3 um/K")]
    [True, True, False, False]
    """
    text = str(entered.get(key, "")).strip().replace("\u2212", "-")
    return text[:1] in ("+", "-") and text[:2] != "+-"


def material_that_grows(axis: "Axis") -> Material | None:
    """Return what grows between sensor and datum; None where it is not said."""
    if axis.influences.growth_per_k is not None:
        return Material(
            axis.influences.growth_per_k, axis.influences.growth_half_width_per_k, "growth_coefficient"
        )
    if axis.influences.growth_material is not None:
        return material(axis.influences.growth_material, where=f"axes.{axis.name}.growth_material")
    return None
