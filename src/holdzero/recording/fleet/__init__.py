"""Fleet: check homings of many machines, from files or a database, some machines at a time."""

from holdzero.recording.fleet.files import FleetFiles
from holdzero.recording.fleet.part import FleetPart, FleetSource, parts_of

__all__ = ["FleetFiles", "FleetPart", "FleetSource", "parts_of"]
