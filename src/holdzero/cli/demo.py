"""`holdzero demo`: the invented trial, from readings to record, with the commands a person would use."""

from pathlib import Path

import click

from holdzero import demo
from holdzero.cli import choose, record, study, watch


@click.command()
@click.option(
    "--folder",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("holdzero-demo"),
    show_default=True,
    help="Where the demo's files, record and book are written.",
)
@click.option("--once", is_flag=True, help="End after printing and writing; do not serve the pages.")
@click.option("--port", type=click.IntRange(1, 65535), help="Where to listen; by default 8047 or any free one.")
@click.option("--no-browser", is_flag=True, help="Do not open a browser.")
@click.pass_context
def command(context: click.Context, folder: Path, once: bool, port: int | None, no_browser: bool) -> int:
    """Try holdzero on an invented trial: six sensors on a gantry with two motors.

    Prints what the homings say and which sensor to choose, writes the record as PDF and HTML, then
    shows the same in a browser, on this computer only.
    """
    folder.mkdir(parents=True, exist_ok=True)
    files = {
        "machine.toml": demo.machine_toml(),
        "sensors.toml": demo.sensors_toml(),
        "readings.csv": demo.readings_csv(),
        "wiring.toml": demo.wiring_toml(),
        "measured.toml": demo.square_toml(),
        "log.csv": demo.log_csv(),
    }
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    machine, sensors, readings, wiring, measured, log = (str(folder / name) for name in files)
    as_read = {"source": readings, "resolution": None, "step": None, "protocol": None}
    asked = {"machine": machine, "sensors": sensors, "axis": None}

    click.echo(demo.INVENTED)
    _show_line(f"holdzero study --machine {machine} {readings}")
    context.invoke(study.command, **as_read, machine=machine, json_wanted=False)
    _show_line(f"holdzero choose --machine {machine} --sensors {sensors} {readings}")
    context.invoke(choose.command, **asked, source=readings)
    outputs = tuple(str(folder / f"record.{ending}") for ending in ("pdf", "html"))
    _show_line(
        f"holdzero record --machine {machine} --sensors {sensors} --wiring {wiring} --square {measured} "
        f"{readings} -o {outputs[0]} -o {outputs[1]}"
    )
    context.invoke(record.command, **asked, source=readings, wiring=wiring, square=measured, outputs=outputs)
    _show_line(f"holdzero watch {log} --machine {machine} --baseline {demo.BASELINE}")
    context.invoke(watch.command, sources=(log,), machine=machine, baseline=demo.BASELINE)
    book = folder / "demo.holdzero"
    _make_book(book)
    _show_line(f"holdzero open {book}")
    if not once:
        from holdzero.store import open_book
        from holdzero.web.serve import serve

        with open_book(book) as opened:
            serve(opened, port=port, browser=not no_browser, say=click.echo)
    return 0


def _show_line(line: str) -> None:
    click.echo(f"\n$ {line}\n")


def _make_book(path: Path) -> None:
    """Put the demo in a book of its own; a book that is there already keeps what was changed in it."""
    from holdzero.case.demo_book import keep_demo
    from holdzero.store import open_book

    with open_book(path) as book:
        if not book.machines():
            keep_demo(book)
