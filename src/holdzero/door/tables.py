"""Tables: which rows of an answer make its tables, and which columns are printed."""

from collections.abc import Iterable, Mapping
from typing import Any

from holdzero.door.reply import Row, Tables

Document = Mapping[str, Any]


def _axis_rows(document: Document, key: str) -> Iterable[Row]:
    for axis, answer in document["axes"].items():
        for row in answer[key]:
            yield {"axis": axis, **row}


def _circuits(document: Document) -> Iterable[Row]:
    for circuit in document["circuits"]:
        states = {
            f"{state}_{name}": value
            for state, values in (circuit["states"] or {}).items()
            for name, value in (values or {}).items()
        }
        hides = sum(fault["effect"] == "hides" for fault in circuit["faults"])
        yield {"circuit": circuit["name"], "verdict": circuit["verdict"], "hiding_faults": hides, **states}


def _faults(document: Document) -> Iterable[Row]:
    for circuit in document["circuits"]:
        for fault in circuit["faults"]:
            yield {"circuit": circuit["name"], **fault}


def _parts(document: Document) -> Iterable[Row]:
    for axis in document["standings"]["axes"]:
        for part in axis["parts"]:
            yield {"axis": axis["axis"], **part}


def _settings(document: Document) -> Iterable[Row]:
    for axis, settings in document["axes"].items():
        for setting in settings:
            yield {"axis": axis, **setting}


def _events(document: Document) -> Iterable[Row]:
    for switch in document["switches"]:
        for event in switch["events"]:
            yield {"switch": switch["switch"], "side": switch["side"], **event}


def _speeds(document: Document) -> Iterable[Row]:
    for switch in document["switches"]:
        for speed in switch["by_speed"]:
            yield {"switch": switch["switch"], "side": switch["side"], **speed}


def _alarms(document: Document) -> Iterable[Row]:
    for row in document["machines"]:
        for alarm in row["alarms"]:
            yield {"machine": row["machine"], "axis": row["axis"], "side": row["side"], **alarm}


def _index(document: Document) -> Iterable[Row]:
    for axis, place in document["axes"].items():
        yield {"axis": axis, **(place or {})}


STUDY: Tables = {
    "series": (
        lambda document: document["sensors"],
        (
            "sensor",
            "axis",
            "side",
            "n",
            "sets",
            "span_mm",
            "sd_mm",
            "spread_mm",
            "spread_low_mm",
            "spread_high_mm",
        ),
    ),
    "signatures": (
        lambda document: (
            {"sensor": row["sensor"], "axis": row["axis"], "side": row["side"], **signature}
            for row in document["sensors"]
            for signature in row["signatures"]
        ),
        ("sensor", "axis", "side", "code", "sentence"),
    ),
}
CHOICE: Tables = {
    "candidates": (
        lambda document: document["candidates"],
        ("sensor", "price", "verdict", "chance_holds", "chance_holds_wide", "share_outside"),
    ),
    "what_if": (lambda document: document["what_if"], ("asked", "choice")),
    "standing": (_parts, ("axis", "part", "answer", "sentence")),
}
STANDING: Tables = {
    "parts": (_parts, ("axis", "part", "answer", "sentence")),
    "axes": (lambda document: document["standings"]["axes"], ("axis", "answer", "stops", "next")),
}
RECORD: Tables = {
    "candidates": (lambda document: document["results"]["choice"]["candidates"], CHOICE["candidates"][1]),
    "standing": STANDING["parts"],
}
BUDGET: Tables = {
    "contributions": (
        lambda document: _axis_rows(document, "contributions"),
        ("axis", "name", "distribution", "common_mm", "own_mm", "share"),
    ),
    "not_counted": (lambda document: _axis_rows(document, "not_counted"), ("axis", "name")),
}
INDEX: Tables = {"places": (_index, ("axis", "chance", "phase", "room_mm"))}
TRAVEL: Tables = {
    "checks": (
        lambda document: _axis_rows(document, "checks"),
        ("axis", "check", "ok", "uses_mm", "room_mm", "margin_mm", "speed_limit_mm_s"),
    )
}
WIRING: Tables = {
    "circuits": (
        _circuits,
        (
            "circuit",
            "verdict",
            "clear_reads",
            "clear_input_v",
            "tripped_reads",
            "tripped_input_v",
            "hiding_faults",
        ),
    ),
    "faults": (_faults, ("circuit", "fault", "reads_clear", "reads_tripped", "effect")),
}
SQUARE: Tables = {
    "rounds": (
        lambda document: document["rounds"],
        ("method", "day", "setting_mm", "angle_mrad", "angle_u_mrad", "offset_mm", "offset_u_mm", "counts"),
    )
}
PLAN: Tables = {
    "options": (
        lambda document: document["options"],
        ("power_ups", "homings", "total", "minutes", "degrees_of_freedom", "df", "room_80"),
    ),
    "outlook": (lambda document: document["outlook"], ("between_ratio", "df", "low", "high", "told_apart")),
    "steps": (lambda document: document["steps"], ("day", "block", "kind", "sensor", "readings")),
}
INSTALL: Tables = {
    "settings": (_settings, ("axis", "group", "name", "value", "kind", "text", "origin", "ok")),
    "tests": (lambda document: document["tests"], ("axis", "item", "stage", "name", "do")),
}
WATCH: Tables = {
    "machines": (
        lambda document: document["machines"],
        ("machine", "axis", "side", "n", "state", "level_mm", "share_outside", "lost_on_low"),
    ),
    "alarms": (_alarms, ("machine", "axis", "side", "time", "rule", "deviation_mm")),
}
CAPTURE: Tables = {
    "switches": (
        lambda document: document["switches"],
        (
            "switch",
            "side",
            "trip_spread_mm",
            "trip_spread_low_mm",
            "trip_spread_high_mm",
            "n_effective",
            "latency_s",
        ),
    ),
    "events": (_events, ("switch", "kind", "first_tick", "position_mm", "direction", "speed_mm_s")),
    "speeds": (_speeds, ("switch", "direction", "speed_mm_s", "n", "spread_mm")),
}
