"""Capture: hundreds of homings out of one recording of the switch and the count."""

from holdzero.compute.capture.contract import capture_as_json
from holdzero.compute.capture.counting import Counting
from holdzero.compute.capture.debounce import DebounceTime, bounce_time, debounce_times
from holdzero.compute.capture.entry import capture_map_from, read_capture_map
from holdzero.compute.capture.events import SwitchEvents, found_quiet, switch_events
from holdzero.compute.capture.findings import capture_findings
from holdzero.compute.capture.keys import CAPTURE_KEYS
from holdzero.compute.capture.place import Whereabouts, whereabouts
from holdzero.compute.capture.reference import Reference, reference
from holdzero.compute.capture.results import CaptureFindings, SwitchFindings
from holdzero.compute.capture.scatter import AtSpeed, SpeedLine, TripScatter, jitter_s, speed_line, trip_scatter
from holdzero.compute.capture.series import TripRow, readings_csv, trip_rows
from holdzero.compute.capture.values import CaptureMap, LevelChanges, Recorded, SwitchChannel

__all__ = [
    "CAPTURE_KEYS",
    "AtSpeed",
    "CaptureFindings",
    "CaptureMap",
    "Counting",
    "DebounceTime",
    "LevelChanges",
    "Recorded",
    "Reference",
    "SpeedLine",
    "SwitchChannel",
    "SwitchEvents",
    "SwitchFindings",
    "TripRow",
    "TripScatter",
    "Whereabouts",
    "bounce_time",
    "capture_as_json",
    "capture_findings",
    "capture_map_from",
    "debounce_times",
    "found_quiet",
    "jitter_s",
    "read_capture_map",
    "readings_csv",
    "reference",
    "speed_line",
    "switch_events",
    "trip_rows",
    "trip_scatter",
    "whereabouts",
]
