"""Presets: machines to start from, each an invented example and marked as one.

They are machine files like any other: take one, and replace every figure by your own.
"""

from importlib.resources import files

PRESETS = {  # name: what it is, in the order of a list to choose from
    "two-motor-gantry": "Router with a gantry on two motors and screws",
    "small-mill": "Small mill with ball screws, closed-loop motors and an index pulse",
    "belt-axis": "One long axis on a belt",
}


def preset(name: str) -> str:
    """Return the machine file of a preset; KeyError if there is none of that name.

    Examples
    --------
    >>> preset("belt-axis").splitlines()[0]
    '# An invented example to start from: one long axis on a belt. Replace every figure by your own.'
    """
    if name not in PRESETS:
        raise KeyError(name)
    return files(__name__).joinpath(f"{name}.toml").read_text(encoding="utf-8")
