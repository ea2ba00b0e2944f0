"""Quantity: units in, units out.

People read and write what they like; the code computes in mm, s, V, A, ohm, F, degC, kg, N and rad.
"""

from holdzero.quantity.both import System, in_system, side_by_side
from holdzero.quantity.display import (
    column,
    decimals_for,
    field_unit,
    fixed,
    plain,
    show,
    show_at_least,
    show_chance,
    show_foretold,
    show_interval,
    show_percent,
    show_range,
    show_share,
    show_signed,
    show_temperatures,
)
from holdzero.quantity.entry import LARGEST, read, read_steps, with_unit
from holdzero.quantity.glyphs import quoted, tidy
from holdzero.quantity.number import comma_is_decimal
from holdzero.quantity.pairs import read_limit_over, read_range, read_tolerance
from holdzero.quantity.units import KINDS, Kind

__all__ = [
    "KINDS",
    "LARGEST",
    "Kind",
    "System",
    "column",
    "comma_is_decimal",
    "decimals_for",
    "field_unit",
    "fixed",
    "in_system",
    "plain",
    "quoted",
    "read",
    "read_limit_over",
    "read_range",
    "read_steps",
    "read_tolerance",
    "show",
    "show_at_least",
    "show_chance",
    "show_foretold",
    "show_interval",
    "show_percent",
    "show_range",
    "show_share",
    "show_signed",
    "show_temperatures",
    "side_by_side",
    "tidy",
    "with_unit",
]
