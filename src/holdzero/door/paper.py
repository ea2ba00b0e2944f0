"""Paper: what sums say beside a trial: budget, index, travel, wiring, squaring, plan and install sheet."""

from collections.abc import Sequence
from datetime import date
from functools import partial
from typing import Any

from holdzero.case import OnAxis
from holdzero.case.contract import budget_json, install_json, travel_json
from holdzero.case.planned import HOMINGS_EACH, ORDER_SEED, plan_of
from holdzero.case.sensor_meant import refuse_to_guess
from holdzero.chart import Picture
from holdzero.chart.index import index_picture
from holdzero.chart.indicator import indicator_picture
from holdzero.chart.machine import machine_picture
from holdzero.chart.square import squaring_picture
from holdzero.chart.travel import travel_picture
from holdzero.chart.wiring import diagram
from holdzero.compute.budget.simulate import SEED
from holdzero.compute.design import AxisAssessment
from holdzero.compute.square import Squaring, read_square, squaring
from holdzero.compute.wiring import Assessment, assess_all, read_wiring
from holdzero.compute.wiring.contract import wiring_json
from holdzero.door import tables, words
from holdzero.door.brought import toml_of
from holdzero.door.case_of import book_path, case_of, system_of
from holdzero.door.reply import Reply
from holdzero.errors import InputError
from holdzero.form import EXAMPLE, read_toml
from holdzero.form.example import is_example
from holdzero.inputs.machine import read_machine
from holdzero.inputs.machine.values import Machine
from holdzero.inputs.sensor import read_sensors
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System, quoted, read
from holdzero.tell.budget import budget_headline
from holdzero.tell.travel import travel_headline
from holdzero.tell.wiring import wiring_headline


def budget(
    machine: Any,
    *,
    readings: Any = None,
    sensors: Any = None,
    sensor: str | None = None,
    wiring: Any = None,
    seed: int = SEED,
    digits: int = 2,
    units: System | None = None,
    **how_read: Any,
) -> Reply:
    """Say what home position is made of, and which part matters.

    Parameters
    ----------
    machine : path, str, dict, what `holdzero.machine` returns, or a book
        What is asked, and the axes. A book of several machines needs `name`.
    readings : path, str, mapping or frame, optional
        A trial of the candidate, as for `holdzero.study`.
    sensors : path, str or dict, optional
        The candidates: their data sheets serve where no trial does.
    sensor : str, optional
        Which candidate, by name: by default the one taken, else the one recommended.
    wiring : path, str or dict, optional
        The circuits, whose delay then counts.
    seed, digits : int
        Of the simulation: same seed, same answer; digits that must stand still.
    units : {"metric", "inch"}, optional
        Units in sentences.
    how_read : str
        `resolution`, `step` and `protocol` of the readings; of a book `name`, which machine.

    Returns
    -------
    Reply
        A row a contribution and axis: standard deviations common to both sides and of each side alone. [mm]
    """
    beside = {"readings": readings, "sensors": sensors, "sensor": sensor, "wiring": wiring, "units": units}
    with case_of(machine, beside=_named(beside, how_read)) as case:
        refuse_to_guess(case, sensor, where="sensor")
        assessed = [
            on_axis.budget_with(on_axis.sensor_reckoned, seed=seed, digits=digits) for on_axis in case.axes
        ]
        return Reply(
            budget_headline(assessed, case.system),
            document=budget_json(assessed, case.machine.notes),
            tables=tables.BUDGET,
            result=tuple(assessed),
            pictures=partial(_index_pictures, assessed, case.system),
            invented=case.invented,
            notes=case.machine.notes,
        )


def _index_pictures(assessed: Sequence[AxisAssessment], system: System) -> dict[str, Picture]:
    places = {assessment.axis.name: assessment.budget.index for assessment in assessed}
    return {name: index_picture(place, system=system) for name, place in places.items() if place is not None}


