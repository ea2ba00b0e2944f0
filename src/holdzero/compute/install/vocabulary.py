"""Vocabulary: the open standard's words for what is set, so that they can be found in any drive's manual.

CiA 402 and IEC 61800-7-201, words and objects as public manuals quote them; only these are used.
"""

HOMING_METHOD = "homing method (6098h)"
SEARCH_FOR_SWITCH = "homing speeds, speed during search for switch (6099h sub 1)"
SEARCH_FOR_ZERO = "homing speeds, speed during search for zero (6099h sub 2)"
HOMING_ACCELERATION = "homing acceleration (609Ah)"
HOME_OFFSET = "home offset (607Ch)"
HOME_SWITCH = "home switch"
LIMIT_SWITCH = "negative or positive limit switch"
INDEX_PULSE = "index pulse"
SOURCE = "CiA 402, IEC 61800-7-201"


def method(*, index: bool, on_the_limit: bool) -> str:
    """Return which homing methods are meant: the drive's manual draws each.

    >>> method(index=False, on_the_limit=False)
    'home switch, no index pulse: among 19 to 30'
    """
    if on_the_limit:
        return "limit switch and index pulse: 1 or 2" if index else "limit switch, no index pulse: 17 or 18"
    return "home switch and index pulse: among 3 to 14" if index else "home switch, no index pulse: among 19 to 30"
