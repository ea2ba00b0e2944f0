"""Form: what a person enters under a name, in a file or on a page, and what it becomes.

A `Key` is one line of a form: its name, what it may say and which fields it fills. The tables of keys
in `machine` and `sensor` are the one place from which files are read, pages and manuals are made.
"""

from holdzero.form.example import EXAMPLE, EXAMPLE_KEY, is_example, means_it
from holdzero.form.files import NEVER_READ, TELLS, looks_like, refuse_other
from holdzero.form.key import (
    ABOVE_ZERO,
    ANY,
    NOT_NEGATIVE,
    Key,
    Sign,
    between,
    choice,
    close_to,
    did_you_mean,
    half_width,
    limit_over,
    one_quantity,
    read_keys,
    text,
    whole,
    with_tolerance,
    words,
    yes_or_no,
)
from holdzero.form.surroundings import SURROUNDINGS
from holdzero.form.toml import dotted, read_toml, refuse_deep, table, write_toml
from holdzero.form.wording import CONTROLS, alike, name_of, remark_of

__all__ = [
    "ABOVE_ZERO",
    "ANY",
    "CONTROLS",
    "EXAMPLE",
    "EXAMPLE_KEY",
    "NEVER_READ",
    "NOT_NEGATIVE",
    "SURROUNDINGS",
    "TELLS",
    "Key",
    "Sign",
    "alike",
    "between",
    "choice",
    "close_to",
    "did_you_mean",
    "dotted",
    "half_width",
    "is_example",
    "limit_over",
    "looks_like",
    "means_it",
    "name_of",
    "one_quantity",
    "read_keys",
    "read_toml",
    "refuse_deep",
    "refuse_other",
    "remark_of",
    "table",
    "text",
    "whole",
    "with_tolerance",
    "words",
    "write_toml",
    "yes_or_no",
]
