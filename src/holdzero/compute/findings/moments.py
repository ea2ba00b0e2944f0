"""Moments: the first set after mounting, the first homing after power-up, the sets of another day.

Fresh brackets settle, cold electronics drift, and a night passes over everything. Each of these is told apart
from the rest and held against it.
"""

import re
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

from holdzero.compute.findings.series import Series
from holdzero.compute.signature import Signature
from holdzero.compute.signature.condition import MeanDifference
from holdzero.compute.signature.draw import LIMIT
from holdzero.compute.signature.hunt import WARMTH, Hunt
from holdzero.compute.spread.layout import Layout
from holdzero.quantity import System, column, show_signed

Floats = NDArray[np.float64]

_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_SETTLING = Hunt(
    causes=(
        "bracket, flag or indicator stand settling after it was mounted",
        "the first power-up of a cold machine",
        "something touched or tightened after the first set",
    ),
    check="Take one more set tomorrow, nothing touched: if it lies with the later sets, leave the first out.",
)
_OVERNIGHT = Hunt(
    causes=(
        "temperature of the room, frame and bracket",
        "bracket, flag or stand settling overnight",
        "something touched, cleaned or tightened in between",
    ),
    check="Log the temperature, and take a set on a third day: back again is warmth, further on is settling.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """Some homings against the rest: `shift` is theirs less that of the rest. [mm]"""

    code: str  # "first-set", "first-homing" or "next-day"
    shift: MeanDifference
    sentence: str
    hunt: Hunt

    @property
    def shows(self) -> bool:
        """True where homings without any such effect differ this much once in a hundred trials."""
        return self.shift.p <= LIMIT

    def signature(self) -> Signature:
        """Return it as a pattern of the readings."""
        return Signature(
            code=self.code,
            sentence=self.sentence,
            statistic=abs(self.shift.t),
            threshold=float(stdtrit(self.shift.df, 1 - LIMIT / 2)),
            false_alarm_rate=LIMIT,
            causes=self.hunt.causes,
            check=self.hunt.check,
        )


def moments(series: Series, *, system: System = "metric") -> tuple[Moment, ...]:
    """Compare the first set, the first homings and the sets of another day with the rest.

    Parameters
    ----------
    series : Series
        All homings; those that count are used.
    system : {"metric", "inch"}
        Units of the sentences.

    Returns
    -------
    tuple of Moment
        Those that the trial can tell, whether they show or not.

    Notes
    -----
    Sets are compared by their means, Student's t with a common variance (four sets at least, each one value); the
    first homing of each set with the mean of its others, as pairs (three sets at least). A set whose zero is its
    own says nothing about another, so with such protocols only the first homings are compared.
    """
    counted = series.counted
    values, sets = series.value_mm[counted], series.homings.set_label[counted]
    layout = Layout.read(sets)
    means = layout.means(values)
    seen_moments = []
    if not series.zeroed_each_set and means.size >= 4:
        seen_moments.append(
            _moment(
                "first-set",
                "The first set lies {} from the others",
                _against(means[:1], means[1:]),
                _SETTLING,
                system,
            )
        )
        later = _later_days(series.homings.time[counted], layout)
        if later is not None and later.any():
            text = "Sets of later days lie {} from those of the first"
            seen_moments.append(
                _moment("next-day", text, _against(means[later], means[~later]), _OVERNIGHT, system)
            )
    text = "The first homing after power-up lies {} from the others of its set"
    seen_moments.append(_moment("first-homing", text, _first_of_each(values, layout), WARMTH, system))
    return tuple(moment for moment in seen_moments if moment is not None)


def _moment(code: str, text: str, shift: MeanDifference | None, hunt: Hunt, system: System) -> Moment | None:
    if shift is None:
        return None
    (low, high), unit = column((shift.low, shift.high), "length", system=system, digits=2)
    by = show_signed(shift.middle, "length", system=system, digits=2)
    sure = "" if shift.p <= LIMIT else ", which may be nothing"
    return Moment(
        code=code, shift=shift, hunt=hunt, sentence=f"{text.format(by)} (95 %: {low} to {high} {unit}){sure}."
    )


def _against(readings_there: Floats, rest: Floats) -> MeanDifference | None:
    """Student's t of two groups with a common variance; one of them may be a single value."""
    df = readings_there.size + rest.size - 2
    if df < 2:
        return None
    squares = float(((readings_there - readings_there.mean()) ** 2).sum() + ((rest - rest.mean()) ** 2).sum())
    error = sqrt(squares / df * (1 / readings_there.size + 1 / rest.size))
    return _difference(
        readings_there.mean() - rest.mean(), error, df, far=float(np.abs([*readings_there, *rest]).max())
    )


def _first_of_each(values: Floats, layout: Layout) -> MeanDifference | None:
    """First of each set less the mean of its others, pair by pair."""
    several = layout.size > 1
    if several.sum() < 3:
        return None
    # Their distance from the mean of the whole set holds 1 - 1/m of that from the others.
    apart = layout.residuals(values)[layout.place == 0][several] / (1 - 1 / layout.size[several])
    error = float(apart.std(ddof=1)) / sqrt(apart.size)
    return _difference(apart.mean(), error, apart.size - 1, far=float(np.abs(values).max()))


def _difference(middle: float, error: float, df: int, *, far: float) -> MeanDifference | None:
    """None where the error is the dust that arithmetic leaves of readings as large as `far`."""
    if not error > 1e-12 * far:
        return None
    reach, t = float(stdtrit(df, 0.975)) * error, float(middle) / error
    return MeanDifference(
        middle=float(middle),
        low=float(middle) - reach,
        high=float(middle) + reach,
        t=t,
        df=df,
        p=float(2 * stdtr(df, -abs(t))),
    )


def _later_days(time: NDArray[np.str_], layout: Layout) -> NDArray[np.bool_] | None:
    """Which sets begin on a later day than the first; None where a time does not begin with its date."""
    starts = time[layout.place == 0].tolist()
    days = [day_match.group() if (day_match := _DAY.match(start)) else "" for start in starts]
    if not all(days):
        return None
    later = np.zeros(layout.size.size, bool)
    later[layout.of[layout.place == 0]] = [day > min(days) for day in days]
    return later
