"""Settings: what the person asks of the watch of a machine, and what its baseline is."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from holdzero.errors import InputError
from holdzero.form import NOT_NEGATIVE, choice, one_quantity, read_keys, text, whole

FEWEST = 8  # power-ups of a baseline

SETTING_KEYS = (
    whole(
        "baseline",
        "baseline",
        "30",
        "Power-ups that make a baseline, from the start or the last event on: at least 8",
    ),
    one_quantity("nuisance", "share", "nuisance", "1 in 500", "False alarms the machine may have, per homing"),
    one_quantity("every", "time", "every_s", "1 day", "How often a check homing is made; else as often as usual"),
    one_quantity(
        "resolution",
        "length",
        "resolution_mm",
        "0.001 mm",
        "Step of the display, where the log does not say",
        sign=NOT_NEGATIVE,
    ),
    choice(
        "baseline_from",
        "baseline_from",
        {"log": (), "trial": ()},
        "Whether the baseline is the first power-ups of the log, or those of the trial",
    ),
    text("sensor", "sensor", "K", "Whose trial it is; by default the candidate taken"),
    text(
        "confirmed",
        "confirmed",
        "2026-03-02",
        "Day on which the baseline of the trial was confirmed: it counts until the next event",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchSettings:
    """What is asked of a watch.

    Parameters
    ----------
    baseline : int
        Power-ups that make a baseline.
    nuisance : float
        False alarms of the machine per homing. [-]
    every_s : float or None
        How often a check homing is made; None: as often as usual. [s]
    resolution_mm : float or None
        Step of the display, where the log does not say. [mm]
    baseline_from : {"log", "trial"}
    sensor : str
        Switch that is built in; empty: the candidate taken.
    confirmed : str
        Day on which the trial's baseline was confirmed.
    """

    baseline: int = 30
    nuisance: float = 1 / 500
    every_s: float | None = None
    resolution_mm: float | None = None
    baseline_from: str = "log"
    sensor: str = ""
    confirmed: str = ""


def settings_from(document: Mapping[str, Any], *, where: str = "watch") -> WatchSettings:
    """Read what was typed; what was not is as usual.

    Raises
    ------
    InputError
        A value that is not what its key needs, or a baseline of fewer than 8 power-ups.

    Examples
    --------
    >>> settings_from({"baseline": "20", "every": "1 week"}).every_s
    604800.0
    """
    values, _ = read_keys(document, SETTING_KEYS, where=where)
    if values.get("baseline", FEWEST) < FEWEST:
        raise InputError(
            where=f"{where}, baseline",
            found=str(document["baseline"]),
            need=f"{FEWEST} power-ups or more",
            do="fewer say too little of the scatter; log on until there are",
        )
    return WatchSettings(**values)
