"""Case: every result of one machine, from a book or from files, each decided once.

Which axis, which sensor, which readings, which limit, good or not: it is answered here, and page, terminal,
record and Python show what is answered.
"""

from holdzero.case.basis import FILES, Basis, How, Texts, digest_of, how_from
from holdzero.case.case import Case
from holdzero.case.on_axis import OnAxis

__all__ = ["FILES", "Basis", "Case", "How", "OnAxis", "Texts", "digest_of", "how_from"]
