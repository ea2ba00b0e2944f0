"""An independent reader of value change dumps: vcdvcd from the registry.

On import it sets SIGPIPE to its default, so that a peer which hangs up ends the whole process without a word:
a test server, or another test's worker. What the signal did before is put back.
"""

import signal

_PIPE = getattr(signal, "SIGPIPE", None)
_before = signal.getsignal(_PIPE) if _PIPE else None

from vcdvcd import VCDVCD  # noqa: E402

if _PIPE:
    signal.signal(_PIPE, _before)

__all__ = ["VCDVCD"]