def index(machine: Any, **beside: Any) -> Reply:
    """Say whether each axis takes the right index pulse.

    Parameters
    ----------
    machine : path, str, dict, what `holdzero.machine` returns, or a book
        With `index_pitch` and `index_phase` of the axes that home to an index pulse.
    beside : object
        As for `budget`: `readings`, `sensors`, `sensor`, `wiring`, `units`, and how readings were read.

    Returns
    -------
    Reply
        A row an axis: the chance of the wrong index, where the switch sits between two pulses, and the room. [mm]
    """
    with case_of(machine, beside=_named({}, beside)) as case:
        refuse_to_guess(case, beside.get("sensor"), where="sensor")
        assessed = [on_axis.budget_with(on_axis.sensor_reckoned) for on_axis in case.axes]
        document = budget_json(assessed, case.machine.notes)
        axes = {name: axis["wrong_index"] for name, axis in document["axes"].items()}
        return Reply(
            words.of_index(case.axes),
            document={"sensor": document["sensor"], "axes": axes, "notes": document["notes"]},
            tables=tables.INDEX,
            result={assessment.axis.name: assessment.budget.index for assessment in assessed},
            pictures=partial(_index_pictures, assessed, case.system),
            invented=case.invented,
            notes=case.machine.notes,
        )


def travel(
    machine: Any,
    *,
    axis: str | None = None,
    wiring: Any = None,
    units: System | None = None,
    name: str | None = None,
) -> Reply:
    """Say whether each axis stops where there is still room.

    Parameters
    ----------
    machine : path, str, dict, what `holdzero.machine` returns, or a book
        Places, speeds and delays of the axes. A book of several machines needs `name`.
    axis : str, optional
        Only this axis, by name.
    wiring : path, str or dict, optional
        The circuits, whose delay then counts.
    units : {"metric", "inch"}, optional
        Units in sentences and pictures.
    name : str, optional
        Of a book: which machine.

    Returns
    -------
    Reply
        A row a check and axis, with its margin [mm] and the speed up to which it fits. [mm/s]
    """
    with case_of(machine, beside=_named({"wiring": wiring, "units": units}, {"name": name})) as case:
        asked = case.axes if axis is None else (case.on(axis),)
        rails = {on_axis.name: _checked(on_axis) for on_axis in asked}
        of_machine, system = case.machine, case.system
        pictures = {rail: partial(travel_picture, checks, system=system) for rail, checks in rails.items()}
        return Reply(
            travel_headline(tuple(rails.values())),
            document=travel_json(rails, notes=of_machine.notes),
            tables=tables.TRAVEL,
            result=rails,
            pictures=lambda: (
                {rail: draw() for rail, draw in pictures.items()}
                | {"machine": machine_picture(of_machine, system=system)}
            ),
            invented=case.invented,
            notes=of_machine.notes,
        )


def _checked(on_axis: OnAxis) -> Any:
    if on_axis.travel is None:
        assert on_axis.travel_missing is not None  # one or the other
        raise on_axis.travel_missing
    return on_axis.travel


def wiring(circuits: Any, *, name: str | None = None) -> Reply:
    """Say what the controller's input makes of a switch, whole and with every single fault.

    Parameters
    ----------
    circuits : path, str, dict, or a book
        A wiring file, one circuit or several. A book of several machines needs `name`.
    name : str, optional
        Of a book: which machine.

    Returns
    -------
    Reply
        A row a circuit, and a table "faults"; pictures are the diagrams. A design aid, not a safety assessment.
    """
    if book_path(circuits) is not None:
        with case_of(circuits, beside=_named({}, {"name": name})) as case:
            return _wired(case.all_circuits, case.invented)
    brought = toml_of(circuits, "wiring")
    invented = EXAMPLE if is_example(read_toml(brought.text, where=brought.where)) else ""
    return _wired(assess_all(read_wiring(brought.text, where=brought.where)), invented)


