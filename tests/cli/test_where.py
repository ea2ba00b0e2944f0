"""What the terminal remembers, what it lists, what a shell fills in, and the examples under each help."""

import json
import os
import shlex
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.shell_completion import ShellComplete

from holdzero.cli import COMMANDS, STEPS, cli, kept, main
from holdzero.cli.examples import EXAMPLES
from in_process import run


@pytest.fixture
def terminal(monkeypatch, capsys):
    def run(*words):
        monkeypatch.setattr(sys, "argv", ["holdzero", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code, *capsys.readouterr()

    return run


@pytest.fixture(scope="module")
def demo_folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    assert run("demo", "--once", "--folder", str(folder)).returncode == 0
    (folder / "log.csv").write_text(
        "time,machine,axis,deviation_um,resolution_um\n"
        + "".join(f"2026-01-{day:02}T08:00,Plywood router,X,{day * 7 % 5 - 2},1\n" for day in range(1, 29))
    )
    variants = Path(__file__).parents[1] / "data" / "variants.toml"
    text = variants.read_text(encoding="utf-8")
    (folder / "variants.toml").write_text(text, encoding="utf-8")
    for name in (line.split('"')[1] for line in text.splitlines() if line.startswith("machine")):
        (folder / name).write_text((variants.parent / name).read_text(encoding="utf-8"), encoding="utf-8")
    return folder


@pytest.fixture
def settings(monkeypatch, tmp_path):
    path = tmp_path / "somewhere" / "settings.toml"
    monkeypatch.setenv("HOLDZERO_SETTINGS", str(path))
    return path


class TestWhere:
    """Units, book and folder: what is said comes first, then the environment, then the file."""

    def test_it_keeps_shows_and_forgets(self, terminal, settings, demo_folder, monkeypatch):
        book = f"book={demo_folder / 'demo.holdzero'}"
        status, out, _ = terminal("where", "--keep", "units=inch", "--keep", book, "--json")
        answer = json.loads(out)
        assert status == 0
        assert [(row["name"], row["value"]) for row in answer["settings"]][:2] == [
            ("units", "inch"),
            ("book", str((demo_folder / "demo.holdzero").resolve())),
        ]
        assert answer["settings"][0]["from"] == str(settings)
        monkeypatch.setenv("HOLDZERO_UNITS", "metric")
        assert json.loads(terminal("where", "--json")[1])["settings"][0]["from"] == "HOLDZERO_UNITS"
        terminal("where", "--keep", "book=")
        assert 'units = "inch"' in settings.read_text()
        assert "book" not in settings.read_text()
        assert "remembered" in terminal("where")[1]

    def test_a_command_without_a_source_asks_the_kept_book(self, terminal, settings, demo_folder):
        status, _, err = terminal("standing")
        assert (status, "keep a book with holdzero where --keep book=FILE" in err) == (2, True)
        terminal("where", "--keep", f"book={demo_folder / 'demo.holdzero'}")
        kept_book = json.loads(terminal("standing", "--json")[1])
        assert kept_book == json.loads(terminal("standing", demo_folder / "demo.holdzero", "--json")[1])
        assert kept.workshop() == demo_folder / "demo.holdzero"

    def test_units_are_those_kept_unless_said(self, terminal, settings, demo_folder):
        words = ("square", demo_folder / "measured.toml")
        metric = terminal(*words)[1]
        terminal("where", "--keep", "units=inch")
        assert terminal(*words)[1] == terminal(*words, "--units", "inch")[1] != metric
        assert terminal(*words, "--units", "metric")[1] == metric

    @pytest.mark.parametrize(
        ("entered", "words"),
        [
            ("units=furlong", "needed is metric or inch"),
            ("unit=inch", "did you mean units"),
            ("inch", "--keep units=inch"),
        ],
    )
    def test_slips(self, terminal, settings, entered, words):
        status, _, err = terminal("where", "--keep", entered)
        assert status == 2
        assert words in err
        assert not settings.exists()

    def test_a_file_that_is_no_settings_is_named(self, terminal, settings):
        settings.parent.mkdir()
        settings.write_text("units inch\n")
        status, _, err = terminal("where")
        assert status == 2
        assert str(settings) in err

    def test_the_file_lies_where_the_platform_keeps_settings(self, monkeypatch):
        monkeypatch.delenv("HOLDZERO_SETTINGS")
        assert kept.settings_file() == Path(click.get_app_dir("holdzero")) / "settings.toml"


def test_alone_it_lists_every_command_by_the_step_of_the_job():
    result = subprocess.run([sys.executable, "-m", "holdzero"], capture_output=True, text=True, check=True)
    listed = result.stdout
    assert [line.rstrip(":") for line in listed.splitlines() if line.rstrip(":") in STEPS] == list(STEPS)
    assert sorted(name for names in STEPS.values() for name in names) == sorted(COMMANDS)
    assert all(f"\n  {name} " in listed for name in COMMANDS)


class TestExamples:
    """Each help ends with examples; each is read as typed, and runs where it needs no instrument."""

    @pytest.mark.parametrize("line", [line for lines in EXAMPLES.values() for line in lines])
    def test_it_is_what_the_command_takes(self, line):
        name, *words = shlex.split(line)[1:]
        command = cli.get_command(click.Context(cli), name)
        while isinstance(command, click.Group):
            command = command.get_command(click.Context(command), words.pop(0))
        assert line in command.get_help(click.Context(command)) or name == "book"
        command.make_parser(click.Context(command)).parse_args(words)

    @pytest.mark.parametrize(
        "line",
        [
            line
            for name, lines in EXAMPLES.items()
            for line in lines
            if name not in ("demo", "listen", "capture", "open", "tally", "where") and " - " not in line
        ],
    )
    def test_it_runs(self, line, demo_folder, terminal, monkeypatch):
        monkeypatch.chdir(demo_folder)
        status, out, err = terminal(*shlex.split(line)[1:])
        assert status in (0, 1), err
        assert out

    def test_every_command_has_some(self):
        assert set(COMMANDS) == set(EXAMPLES)


def test_import_reads_standard_input():
    command = [sys.executable, "-m", "holdzero", "import", "-", "--unit", "um"]
    result = subprocess.run(command, input="Dial\n12\n14\n11\n", capture_output=True, text=True, check=True)
    assert "3 readings. Nothing is kept" in result.stdout


class TestCompletion:
    """A shell fills in commands, and the names that the files on the line hold."""

    def complete(self, *words):
        shell = ShellComplete(cli, {}, "holdzero", "_HOLDZERO_COMPLETE")
        *args, incomplete = map(str, words)
        return [item.value for item in shell.get_completions(list(args), incomplete)]

    def test_commands(self):
        assert self.complete("st") == ["study", "standing"]

    def test_axes_and_candidates_of_a_book(self, demo_folder):
        book = demo_folder / "demo.holdzero"
        assert self.complete("choose", book, "--axis", "") == ["Y", "X"]
        assert self.complete("choose", book, "--take", "k") == ["K"]
        assert self.complete("standing", book, "--machine", "") == ["Plywood router"]

    def test_axes_and_candidates_of_files(self, demo_folder):
        machine, sensors = demo_folder / "machine.toml", demo_folder / "sensors.toml"
        assert self.complete("travel", machine, "--axis", "") == ["Y", "X"]
        assert self.complete("budget", machine, "--sensors", sensors, "--sensor", "") == [
            "H",
            "J",
            "K",
            "M",
            "N",
            "P",
        ]

    def test_nothing_where_nothing_can_be_read(self, tmp_path):
        assert self.complete("travel", tmp_path / "none.toml", "--axis", "") == []
        assert self.complete("travel", "--axis", "") == []

    def test_a_shell_gets_its_script(self):
        environment = os.environ | {"_HOLDZERO_COMPLETE": "bash_source"}
        command = [
            sys.executable,
            "-c",
            "import sys; sys.argv[0] = 'holdzero'; from holdzero.cli import main; main()",
        ]
        script = subprocess.run(command, env=environment, capture_output=True, text=True, check=False).stdout
        assert "_HOLDZERO_COMPLETE=bash_complete" in script
