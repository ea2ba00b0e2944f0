"""Roles: which channel of a capture is probably which, told by the names people give them."""

import re
from collections.abc import Iterable, Mapping
from typing import Any

ROLES = {  # by the word a form sends: what a channel is
    "": "not used",
    "a": "encoder A",
    "b": "encoder B",
    "step": "step",
    "direction": "direction",
    "index": "index pulse",
    "switch": "switch",
    "switch L": "switch, left side",
    "switch R": "switch, right side",
}
_SWITCH = r"(sw|switch|home|limit|ls|prox|sensor|end ?stop|di)\d*"
_LOOKS = (  # the first that fits: "dir" before "di", an input, on the right
    ("step", re.compile(r"(step|stp|pul|pulse|clk)\+?")),
    ("direction", re.compile(r"(dir|direction)\+?")),
    ("switch L", re.compile(rf"(l|left)[ _.-]*{_SWITCH}|{_SWITCH}[ _.-]*(l|left)")),
    ("switch R", re.compile(rf"(r|right)[ _.-]*{_SWITCH}|{_SWITCH}[ _.-]*(r|right)")),
    ("switch", re.compile(_SWITCH + r".{0,8}")),
    ("a", re.compile(r"((enc(oder)?|ch|quad)[ _.-]*)?a\+?")),
    ("b", re.compile(r"((enc(oder)?|ch|quad)[ _.-]*)?b\+?")),
    ("index", re.compile(r"((enc(oder)?|ch|quad)[ _.-]*)?(z\+?|i|idx|index|ref)")),
)
_ONCE = frozenset({"a", "b", "step", "direction", "index"})


def guessed_roles(names: Iterable[str]) -> dict[str, str]:
    """Guess what each channel is, by its name.

    Parameters
    ----------
    names : iterable of str
        Channels of a file.

    Returns
    -------
    dict of str to str
        One of `ROLES` for each name; empty where the name says nothing. Step and direction are left out where
        there is an encoder: a map counts by one of the two.

    Examples
    --------
    >>> guessed_roles(["A", "B", "Z", "home_L", "home_R", "D7"])
    {'A': 'a', 'B': 'b', 'Z': 'index', 'home_L': 'switch L', 'home_R': 'switch R', 'D7': ''}
    """
    guessed: dict[str, str] = {}
    for name in names:
        bare = name.rpartition(".")[2].strip().casefold()
        role = next((role for role, looks in _LOOKS if looks.fullmatch(bare)), "")
        guessed[name] = "" if role in _ONCE and role in guessed.values() else role
    if {"a", "b"} <= set(guessed.values()):
        guessed = {name: "" if role in ("step", "direction") else role for name, role in guessed.items()}
    if {"switch L", "switch R"} <= set(guessed.values()):
        guessed = {name: "" if role == "switch" else role for name, role in guessed.items()}
    return guessed


def roles_in(entered: Mapping[str, Any]) -> dict[str, str]:
    """Return the role of each channel that a map names.

    Parameters
    ----------
    entered : mapping
        The table ``[capture]`` as it was written.

    Examples
    --------
    >>> roles_in({"a": "A", "b": "B", "switches": {"L": "SW_L", "R": "SW_R"}})
    {'A': 'a', 'B': 'b', 'SW_L': 'switch L', 'SW_R': 'switch R'}
    """
    roles = {str(entered[key]): key for key in ("a", "b", "step", "direction", "index") if entered.get(key)}
    switches = entered.get("switches", ())
    if isinstance(switches, Mapping):
        return roles | {str(name): f"switch {side}" for side, name in switches.items()}
    names = switches.split(",") if isinstance(switches, str) else switches
    return roles | {str(name).strip(): "switch" for name in names}


def map_of(roles: Mapping[str, str]) -> dict[str, Any]:
    """Return the channels of a map as its file writes them: the other way round of `roles_in`.

    Parameters
    ----------
    roles : mapping of str to str
        One of `ROLES` for each channel.

    Examples
    --------
    >>> map_of({"A": "a", "B": "b", "SW": "switch", "D7": ""})
    {'a': 'A', 'b': 'B', 'switches': ['SW']}
    """
    entered: dict[str, Any] = {role: name for name, role in roles.items() if role in _ONCE}
    sides = {role[-1]: name for name, role in roles.items() if role in ("switch L", "switch R")}
    plain = [name for name, role in roles.items() if role == "switch"]
    if sides and not plain:
        return entered | {"switches": dict(sorted(sides.items()))}
    named = [*plain, *sides.values()]
    return entered | ({"switches": named} if named else {})