def _wired(solved: Sequence[Assessment], invented: str) -> Reply:
    drawn = [circuit for circuit in solved if circuit.circuit is not None]

    def pictures() -> dict[str, Picture]:
        return {
            circuit.name or str(number): diagram(
                circuit, sheet=f"{number} of {len(drawn)}", day=date.today().isoformat()
            )
            for number, circuit in enumerate(drawn, 1)
        }

    return Reply(
        wiring_headline(solved) if solved else "No circuit is described.",
        document=wiring_json(solved),
        tables=tables.WIRING,
        result=tuple(solved),
        pictures=pictures,
        invented=invented,
    )


def square(measured: Any, *, units: System | None = None, name: str | None = None) -> Reply:
    """Say which side of a gantry moves, which way, by how much, and when to stop.

    Parameters
    ----------
    measured : path, str, dict, or a book
        A squaring file: diagonals, a flip, a square reversed or a grid of holes; one round or several.
    units : {"metric", "inch"}, optional
        Units in sentences and pictures.
    name : str, optional
        Of a book: which machine.

    Returns
    -------
    Reply
        A row a round; the offset is positive where the right side is to be brought back. [mm]
    """
    if book_path(measured) is not None:
        with case_of(measured, beside=_named({"units": units}, {"name": name})) as case:
            if case.squared is None:
                raise InputError(
                    where="square", found="no round that counts", need="a measured gantry", do="measure it first"
                )
            return _squared(case.squared, (), case.system, case.invented)
    brought = toml_of(measured, "squaring")
    asked = read_square(brought.text, where=brought.where)
    system = system_of(units)
    return _squared(
        squaring(asked.setup, asked.rounds, system=system), asked.notes, system, EXAMPLE if asked.example else ""
    )


def _squared(result: Squaring, notes: Sequence[str], system: System, invented: str) -> Reply:
    return Reply(
        result.verdict,
        document=result.as_json() | {"notes": list(notes)},
        tables=tables.SQUARE,
        result=result,
        pictures=lambda: {"gantry": squaring_picture(result, system=system)},
        invented=invented,
        to_do=result.steps[0] if result.steps else "",
        notes=notes,
    )


def plan(
    machine: Any = None,
    *,
    sensors: Any = None,
    axis: str | None = None,
    minutes: str = "90 min",
    per_homing: str = "1 min",
    per_power_up: str = "5 min",
    between: float | None = None,
    fewest: int = HOMINGS_EACH[0],
    most: int = HOMINGS_EACH[1],
    display: str | None = None,
    run: int = 100,
    per_run_homing: str = "15 s",
    confirm: str | None = None,
    seed: int = ORDER_SEED,
    name: str | None = None,
) -> Reply:
    """Say how many homings over how many power-ups, in which order, and what that will show.

    Parameters
    ----------
    machine : path, str, dict, what `holdzero.machine` returns, or a book, optional
        What is asked; without it the plan is reckoned in shares of the spread.
    sensors : path, str or dict, optional
        The candidates; a book has them.
    axis : str, optional
        Axis to plan for, by name: by default the one on two motors, else the first.
    minutes, per_homing, per_power_up : str
        Time for each candidate, of one homing with its reading, and of one power-up, with units.
    between : float, optional
        Scatter between power-ups over scatter within, where it is known. [-]
    fewest, most : int
        Homings of a power-up.
    display : str, optional
        Step of the display, with its unit: by default negligible.
    run : int
        Homings of the long run that is weighed; 0: none.
    per_run_homing : str
        Time of one of them, with its unit.
    confirm : str, optional
        The one chosen, to be tried once more, alone.
    seed : int
        Of the order.
    name : str, optional
        Of a book: which machine.

    Returns
    -------
    Reply
        A row a way to share the time out; tables "outlook" and "steps".
    """
    asked: Machine | None = None
    candidates: tuple[Sensor, ...] = ()
    invented = ""
    if machine is not None and book_path(machine) is not None:
        with case_of(machine, beside=_named({}, {"name": name})) as case:
            asked, candidates, invented = case.machine, case.sensors, case.invented
    elif machine is not None:
        brought = toml_of(machine, "machine")
        asked = read_machine(brought.text, where=brought.where)
        invented = EXAMPLE if asked.example else ""
    if sensors is not None:
        brought = toml_of(sensors, "sensors", table="sensors")
        candidates = read_sensors(brought.text, where=brought.where)
    result = plan_of(
        asked,
        candidates,
        axis=axis,
        minutes=_minutes(minutes, "minutes"),
        minutes_per_homing=_minutes(per_homing, "per_homing"),
        minutes_per_power_up=_minutes(per_power_up, "per_power_up"),
        between_ratio=between,
        fewest_homings=fewest,
        most_homings=most,
        display_mm=None if display is None else read(display, "length", where="display"),
        long_run=run,
        minutes_per_run_homing=_minutes(per_run_homing, "per_run_homing"),
        confirm=confirm,
        seed=seed,
    )
    return Reply(
        f"{result.sentence}: {result.split.minutes:.0f} min for each candidate, {result.minutes:.0f} min in all.",
        document=result.as_json(),
        tables=tables.PLAN,
        result=result,
        pictures=lambda: {"indicator": indicator_picture(sides=result.sides, axis=result.axis)},
        invented=invented,
    )


