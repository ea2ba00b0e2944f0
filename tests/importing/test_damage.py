"""Damaged or ill-meant tables: workbooks and texts end in a preview or one sentence, in bounded room and time."""

import io
import zipfile
from pathlib import Path

import openpyxl
import pytest

from damaged import damaged, one_sentence, told
from holdzero.errors import InputError
from holdzero.form import bounds
from holdzero.inputs.importing import preview, read_grid

SHEET = "xl/worksheets/sheet1.xml"


@pytest.fixture(scope="module")
def workbook() -> bytes:
    book, held = openpyxl.Workbook(), io.BytesIO()
    for row in (("Run", "Dial (mm)"), *((i, i / 1000) for i in range(1, 40))):
        book.active.append(row)
    book.save(held)
    return held.getvalue()


def changed(workbook: bytes, name: str, content: bytes) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook)) as old, zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as new:
        for member in old.namelist():
            new.writestr(member, content if member == name else old.read(member))
    return held.getvalue()


def inside(workbook: bytes, seed: int) -> bytes:
    """Damage one file of a workbook and pack it again: what a check of the packing would not see."""
    with zipfile.ZipFile(io.BytesIO(workbook)) as opened:
        names = opened.namelist()
        name = names[seed % len(names)]
        return changed(workbook, name, damaged(opened.read(name), seed))


def survives(raw: bytes, seed: int) -> None:
    refusal = ""
    try:
        preview(read_grid(raw, name="shop.xlsx"))
    except InputError as refused:
        refusal = str(refused)
    assert not refusal or one_sentence(refusal), (seed, refusal)


@pytest.mark.parametrize("seed", range(60))
def test_60_damaged_workbooks(workbook: bytes, seed: int):
    survives(damaged(workbook, seed), seed)
    survives(inside(workbook, seed), seed)


@pytest.mark.checks
@pytest.mark.parametrize("seed", range(60, 360))
def test_300_damaged_workbooks(workbook: bytes, seed: int):
    survives(damaged(workbook, seed), seed)
    survives(inside(workbook, seed), seed)


def sheet(*rows: str) -> bytes:
    name = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    head = f'<?xml version="1.0"?><worksheet xmlns="{name}"><dimension ref="A1:XFD1048576"/><sheetData>'
    return f"{head}{''.join(rows)}</sheetData></worksheet>".encode()


def refused(raw: bytes | str) -> str:
    with pytest.raises(InputError) as why:
        read_grid(raw, name="shop")
    assert one_sentence(str(why.value))
    return str(why.value)


class TestBounds:
    """The bounds stand in one place, and the sentence names the one that was met."""

    def test_a_row_far_down_is_not_filled_up_to(self, workbook: bytes):
        """A row that says it is number 999 999 999: what reads workbooks yields every one before it."""
        far = '<row r="999999999"><c r="A999999999"><v>1</v></c></row>'
        assert "at most 2000000 rows" in refused(changed(workbook, SHEET, sheet(far)))

    def test_wide_rows_are_counted_cell_by_cell(self, workbook: bytes, monkeypatch: pytest.MonkeyPatch):
        monkeypatch.setattr(bounds, "MOST_CELLS", 100_000)
        wide = [f'<row r="{i}"><c r="XFD{i}"><v>1</v></c></row>' for i in range(1, 12)]
        assert "at most 100000 cells" in refused(changed(workbook, SHEET, sheet(*wide)))

    def test_what_a_sheet_says_of_its_size_is_not_believed(self, workbook: bytes):
        row = '<row r="1"><c r="A1"><v>0.5</v></c></row>'
        assert read_grid(changed(workbook, SHEET, sheet(row))).rows == (("0.5",),)

    @pytest.mark.parametrize("place", ["ZZZZ1", "AAAAAAAAA1", "1", "A", "A" + "9" * 5000])
    def test_a_cell_that_is_nowhere(self, workbook: bytes, place: str):
        survives(changed(workbook, SHEET, sheet(f'<row r="1"><c r="{place}"><v>1</v></c></row>')), 0)

    def test_entities_that_swell(self, workbook: bytes):
        """A hundred thousand million letters of nine lines: an old trick on readers of XML."""
        lines = "".join(f'<!ENTITY e{i} "{f"&e{i - 1};" * 10}">' for i in range(1, 12))
        bomb = f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e0 "lol">{lines}]>'.encode()
        body = sheet('<row r="1"><c r="A1" t="str"><v>&e11;</v></c></row>').partition(b"?>")[2]
        assert "not a whole XLSX" in refused(changed(workbook, SHEET, bomb + body))

    def test_deep_nesting(self, workbook: bytes):
        survives(changed(workbook, SHEET, sheet("<row>" * 50_000 + "</row>" * 50_000)), 0)

    def test_one_that_swells(self, workbook: bytes):
        assert "swells" in refused(changed(workbook, SHEET, sheet(" " * (17 * bounds.MIB))))

    @pytest.mark.parametrize("end", ["\n", "\r", "\r\n", "\v", "\u2028"])
    def test_ends_of_lines_and_nothing_else(self, end: str):
        """Each becomes a line of its own: 64 MB of them took 5 GB."""
        assert "at most 5000000 lines" in refused(end * (bounds.MOST_LINES + 1))

    def test_very_many_columns(self):
        assert "at most 20000 columns" in refused(";" * 20_000 + "\n1;2\n")

    def test_a_file_that_is_too_large(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
        monkeypatch.setattr(bounds, "MOST_BYTES", 1000)
        monkeypatch.setattr("holdzero.files.MOST_BYTES", 1000)
        (tmp_path / "long.csv").write_text("deviation_mm\n" + "0.001\n" * 1000)
        status, text = told("study", tmp_path / "long.csv")
        assert (status, one_sentence(text)) == (2, True)


@pytest.mark.parametrize("size", [200_000, bounds.LONGEST_LINE + 1])
def test_a_line_without_an_end_is_refused_at_once(size: int):
    with pytest.raises(InputError, match="a line of "):
        read_grid(b"0.01\n" + b"x" * size, name="a.txt")
