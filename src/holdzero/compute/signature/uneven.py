"""Uneven: one set that scatters more than the others."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.shape.equal import bartlett
from holdzero.compute.signature.draw import LIMIT, Drawn
from holdzero.compute.signature.hunt import UNEVEN
from holdzero.compute.signature.values import Signature
from holdzero.compute.steady.shuffle import chance

Floats = NDArray[np.float64]

FEWEST = 3  # readings of a set whose scatter is compared


def uneven(drawn: Drawn, sets: NDArray[Any]) -> tuple[Signature, ...]:
    """Bartlett's statistic over the sets, its chance by drawn series (so that rounding is allowed for), at 1 %."""
    size = drawn.layout.size
    compared = np.flatnonzero(size >= FEWEST)
    if compared.size < 2 or not drawn.within:
        return ()
    df = (size[compared] - 1).astype(float)
    member = (drawn.layout.of[:, None] == np.arange(size.size)).astype(float)
    floor = max(drawn.resolution**2 / 12, 1e-6 * drawn.within**2)  # a set all alike has no logarithm

    def variances(series: Floats) -> Floats:
        mean = series @ member / size
        squares = (series - mean[..., drawn.layout.of]) ** 2 @ member
        floored: Floats = np.maximum(squares[..., compared] / df, floor)
        return floored

    seen = variances(drawn.values)
    statistic = float(bartlett(seen, df))
    reaches = drawn.reaches_if_rare(lambda series: bartlett(variances(series), df), statistic)
    if reaches is None:
        return ()
    widest = int(seen.argmax())
    pooled_rest = float(np.sqrt(np.delete(seen, widest) @ np.delete(df, widest) / np.delete(df, widest).sum()))
    label = sets[np.flatnonzero(drawn.layout.of == compared[widest])[0]]
    return (
        Signature(
            code="uneven-sets",
            sentence=f"Set {label} scatters {np.sqrt(seen[widest]) / pooled_rest:.1f} times as much "
            "as the other sets.",
            statistic=statistic,
            threshold=float(reaches[-10]),
            false_alarm_rate=LIMIT,
            causes=UNEVEN.causes,
            check=UNEVEN.check,
            p=chance(reaches, statistic),
        ),
    )
