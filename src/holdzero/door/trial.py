"""Trial: what homings say, and which candidate they let one choose."""

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from holdzero.case.contract import choice_json
from holdzero.chart.of_choice import choice_pictures
from holdzero.door import tables
from holdzero.door.brought import length_mm, toml_of
from holdzero.door.case_of import book_path, case_of, misses_of, protocol_of, system_of
from holdzero.door.readings import readings_of
from holdzero.door.reply import Reply
from holdzero.door.studied import answer_of_study, findings_of
from holdzero.errors import InputError
from holdzero.form import EXAMPLE
from holdzero.inputs.machine import read_machine
from holdzero.inputs.reading import Protocol, read_readings
from holdzero.quantity import System

Counts = Mapping[str, tuple[int, int]]


def study(
    readings: Any,
    *,
    machine: Any = None,
    unit: str = "mm",
    sensor: str = "",
    axis: str = "",
    side: str = "",
    sets: Sequence[Any] | None = None,
    resolution: str | float | None = None,
    step: str | float | None = None,
    protocol: str | None = None,
    misses: Counts | None = None,
    units: System | None = None,
) -> Reply:
    r"""Say what the homings of each candidate show.

    Parameters
    ----------
    readings : path, str, sequence, array, mapping, frame or book
        A readings file (CSV or XLSX) or its text; one series of deviations; named columns as in a readings file
        (a dict, a pandas or Polars frame); or a book.
    machine : path, str, dict or what `holdzero.machine` returns, optional
        Its steps are looked for in the readings. Of a book: which machine, by name.
    unit : {"mm", "um", "in", "thou"}
        Of a bare series.
    sensor, axis, side : str
        Of homings that do not say.
    sets : sequence, shape (n,), optional
        Of a bare series: the power-up each homing belongs to.
    resolution, step : str, optional
        Step of the display and way of one motor step, with their units, e.g. "0.001 mm"; 0: negligible.
    protocol : str, optional
        How the readings were taken: "outside", "first", "previous", "previous-reset" or "encoder".
    misses : mapping, optional
        Gross misses counted elsewhere: {"K": (1, 700)} is 1 in 700.
    units : {"metric", "inch"}, optional
        Units in sentences and pictures; figures keep the unit in their name.

    Returns
    -------
    Reply
        A row a sensor, axis and side; of two sides read at the same homings one more, right minus left. [mm]

    Raises
    ------
    InputError
        A ValueError: what was found, what is needed, what to do.

    Examples
    --------
    >>> answer = study([12, 14, 11, 13, 12, 15, 12, 13], unit="um", resolution="1 um")
    >>> answer.headline
    'These homings: spread 1.4\u202fµm (0.8 to 2.7\u202fµm), by 8 homings in 1 power-up.'
    >>> answer.rows()[0]["n"]
    8
    """
    if book_path(readings) is not None:
        with case_of(
            readings, main="readings", beside={"machine": machine, "units": units, "misses": misses}
        ) as case:
            return answer_of_study(case.study, system=case.system, invented=case.invented)
    brought = readings_of(readings, unit=unit, sensor=sensor, axis=axis, side=side, sets=sets)
    of_machine = None if machine is None else toml_of(machine, "machine")
    known = None if of_machine is None else read_machine(of_machine.text, where=of_machine.where)
    way = protocol_of(protocol)
    taken = read_readings(
        brought.text,
        where=brought.where,
        resolution_mm=length_mm(resolution, "resolution", zero=True),
        step_mm=length_mm(step, "step", zero=False),
        protocol=Protocol(way) if way else None,
    )
    system = system_of(units)
    result = findings_of(taken, known, misses=misses_of(misses or {}), system=system)
    invented = EXAMPLE if known is not None and known.example else ""
    return answer_of_study(result, system=system, invented=invented, notes=brought.notes)


def spread(readings: Any, **options: Any) -> Reply:
    """Say how far the homings of one series scatter, and how well that is known.

    Parameters
    ----------
    readings : path, str, sequence, array, mapping or frame
        As for `study`, of one sensor, axis and side.
    options : object
        As for `study`.

    Returns
    -------
    Reply
        One row: the plain standard deviation, and the spread from day to day with its 95 % limits. [mm]

    Raises
    ------
    InputError
        Several series, or as for `study`.

    Examples
    --------
    >>> row = spread([0.000, 0.003, -0.002, 0.001, 0.004], resolution=0).rows()[0]
    >>> f"{row['sd_mm']:.4f}"
    '0.0024'
    """
    answer = study(readings, **options)
    series = answer.rows()
    if len(series) != 1:
        listed = ", ".join(" ".join(filter(None, (row["sensor"], row["axis"], row["side"]))) for row in series)
        raise InputError(
            where="readings",
            found=f"{len(series)} series ({listed})",
            need="one sensor, axis and side",
            do="pick one, or ask study(...)",
        )
    return answer


def choose(
    readings: Any,
    *,
    machine: Any = None,
    sensors: Any = None,
    axis: str | None = None,
    wiring: Any = None,
    confidence: float = 0.95,
    price_limit: float | None = None,
    minutes: tuple[float, float] = (1.0, 5.0),
    misses: Counts | None = None,
    resolution: str | float | None = None,
    step: str | float | None = None,
    protocol: str | None = None,
    units: System | None = None,
) -> Reply:
    """Say which candidate holds what is asked, and the cheapest that does.

    Parameters
    ----------
    readings : path, str, mapping, frame or book
        As for `study`; a book needs nothing else.
    machine, sensors : path, str, dict or what `holdzero.machine` and `holdzero.sensors` return
        What is asked, and the candidates. Of a book: `machine` is its name, where there are several.
    axis : str, optional
        Axis to judge, by name: by default the one on two motors, else the only one with readings.
    wiring : path, str or dict, optional
        The circuits that each candidate is put into.
    confidence : float
        Chance from which a candidate holds. [-]
    price_limit : float, optional
        Most that one switch may cost. [as the prices]
    minutes : (float, float)
        What a further homing and a further power-up take. [min]
    misses, resolution, step, protocol, units
        As for `study`.

    Returns
    -------
    Reply
        A row a candidate, with its verdict.

    Raises
    ------
    InputError
        A ValueError: what was found, what is needed, what to do.
    """
    if not 0.5 <= confidence < 1:
        raise InputError(
            where="confidence", found=f"{confidence:g}", need="a chance from 0.5 to below 1", do="write 0.95"
        )
    beside = {
        "machine": machine,
        "sensors": sensors,
        "axis": axis,
        "wiring": wiring,
        "confidence": confidence,
        "price_limit": price_limit,
        "minutes": minutes,
        "misses": misses,
        "resolution": resolution,
        "step": step,
        "protocol": protocol,
        "units": units,
    }
    if book_path(readings) is None:
        for name in ("machine", "sensors"):
            if beside[name] is None:
                raise InputError(
                    where=name,
                    found="nothing, and readings that are no book",
                    need="the machine" if name == "machine" else "the candidates",
                    do=f"add {name}=..., or give a book",
                )
    with case_of(readings, main="readings", beside=beside) as case:
        chosen, standing = case.asked_otherwise, case.standings.machine
        studied, known, system = case.study, case.machine, case.system
        return Reply(
            f"{standing.headline} {chosen.reason}",
            document=choice_json(case),
            tables=tables.CHOICE,
            result=chosen,
            pictures=partial(choice_pictures, chosen, studied, known, system=system),
            invented=case.invented,
            to_do=standing.next,
            notes=chosen.notes,
        )
