"""Sensor meant: a budget is reckoned with one candidate, never with one that was guessed."""

from holdzero.case.case import Case
from holdzero.errors import InputError


def refuse_to_guess(case: Case, name: str | None, *, where: str) -> None:
    """Refuse a candidate that is not known, and to guess among several data sheets.

    Parameters
    ----------
    case : Case
        The machine.
    name : str or None
        The candidate that was named.
    where : str
        What to call the name in the message.

    Raises
    ------
    InputError
        Names those there are.
    """
    tried = [findings.sensor for findings in case.study.findings if findings.sensor]
    known = list(dict.fromkeys([*(sensor.name for sensor in case.sensors), *tried]))
    guess = name is None and len(known) > 1 and not any(on_axis.sensor_reckoned for on_axis in case.axes)
    if guess or (name is not None and name not in known):
        raise InputError(
            where=where,
            found=f'"{name}"' if name is not None else f"{len(known)} candidates",
            need=f"one of {', '.join(known)}" if known else "a file with candidates",
            do=f"name one with {where}",
        )
