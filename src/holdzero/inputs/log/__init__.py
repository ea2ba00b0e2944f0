"""Log: check homings of a machine in use, and the files they come from."""

from holdzero.inputs.log.entry import read_log
from holdzero.inputs.log.values import Log, LogEntry

__all__ = ["Log", "LogEntry", "read_log"]
