"""Stations: the ten steps of the job in their order along the rail.

To add one: a module here with `STATION`, a template of the same name, and its line below.
"""

from holdzero.web.rail import Station
from holdzero.web.stations import choice, findings, machine, record, sensors, square, travel, trial, wiring

STATIONS = (
    machine.STATION,
    sensors.STATION,
    wiring.STATION,
    travel.STATION,
    trial.STATION,
    findings.STATION,
    choice.STATION,
    square.STATION,
    record.STATION,
    Station("Watch"),
)
