"""Materials: how much a length between sensor and datum grows with temperature."""

from collections.abc import Mapping
from dataclasses import dataclass

from holdzero.errors import InputError


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
