"""Results: everything the stations say about one machine, reckoned when first asked for."""

import os
from collections.abc import Sequence
from functools import cached_property
from typing import Any

from holdzero.compute.choose import Choice, Decision, axis_meant, choose
from holdzero.compute.choose import as_json as choice_as_json
from holdzero.compute.choose.electrical import electrical, tried
from holdzero.compute.design import Assessment, assess
from holdzero.compute.findings import as_json as study_as_json
from holdzero.compute.findings import study
from holdzero.compute.findings.trial import trial_of
from holdzero.compute.findings.values import Study
from holdzero.compute.install import Entry, InstallSheet, install_sheet, read_entries
from holdzero.compute.plan import Ask, asked_before_holds
from holdzero.compute.square import Event, Round, Squaring, setup_from, square_from, squaring
from holdzero.compute.square.keys import SETUP_KEYS
from holdzero.compute.travel import Travel, travel
from holdzero.compute.wiring import Assessment as Circuit
from holdzero.compute.wiring import Circuit as WiredSo
from holdzero.compute.wiring import Unsaid, assess_all, read_wiring
from holdzero.errors import InputError
from holdzero.form import read_toml
from holdzero.inputs.machine import read_machine
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.inputs.reading import Protocol, Readings, read_readings
from holdzero.inputs.sensor import read_sensors
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System
from holdzero.report.inputs import Inputs


