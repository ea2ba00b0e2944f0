"""Record: that of the demo, from its texts to the bytes of the PDF."""

from io import BytesIO
from typing import Any

import pypdf

from bench._measure import core_seconds, row
from holdzero import demo
from holdzero.case import Case, How, Texts
from holdzero.report.whole import record_of, set_in

TEXTS = {"machine": demo.machine_toml(), "sensors": demo.sensors_toml(), "readings": demo.readings_csv()}
MOST_S, MOST_PAGES = 2.0, 12


def run() -> list[dict[str, Any]]:
    """Goals: the record in 2 s, and no more than 12 pages of it."""
    made: dict[str, bytes] = {}

    def pdf() -> None:
        made["pdf"] = set_in("pdf", record_of(Case(Texts(files=TEXTS, how=How(invented=demo.INVENTED)))))

    taken = min(core_seconds(pdf) for _ in range(3))
    count = len(pypdf.PdfReader(BytesIO(made["pdf"])).pages)
    return [
        row("record of the demo as PDF", taken, MOST_S, most=1.0),
        row("pages of the demo's record", count, MOST_PAGES, most=1.0),
    ]