def _minutes(entered: str, where: str) -> float:
    if not isinstance(entered, str):
        raise InputError(
            where=where,
            found=f"{entered!r} without a unit",
            need="a time with its unit",
            do=f'write {where}="90 min"',
        )
    minutes = read(entered, "time", unit="min", where=where) / 60
    if minutes < 0:
        raise InputError(where=where, found=quoted(entered), need="a time", do="write it like 90 min")
    return minutes


def install(
    machine: Any,
    *,
    readings: Any = None,
    sensors: Any = None,
    sensor: str | None = None,
    axis: str | None = None,
    wiring: Any = None,
    square: Any = None,
    checklist: Any = None,
    units: System | None = None,
    **how_read: Any,
) -> Reply:
    """Say what to set on each axis, in order of doing, and what to test before it is trusted.

    Parameters
    ----------
    machine : path, str, dict, what `holdzero.machine` returns, or a book
        A book of several machines needs `name`.
    readings, sensors, sensor, axis
        The trial and the candidates, or the one to install, by name.
    wiring, square, checklist : path, str or dict, optional
        The circuits, how square the gantry was measured, and what came of the tests.
    units : {"metric", "inch"}, optional
        Units in sentences.
    how_read : str
        `resolution`, `step` and `protocol` of the readings; of a book `name`, which machine.

    Returns
    -------
    Reply
        A row a setting and axis; table "tests": what to try, with a hand on the stop.
    """
    beside = {
        "readings": readings,
        "sensors": sensors,
        "sensor": sensor,
        "axis": axis,
        "wiring": wiring,
        "square": square,
        "checklist": checklist,
        "units": units,
    }
    with case_of(machine, beside=_named(beside, how_read)) as case:
        known = [candidate.name for candidate in case.sensors]
        if sensor is not None and sensor not in known:
            raise InputError(
                where="sensor", found=sensor, need=f"one of {', '.join(known) or 'sensors'}", do="name a candidate"
            )
        sheet, of_machine, system = case.sheet, case.machine, case.system
        return Reply(
            f"{sheet.machine}: {sheet.verdict}",
            document=install_json(case),
            tables=tables.INSTALL,
            result=sheet,
            pictures=lambda: {"machine": machine_picture(of_machine, system=system)},
            invented=case.invented,
            to_do=case.checklist.verdict,
        )


def _named(beside: dict[str, Any], more: dict[str, Any]) -> dict[str, Any]:
    """Return what was said by the names a case knows: `name` is which machine of a book."""
    known = {"resolution", "step", "protocol", "readings", "sensors", "sensor", "wiring", "units", "name"}
    for stray in more.keys() - known:
        raise InputError(
            where=stray,
            found="a name that is not known",
            need=f"one of {', '.join(sorted(known))}",
            do="correct it",
        )
    return {("machine" if key == "name" else key): value for key, value in (beside | more).items()}
