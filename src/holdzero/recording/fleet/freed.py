"""Freed: what one array gives back to memory, the next one gets, without a way through the operating system."""

import ctypes

_TRIM, _MAPPED = -1, -3  # M_TRIM_THRESHOLD and M_MMAP_THRESHOLD of mallopt(3)
MOST_FREE = 128 * 2**20
LARGEST = 32 * 2**20


def keep_freed() -> bool:
    """Have the C library keep up to 128 MB of what this process frees.

    Returns
    -------
    bool
        Whether it does.

    Notes
    -----
    The GNU C library gives freed arrays of 128 kB and more back to the kernel, which clears every page again
    before the next array has it: a fifth of the time that a fleet takes. Other C libraries are left as they are.
    """
    try:
        option = ctypes.CDLL(None).mallopt
    except (AttributeError, OSError, TypeError):  # none by that name
        return False
    return bool(option(_TRIM, MOST_FREE) and option(_MAPPED, LARGEST))
