"""Watch of a log: every machine, axis and side in it, each held against its baseline and what is asked."""

from holdzero.case.watch.asked import WatchAsked
from holdzero.case.watch.log_watched import LogWatched, SideWatched, watch_log

__all__ = ["LogWatched", "SideWatched", "WatchAsked", "watch_log"]
