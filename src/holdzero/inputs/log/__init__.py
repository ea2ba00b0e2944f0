"""Log: check homings of a machine in use, and the files they come from."""

from holdzero.inputs.log.entry import read_log
from holdzero.inputs.log.settings import SETTING_KEYS, WatchSettings, settings_from
from holdzero.inputs.log.single import entry_from
from holdzero.inputs.log.values import Log, LogEntry
from holdzero.inputs.log.writing import write_log

__all__ = [
    "SETTING_KEYS",
    "Log",
    "LogEntry",
    "WatchSettings",
    "entry_from",
    "read_log",
    "settings_from",
    "write_log",
]
