"""Fleet: check homings of many machines, from files or a database, some machines at a time."""

from holdzero.recording.fleet.database import FleetDatabase
from holdzero.recording.fleet.files import FleetFiles
from holdzero.recording.fleet.part import FleetPart, FleetSource, PartsReader, parts_of
from holdzero.recording.fleet.source import fleet_source

__all__ = [
    "PART_ROWS",
    "FleetDatabase",
    "FleetFiles",
    "FleetPart",
    "FleetSource",
    "PartsReader",
    "fleet_source",
    "parts_of",
]
