"""Long run kept: some hundred homings of one power-up become a trial of their own in a book."""

from dataclasses import dataclass

from holdzero.compute.spread import effective_n
from holdzero.errors import InputError
from holdzero.inputs.reading.values import Readings
from holdzero.store import Book, KeptMachine

KIND = "long run"
BEGAN_ANEW = "the counter of the long run began anew"  # its zero is another than that of the readings before


@dataclass(frozen=True, slots=True)
class KeptRun:
    """What was kept: the trial, how many homings came in, and how many independent ones they are worth."""

    trial: str
    homings: int
    effective: float | None  # None: fewer than two

    @property
    def sentence(self) -> str:
        """All of it, for a person."""
        worth = "" if self.effective is None else f", worth {self.effective:.0f} independent ones"
        return f"{self.homings} homings are in the trial {self.trial}: a long run, one power-up{worth}."


def keep_long_run(book: Book, kept: KeptMachine, readings: Readings, *, name: str, note: str = "") -> KeptRun:
    """Keep the homings of a long run in a trial of that kind, which begins a new level.

    Parameters
    ----------
    book : Book
    kept : KeptMachine
        Whose homings they are.
    readings : Readings
        Of one power-up, each with its sensor and axis.
    name : str
        Of the trial; one that is there already goes on.
    note : str
        Of a new trial, e.g. the digest of the capture.

    Raises
    ------
    InputError
        Sensor or axis is not said or not known, or the homings are in the book already.
    """
    sensors = [candidate.sensor.name for candidate in book.sensors(kept.id)]
    axes = [axis.name for axis in kept.machine.axes]
    for group in readings.groups:
        _known(group.sensor, sensors, "sensor")
        _known(group.axis, axes, "axis")
    trials = {trial.name: trial.id for trial in book.trials(kept.id) if trial.kind == KIND}
    trial_id = trials.get(name)
    if trial_id is None:
        axis = readings.groups[0].axis
        trial_id = book.add_trial(
            kept.id, name=name, axis=axis, protocol="encoder", note=note, kind=KIND, event=BEGAN_ANEW
        )
    try:
        done = book.import_readings(trial_id, readings, name=name)
    except InputError:
        if name not in trials:
            book.remove_trial(trial_id)
        raise
    return KeptRun(name, done.readings, _worth(book.readings(trial_id)))


def _known(name: str, names: list[str], noun: str) -> None:
    if name not in names:
        raise InputError(
            where=f"--{noun}",
            found=name or "nothing",
            need=f"one of {', '.join(names) or f'the {noun}s of the machine'}",
            do=f"name the {noun} with --{noun}",
        )


def _worth(readings: Readings) -> float | None:
    """Independent homings that the shortest of the series is worth; None with fewer than two."""
    series = [group.deviation_mm[group.counted] for group in readings.groups]
    return min((effective_n(values) for values in series if values.size > 1), default=None)
