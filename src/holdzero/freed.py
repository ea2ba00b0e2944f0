"""Freed: what the C library does with memory that this process has freed."""

import ctypes

_TRIM, _MAPPED, _ARENAS = -1, -3, -8  # M_TRIM_THRESHOLD, M_MMAP_THRESHOLD and M_ARENA_MAX of mallopt(3)
_MIB = 2**20


def keep_freed() -> bool:
    """Have the C library keep up to 128 MB of what this process frees, for the next arrays.

    Returns
    -------
    bool
        Whether it does.

    Notes
    -----
    The GNU C library gives freed arrays of 128 kB and more back to the kernel, which clears every page again
    before the next array has it: a fifth of the time that a fleet takes. Other C libraries are left as they are.
    """
    return _set({_TRIM: 128 * _MIB, _MAPPED: 32 * _MIB})


def give_back() -> bool:
    """Have the C library give back what is freed, for a process that answers for weeks.

    Returns
    -------
    bool
        Whether it does.

    Notes
    -----
    The GNU C library takes an array of 128 kB and more from the kernel by itself, but only until the first such
    array is freed: from then on all up to its size come out of a heap, where small things that stay keep the large
    room between them, and each thread has a heap of its own. Here arrays from 1 MiB on stay by themselves, and
    two heaps do (docs/decisions/0015-memory.md). Other C libraries are left as they are.
    """
    return _set({_TRIM: 8 * _MIB, _MAPPED: _MIB, _ARENAS: 2})


def _set(options: dict[int, int]) -> bool:
    try:
        option = ctypes.CDLL(None).mallopt
    except (AttributeError, OSError, TypeError):  # none by that name
        return False
    return all(option(name, value) for name, value in options.items())