class Results:
    """What follows from a record's inputs, each reckoned once.

    Parameters
    ----------
    inputs : Inputs
        The texts; the machine must be among them.

    Raises
    ------
    InputError
        It is not there. What a text says wrong is raised when it is read.
    """

    def __init__(self, inputs: Inputs) -> None:
        self.inputs = inputs
        if not inputs.texts.get("machine"):
            where = inputs.where.get("machine", "machine")
            raise InputError(where=where, found="nothing", need="a machine", do="add it first")

    @property
    def system(self) -> System:
        """Units shown."""
        return self.inputs.how.system

    @cached_property
    def machine(self) -> Machine:
        """The machine and what is asked of it."""
        return read_machine(self.inputs.texts["machine"], where=self._where("machine"))

    @cached_property
    def sensors(self) -> tuple[Sensor, ...]:
        """The candidates."""
        text = self.inputs.texts.get("sensors")
        return read_sensors(text, where=self._where("sensors")) if text else ()

    @cached_property
    def readings(self) -> Readings:
        """The trial."""
        text, how = self.inputs.texts.get("readings"), self.inputs.how
        if not text:
            return Readings(())
        return read_readings(
            text,
            where=self._where("readings"),
            resolution_mm=how.resolution_mm,
            step_mm=how.step_mm,
            protocol=Protocol(how.protocol) if how.protocol else None,
        )

    @cached_property
    def study(self) -> Study:
        """What the homings say."""
        return study(self.readings, axes=self.machine.axes, system=self.system)

    @cached_property
    def asks(self) -> tuple[Ask, ...]:
        """What the trial has to hold before its `holds` may stand."""
        return asked_before_holds(self.readings.groups)

    @cached_property
    def electrical(self) -> dict[str, tuple[str, str]]:
        """What the circuits make of each candidate: verdict and reason."""
        if not self._wired:
            return {}
        meant = axis_meant(self.machine, self.study, self.inputs.how.axis or None)
        return electrical(tried([one.entered for one in self._wired], self.sensors), meant.name)

    @cached_property
    def choice(self) -> Choice:
        """Which candidate holds."""
        return choose(
            self.machine,
            self.sensors,
            self.study,
            axis=self.inputs.how.axis or None,
            electrical=self.electrical,
            what_if=True,
            system=self.system,
        )

    @cached_property
    def decisions(self) -> tuple[Decision, ...]:
        """What was decided, newest first."""
        rows = read_toml(self.inputs.texts.get("decisions", "")).get("decision", [])
        return tuple(Decision.of(row, day=row.get("day", ""), version=row.get("version", "")) for row in rows)

    @property
    def axis(self) -> Axis:
        """The axis it is about."""
        return self.machine.axis(self.choice.allowed.axis)

    @property
    def chosen(self) -> Sensor | None:
        """The candidate that was taken; before a decision, the one recommended."""
        name = self.decisions[0].sensor if self.decisions else self.choice.choice
        return next((one for one in self.sensors if one.name == name), None)

    @cached_property
    def travel(self) -> tuple[Travel, ...]:
        """Every axis along its rail."""
        return tuple(travel(axis, system=self.system) for axis in self.machine.axes)

    @cached_property
    def budget(self) -> tuple[Assessment, ...]:
        """The axis of the record, and every other on which the same candidate was tried."""
        sensor = self.chosen or next((one for one in self.sensors if self._tried(one, self.axis)), None)
        if sensor is None:
            return ()
        return tuple(
            assess(
                self.machine,
                axis,
                sensor=sensor,
                trial=trial_of(self.study, sensor=sensor.name, axis=axis.name),
                workers=os.cpu_count() or 1,
                system=self.system,
            )
            for axis in self.machine.axes
            if self._tried(sensor, axis)
        )

    @cached_property
    def circuits(self) -> tuple[Circuit, ...]:
        """Every circuit, solved."""
        return tuple(assess_all(self._wired))

    @cached_property
    def _wired(self) -> tuple[WiredSo | Unsaid, ...]:
        text = self.inputs.texts.get("wiring")
        return read_wiring(text, where=self._where("wiring")) if text else ()

    @cached_property
    def history(self) -> tuple[Round | Event, ...]:
        """Rounds of squaring, with what happened in between, oldest first."""
        history: list[Round | Event] = list(self._rounds)
        events = read_toml(self.inputs.texts.get("events", "")).get("event", [])
        for event in reversed(events):
            history.insert(event["after_round"], Event(event["what"], event.get("day", ""), event.get("note", "")))
        return tuple(history)

    @cached_property
    def squared(self) -> Squaring | None:
        """What squareness was measured; None where nothing counts."""
        if not self.history or isinstance(self.history[-1], Event):
            return None
        setup = setup_from(self._gantry, where=self._where("square"))
        return squaring(setup, self.history, system=self.system)

    @cached_property
    def sheet(self) -> InstallSheet:
        """What to set and what to test."""
        return install_sheet(
            self.machine,
            sensor=self.chosen,
            axis=self.axis.name,
            circuits=self.circuits,
            squared=self.squared,
            system=self.system,
        )

    @cached_property
    def entries(self) -> tuple[Entry, ...]:
        """What was written down about the tests, oldest first."""
        return read_entries(self.inputs.texts.get("checklist", ""), where=self._where("checklist"))

    def as_json(self) -> dict[str, Any]:
        """Return every figure, under the contracts of the stations."""
        return {
            "choice": choice_as_json(self.choice),
            "study": study_as_json(self.study),
            "travel": {one.axis.name: one.as_json() for one in self.travel},
            "budget": {one.axis.name: one.as_json() for one in self.budget},
            "wiring": [one.as_json() for one in self.circuits],
            "square": self.squared.as_json() if self.squared else None,
        }

    @cached_property
    def _square(self) -> dict[str, Any]:
        return read_toml(self.inputs.texts.get("square", ""), where=self._where("square"), kind="squaring")

    @cached_property
    def _gantry(self) -> dict[str, Any]:
        """The gantry's keys: those the machine and its trial know, then what was entered for the squaring."""
        names = [key.name for key in SETUP_KEYS]
        known = {name: self.axis.entered[name] for name in names if name in self.axis.entered}
        asked = (self.machine.entered.get("requirement") or {}).get("squareness")
        apart = self.study.of(self.chosen.name, self.axis.name, "difference") if self.chosen else None
        if asked:
            known["squareness"] = asked
        if apart is not None and apart.spread.middle is not None:
            known["spread"] = f"{apart.spread.middle / 2**0.5:.3g} mm"  # of one side
        return known | {name: self._square[name] for name in names if name in self._square}

    @property
    def _rounds(self) -> Sequence[Round]:
        if not self._square.get("round") and "method" not in self._square:
            return ()
        return square_from(self._gantry | self._square, where=self._where("square")).rounds

    def _tried(self, sensor: Sensor, axis: Axis) -> bool:
        return trial_of(self.study, sensor=sensor.name, axis=axis.name) is not None

    def _where(self, name: str) -> str:
        return self.inputs.where.get(name, "")
