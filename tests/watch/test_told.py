"""What is told of a watched log, in the units asked for."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from holdzero.case.watch import watch_log
from holdzero.inputs.log import read_log
from holdzero.tell.watch import tell_watch

START = datetime(2026, 1, 1, 8, tzinfo=UTC)


@pytest.fixture(scope="module")
def warmed():
    """Thirty-five power-ups at 10 to 20 °C that move by 3 µm a degree, to 0.1 µm."""
    draw, lines = np.random.default_rng(4), ["time,axis,deviation_mm,temperature_degc"]
    for day in range(35):
        degc = draw.uniform(10, 20)
        off_mm = 3e-3 * degc + draw.normal(0, 1e-4)
        lines.append(f"{(START + timedelta(days=day)).isoformat()},Y,{off_mm:.4f},{degc:.1f}")
    return watch_log(read_log([("\n".join(lines), "")]), baseline=30)


@pytest.mark.parametrize(("system", "said"), [("metric", "3.0\u202fµm/K"), ("inch", "0.066\u202fthou/°F")])
def test_what_is_taken_out_for_temperature_has_its_unit(warmed, system, said):
    """3 µm/K are 3 / 25.4 / 1.8 = 0.0656 thou/°F."""
    told = tell_watch(warmed, system=system)
    rows = dict(row for section in told.more for block in section.blocks for row in getattr(block, "rows", ()))
    assert rows["Taken out for temperature"] == said
