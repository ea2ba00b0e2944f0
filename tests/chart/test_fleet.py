"""Small multiples: the machines worst off, all to one scale, and how many are left out."""

import re
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from holdzero.case.watch.log_watched import LogWatched, watch_log
from holdzero.chart.fleet import fleet_picture
from holdzero.inputs.log import read_log
from svg import Svg

START = datetime(2026, 1, 1, 8, tzinfo=UTC)


def fleet(machines=5, shift_mm=0.05):
    """Machines of forty days; the second has moved since day 30, the third is still learning."""
    draw, lines = np.random.default_rng(2), ["time,machine,axis,deviation_mm"]
    for number in range(machines):
        for day in range(4 if number == 2 else 40):
            off_mm = draw.normal(0, 0.003) + shift_mm * (number == 1 and day >= 30)
            lines.append(f"{(START + timedelta(days=day)).isoformat()},saw {number},Y,{off_mm:.4f}")
    return watch_log(read_log([("\n".join(lines), "")]), baseline=20)


def heads(picture, *, narrow=False):
    return re.findall(r">(saw \d)", picture.svg(narrow=narrow).partition("</desc>")[2])


def test_each_machine_once_worst_first():
    watched = fleet()
    picture = fleet_picture(watched)
    order = [row.logged.machine for row in watched.rows]
    assert heads(picture) == heads(picture, narrow=True) == order
    assert order[0] == "saw 1"
    assert "saw 1 Y home: alarm" in picture.text
    assert "no limits yet" in picture.text  # the one that is learning
    assert "No machine left out" in picture.text


def test_the_rest_is_counted():
    picture = fleet_picture(fleet(), most=2)
    assert len(heads(picture)) == 2
    assert picture.title == "The 2 machines worst off of 5"
    sheet = re.sub(r"(<[^>]*>)+", " ", picture.svg().partition("</desc>")[2])  # for everybody, be it in two lines
    assert "3 more machines left out" in " ".join(sheet.split())


def test_one_scale():
    """Limits of all lie at their own distance from the middle, in one measure."""
    watched = fleet()
    picture = fleet_picture(watched)
    dashed = [line for line in Svg(picture.svg()).all("polyline") if line.get("stroke-dasharray") == "5 3"]
    level_px = [float(line.get("points").split()[0].split(",")[1]) for line in dashed]
    apart_px = np.abs(np.diff(np.reshape(level_px, (-1, 2)), axis=1)[:, 0])
    known = [(row.limits.single_sds, row.watched.baseline) for row in watched.rows if row.watched.baseline]
    reach_mm = np.array([sds * home.widening * home.sd_mm for sds, home in known])
    assert apart_px / reach_mm == pytest.approx(np.full(4, apart_px[0] / reach_mm[0]), rel=0.02)


def test_what_is_off_the_scale_stays_in_its_panel():
    rings = [Svg(fleet_picture(fleet(shift_mm=shift_mm)).svg()).all("circle") for shift_mm in (0.05, 5.0)]
    assert all(rings)
    assert all(34 <= float(ring.get("cy")) <= 98 for ring in rings[1])
    assert "drawn at its edge" in fleet_picture(fleet()).text


def test_no_machine_at_all():
    assert "No check homing" in fleet_picture(LogWatched((), 0.0, 500.0, ())).svg()
