"""What the manual shows as typed is typed here: every command block, every Python block."""

import doctest
import re
import shlex
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from holdzero import demo, manual
from holdzero.cli import cli
from holdzero.errors import HoldzeroError
from holdzero.store import open_book
from ready_books import keep_demo

FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
BLOCK = re.compile(r"^```([^\n]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
ELSEWHERE = {
    "commands": "the help texts, whose examples tests/cli/test_where.py runs",
    "python": "tests/door/test_documents.py",
}
ENDS = "# ends with "
PAGES = [page for page in manual.topics() if page.slug not in ELSEWHERE]


def blocks(page: manual.Topic) -> list[tuple[str, str]]:
    return BLOCK.findall(page.source.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def demo_files(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("typed")
    for name, text in {
        "machine.toml": demo.machine_toml(),
        "sensors.toml": demo.sensors_toml(),
        "readings.csv": demo.readings_csv(),
        "wiring.toml": demo.wiring_toml(),
        "measured.toml": demo.square_toml(),
        "readings.txt": "first 12 um\nsecond 13 um\n",
    }.items():
        (folder / name).write_text(text, encoding="utf-8")
    with open_book(folder / "demo.holdzero") as book:
        keep_demo(book)
    return folder


def test_every_command_is_shown_in_a_block_that_is_run_or_says_why_not():
    bare = []
    for page in PAGES:
        text = page.source.read_text(encoding="utf-8")
        for info, body in blocks(page):
            kind, _, why = info.partition(" not run:")
            typed = re.search(r"^\$? ?holdzero ", body, re.MULTILINE)
            if (
                (typed and kind != "console" and not why)
                or (why and len(why) < 10)
                or ("not run" in info and not why)
            ):
                bare.append((page.slug, info, body[:60]))
        bare += [
            (page.slug, "indented", line) for line in re.findall(r"^    holdzero .*", BLOCK.sub("", text), re.M)
        ]
    assert bare == []


@pytest.mark.parametrize(
    "page", [page for page in PAGES if any(i == "console" for i, _ in blocks(page))], ids=lambda page: page.slug
)
def test_commands_say_what_the_page_says(page, demo_files, tmp_path, monkeypatch):
    folder = tmp_path / "typed"
    shutil.copytree(demo_files, folder)
    monkeypatch.chdir(folder)
    typed = [entry for info, body in blocks(page) if info == "console" for entry in commands(body)]
    for line, wanted, status in typed:
        words, _, source = line.partition(" < ")
        words, _, target = words.partition(" > ")
        entered = Path(source).read_text(encoding="utf-8") if source else None
        result = CliRunner().invoke(cli, shlex.split(words)[1:], input=entered, standalone_mode=False, color=False)
        if isinstance(result.exception, HoldzeroError) or (
            result.exception and not isinstance(result.exception, SystemExit)
        ):
            raise AssertionError(f"{page.slug}: {line}: {result.exception}") from result.exception
        assert (result.return_value or 0) == status, (page.slug, line, result.output)
        shown = result.output.replace("\u202f", " ")
        if target:
            Path(target).write_text(result.stdout, encoding="utf-8")
        assert not wanted or doctest.OutputChecker().check_output(wanted, shown, FLAGS), (
            f"{page.slug}: $ {line}\nwanted\n{wanted}\ngot\n{shown}"
        )


def commands(body: str) -> list[tuple[str, str, int]]:
    """Return each line that is typed, what is shown after it, and the status it ends with."""
    entries: list[tuple[str, str, int]] = []
    for line in body.splitlines(keepends=True):
        if line.startswith("$ "):
            entries.append((line[2:].strip(), "", 0))
        elif line.startswith(ENDS):
            entries[-1] = (*entries[-1][:2], int(line.removeprefix(ENDS)))
        else:
            typed, wanted, status = entries[-1]
            entries[-1] = (typed, wanted + line, status)
    return entries


@pytest.mark.parametrize(
    "page", [page for page in PAGES if any(i == "python" for i, _ in blocks(page))], ids=lambda page: page.slug
)
def test_python_says_what_the_page_says(page, demo_files, monkeypatch):
    monkeypatch.chdir(demo_files)
    text = "\n".join(body for info, body in blocks(page) if info == "python")
    test = doctest.DocTestParser().get_doctest(text, {}, page.slug, str(page.source), 0)
    slips: list[str] = []
    results = doctest.DocTestRunner(optionflags=FLAGS).run(test, out=slips.append)
    assert results.attempted
    assert results.failed == 0, "".join(slips)


def test_the_timers_name_commands_that_exist():
    """Blocks for a scheduler cannot be run here: the commands they start are."""
    text = next(page for page in PAGES if page.slug == "timers").source.read_text(encoding="utf-8")
    for name in re.findall(r"holdzero\"? (watch|log|fleet)\b", text):
        assert cli.get_command(None, name) is not None
    assert {"watch", "log"} <= set(re.findall(r"holdzero\"? (watch|log)\b", text))
    for system in ("Linux", "macOS", "Windows"):
        assert f"## {system}: " in text
