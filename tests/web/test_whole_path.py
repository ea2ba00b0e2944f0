"""Published data through the whole path: file, `study`, book, page, record.

Two sets of the National Institute of Standards and Technology stand in for homings: MPC62, a check
standard read once a day on 25 days (e-Handbook 2.6.2), and Mavro, 50 values of one sitting
(NIST StRD).
"""

import json
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader
from starlette.testclient import TestClient

from holdzero.cli import cli
from holdzero.quantity import plain
from holdzero.store import Book
from nist import MAVRO, MPC62
from printed import printed

MPC62_CSV = "sensor,axis,set,homing,deviation_mm\n" + "".join(
    f"check standard,X,{day},1,{value:.3f}\n" for day, value in enumerate(MPC62, 1)
)
MAVRO_CSV = "sensor,axis,set,homing,deviation_mm,resolution_mm\n" + "".join(
    f"filter,X,1,{n},{value:.5f},0.0001\n" for n, value in enumerate(MAVRO, 1)
)
MACHINE = {"machine": {"name": "Bench"}, "requirement": {"position": "0.1 mm"}, "axes": {"X": {"lead": "5 mm"}}}
MACHINE_TOML = (
    '[machine]\nname = "Bench"\n[requirement]\nposition = "0.1 mm"\ndatum_homings = 25\n[axes.X]\nlead = "5 mm"\n'
)


class Words(HTMLParser):
    """The text of a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.said: list[str] = []
        self.feed(html)

    def handle_data(self, data: str) -> None:
        self.said.append(data)

    @property
    def text(self) -> str:
        return plain(" ".join(" ".join(self.said).split()))


def studied(tmp_path: Path, text: str) -> dict:
    file = tmp_path / "readings.csv"
    file.write_text(text, encoding="utf-8")
    done = CliRunner().invoke(cli, ["study", str(file), "--json"], standalone_mode=False, catch_exceptions=False)
    return json.loads(done.output)["sensors"][0]


def page_of(book: Book, client: TestClient, text: str, sensor: str) -> str:
    from holdzero.inputs.reading import read_readings

    machine = book.add_machine(MACHINE)
    book.add_sensor(machine, sensor, {"kind": "stand-in"})
    trial = book.add_trial(machine, name="published", axis="X")
    book.import_readings(trial, read_readings(text, where="published"))
    return Words(client.get(f"/machines/{machine}/findings").text).text


def record_of(tmp_path: Path, text: str, sensor: str) -> str:
    (tmp_path / "machine.toml").write_text(MACHINE_TOML)
    (tmp_path / "sensors.toml").write_text(f'[sensors."{sensor}"]\nkind = "stand-in"\n')
    (tmp_path / "readings.csv").write_text(text)
    words = ["record", "-o", str(tmp_path / "record.pdf"), str(tmp_path / "readings.csv")]
    words += ["--machine", str(tmp_path / "machine.toml"), "--sensors", str(tmp_path / "sensors.toml")]
    CliRunner().invoke(cli, words, standalone_mode=False, catch_exceptions=False)
    pages = PdfReader(BytesIO((tmp_path / "record.pdf").read_bytes())).pages
    return plain(" ".join(" ".join(page.extract_text() for page in pages).split()))


class TestMpc62:
    """One reading a day: within cannot be told, day-to-day can: s2 0.0268, 24 degrees of freedom."""

    def test_study(self, tmp_path: Path):
        found = studied(tmp_path, MPC62_CSV)
        assert found["mean_mm"] == printed("97.06984")
        assert found["sd_mm"] == printed("0.0268")
        assert found["within_mm"] is None
        # chi-square with 24 df: sqrt(24/39.364) and sqrt(24/12.401) times s (e-Handbook 1.3.6.7.4 table)
        assert found["spread_low_mm"] == pytest.approx(0.0267981 * (24 / 39.364) ** 0.5, rel=1e-3)
        assert found["spread_high_mm"] == pytest.approx(0.0267981 * (24 / 12.401) ** 0.5, rel=1e-3)

    def test_page(self, book: Book, client: TestClient):
        said = page_of(book, client, MPC62_CSV, "check standard")
        assert "26.8 um" in said
        assert "25 power-ups" in said
        assert "cannot be told apart" in said

    def test_record(self, tmp_path: Path):
        assert "26.8" in record_of(tmp_path, MPC62_CSV, "check standard")


class TestMavro:
    """50 values: mean 2.001856, sd 0.000429123454, a drift everybody sees."""

    def test_study(self, tmp_path: Path):
        found = studied(tmp_path, MAVRO_CSV)
        assert found["mean_mm"] == printed("2.001856")
        assert found["sd_mm"] == printed("0.000429123454003")
        assert "not-steady" in [signature["code"] for signature in found["signatures"]]

    def test_page(self, book: Book, client: TestClient):
        said = page_of(book, client, MAVRO_CSV, "filter")
        assert "0.429 um" in said or "0.43 um" in said
        assert "Not yet steady" in said

    def test_record(self, tmp_path: Path):
        said = record_of(tmp_path, MAVRO_CSV, "filter")
        assert "Not yet steady" in said
        assert "too close to call" in said
