"""Electrical: each candidate put into the circuits of a machine, to see what the controller then reads.

A candidate is refused only where no resistor, setting or opto-coupler mends it: what can be added to an
input does not rule a sensor out.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from holdzero.compute.wiring import Assessment, Circuit, Remedy, Unsaid, assess_all, circuits_from
from holdzero.compute.wiring.results import Verdict
from holdzero.inputs.sensor.output import Output
from holdzero.inputs.sensor.values import Sensor

Entered = Mapping[str, Any]

ADDED = ("pull_up", "pull_down", "series_resistor", "bleed", "shunt")  # to an input, for one kind of sensor
OTHER_SENSOR = ("output type", "contact")  # remedies that ask for another sensor
ON_DRAWING = ("name", "side")
REFUSED: tuple[Verdict, ...] = ("does not work", "damage")


@dataclass(frozen=True, slots=True)
class Tried:
    """One candidate in one circuit; `mend`: what makes it work where it does not as it stands."""

    circuit: str
    axis: str
    assessment: Assessment
    mend: Remedy | None = None

    @property
    def verdict(self) -> Verdict:
        """Of the circuit, mended where it can be."""
        return self.mend.verdict if self.mend else self.assessment.verdict

    @property
    def sentence(self) -> str:
        """Why."""
        if self.mend is None:
            return self.assessment.sentence
        return f"Works once changed: {self.mend.text}."


def facts(sensor: Sensor) -> dict[str, str]:
    """Return what the sheet of a candidate says, under the keys of a wiring file.

    >>> from holdzero.inputs.sensor import sensor_from
    >>> entered = {"output": "NPN", "contact": "NC", "supply": "5 V to 24 V"}
    >>> facts(sensor_from("B", entered, where="sensors.toml"))
    {'output': 'NPN', 'contact': 'NC', 'supply': '5 V to 24 V'}
    """
    sensor_facts = {"output": str(sensor.output or "unknown"), "contact": str(sensor.contact or "unknown")}
    known = {"supply": sensor.supply_high_v, "drop": sensor.drop_v, "leakage": sensor.leakage_a}
    return sensor_facts | {
        name: str(sensor.entered[name]) for name, value in known.items() if value and name in sensor.entered
    }


def with_sensor(circuit: Entered, sensor: Sensor) -> dict[str, Any]:
    """Return a circuit, as entered, with a candidate in place of each of its sensors.

    Names and sides on the drawing stay, and the rail that two terminals are fed from. Where output and contact
    are the same the candidate is taken to be the one wired now, and what was found out about that stays too.
    """
    rows = circuit.get("sensor", {})
    new = facts(sensor)

    def rewired(row: Entered) -> dict[str, Any]:
        if all(row.get(name) == new[name] for name in ("output", "contact")):
            return {**row, **new}
        wired = Output.named(row.get("output", ""))
        fed = all(output and not output.three_wire for output in (sensor.output, wired))
        stays = (*ON_DRAWING, "feed") if fed else ON_DRAWING
        return {name: row[name] for name in stays if row.get(name)} | new

    return {**circuit, "sensor": rewired(rows) if isinstance(rows, Mapping) else [rewired(row) for row in rows]}


def tried(circuits: Sequence[Entered], sensors: Iterable[Sensor]) -> dict[str, tuple[Tried, ...]]:
    """Put every candidate into every circuit and solve it.

    Parameters
    ----------
    circuits : sequence of mapping
        As entered, each with the tables of a wiring file.
    sensors : iterable of Sensor
        The candidates.

    Returns
    -------
    dict of str to tuple of Tried
        By name of the candidate, one a circuit. Where it does not work as it stands it is also tried without
        the resistors that were added for the sensor wired now.
    """
    sensors = tuple(sensors)
    places = [(sensor, circuit) for sensor in sensors for circuit in circuits]
    assessments = assess_all([_made(circuit, sensor) for sensor, circuit in places])
    mended = [number for number, assessment in enumerate(assessments) if assessment.verdict in REFUSED]
    bare = assess_all([_made(_bare(circuit), sensor) for sensor, circuit in (places[number] for number in mended)])
    without = dict(zip(mended, bare, strict=True))
    answer: dict[str, list[Tried]] = {sensor.name: [] for sensor in sensors}
    for number, (sensor, circuit) in enumerate(places):
        options = [
            _mended(circuit, assessment) for assessment in (assessments[number], without.get(number)) if assessment
        ]
        answer[sensor.name].append(next((way for way in options if way.verdict not in REFUSED), options[0]))
    return {name: tuple(ways) for name, ways in answer.items()}


def electrical(tried_by_sensor: Mapping[str, Sequence[Tried]], axis: str = "") -> dict[str, tuple[str, str]]:
    """Return what `choose` takes: by candidate the worst verdict on an axis, and the sentence that says why.

    Parameters
    ----------
    tried_by_sensor : mapping
        As `tried` gives it.
    axis : str, default ""
        Circuits of other axes are left out; those of no axis count for each.
    """
    order: tuple[Verdict, ...] = ("damage", "does not work", "cannot say", "works, but", "works")
    answer: dict[str, tuple[str, str]] = {}
    for name, ways in tried_by_sensor.items():
        ways_here = [way for way in ways if not axis or way.axis in ("", axis)]
        if ways_here:
            worst = min(ways_here, key=lambda way: order.index(way.verdict))
            answer[name] = (worst.verdict, worst.sentence)
    return answer


def _made(circuit: Entered, sensor: Sensor) -> Circuit | Unsaid:
    return circuits_from(with_sensor(circuit, sensor))[0]


def _bare(circuit: Entered) -> dict[str, Any]:
    without = {name: value for name, value in circuit.get("input", {}).items() if name not in ADDED}
    return {**circuit, "input": without}


def _mended(circuit: Entered, assessment: Assessment) -> Tried:
    mends = (
        [remedy for remedy in assessment.remedies if remedy.kind not in OTHER_SENSOR]
        if assessment.verdict in REFUSED
        else []
    )
    best = min(mends, key=lambda remedy: remedy.verdict != "works", default=None)
    return Tried(str(circuit.get("name", "")), str(circuit.get("axis", "")), assessment, best)
