"""`holdzero manual`: prints where it is, opens it, and names the topics."""

import webbrowser

from click.testing import CliRunner

from holdzero import manual
from holdzero.cli import cli


def test_a_topic_is_opened_and_its_place_printed(tmp_path, monkeypatch):
    opened: list[str] = []
    monkeypatch.setattr(webbrowser, "open", opened.append)
    result = CliRunner().invoke(cli, ["manual", "glossary", "--folder", str(tmp_path)])
    place = tmp_path / "glossary.html"
    assert result.output == f"Glossary: {place}\n"
    assert opened == [place.as_uri()]
    assert "differential travel" in place.read_text(encoding="utf-8")


def test_the_list_names_every_page():
    listed = CliRunner().invoke(cli, ["manual", "--list"]).output.splitlines()
    assert [line.split()[0] for line in listed] == [page.slug for page in manual.topics()]


def test_help_names_the_manual():
    assert "`holdzero manual` explains" in CliRunner().invoke(cli, ["--help"]).output
