"""`holdzero sweep`: the budget and travel of many variants of a machine."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import click

from holdzero import __version__
from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.files import STDIN, read_text
from holdzero.cli.options import json_too, not_with, units_too
from holdzero.cli.progress import progress
from holdzero.cli.source import holds_all, machine_of, opened
from holdzero.compute.design import Row, Task, read_sweep, reckon, run, tasks
from holdzero.inputs.sensor import Sensor, read_sensors
from holdzero.quantity import System


@click.command()
@click.argument("variants")
@click.option("--workers", type=click.IntRange(1), help="Threads on this computer; by default one a core.")
@click.option("--cluster", metavar="ADDRESS", help="Address of a Dask scheduler to send the variants to.")
@units_too
@depth_too
@json_too
def command(variants: str, workers: int | None, cluster: str | None, units: System, json_wanted: bool) -> int:
    """The budget and travel of many variants of a machine.

    VARIANTS is a TOML file that names a machine file, or a book, beside it and lists what to vary. The answer is
    the same on one core, on all of them and on a cluster.
    """
    not_with("--cluster", cluster is not None, "workers")
    text, where = read_text(variants)
    asked = read_sweep(text, where=where)
    beside = Path() if variants == STDIN else Path(variants).parent
    named = str(beside / asked.machine_file)
    sensors: Sequence[Sensor] = ()
    if holds_all(named):
        with opened(named, {}) as of:
            machine, sensors = of.case.machine, of.case.sensors
    else:
        machine = machine_of(named)
    if asked.sensors_file:
        text, sensors_file = read_text(str(beside / asked.sensors_file))
        sensors = read_sensors(text, where=sensors_file)
    made = tasks(asked, machine, sensors, where=where, system=units)
    with progress(len(made), "Variants", quiet=json_wanted) as advance:
        rows = []
        for row in _on_cluster(made, cluster) if cluster is not None else run(made, workers=workers):
            rows.append(row)
            advance(1)
    if json_wanted:
        show.as_json({"version": __version__, "seed": asked.seed, "variants": [row.as_json() for row in rows]})
    else:
        from holdzero.tell.sweep import tell_sweep  # who wants JSON never waits for the wording

        print_answer(tell_sweep(rows, system=units))
    return 0


def _on_cluster(made: Sequence[Task], address: str) -> Iterator[Row]:
    """Reckon the variants on a Dask cluster; rows come in the order asked for."""
    from holdzero.case.cluster import cluster_client  # who stays here never waits for it

    with cluster_client(address) as client:
        for future in client.map(reckon, made, pure=False):
            row: Row = future.result()
            yield row
