"""Stations: the ten steps of the job in their order along the rail.

To add one: a module here with `STATION`, a template of the same name, and its line below. A page beside a
station has its `Subpage` in the line of its station.
"""

from holdzero.web.stations import (
    budget,
    capture,
    choice,
    files,
    findings,
    imports,
    install,
    machine,
    noise,
    plan,
    reading,
    record,
    sensors,
    square,
    tally,
    travel,
    trial,
    trials,
    watch,
    wiring,
)

STATIONS = (
    machine.STATION.beside(files.PAGE),
    sensors.STATION,
    wiring.STATION.beside(*wiring.BESIDE),
    travel.STATION.beside(budget.PAGE),
    trial.STATION.beside(
        plan.PAGE, noise.PAGE, trials.PAGE, reading.PAGE, imports.PAGE, capture.PAGE, capture.READ, tally.PAGE
    ),
    findings.STATION,
    choice.STATION,
    square.STATION.beside(install.PAGE),
    record.STATION,
    watch.STATION,
)
