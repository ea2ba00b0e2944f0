"""`holdzero machine`: machine files to start from."""

import click

from holdzero.cli import show
from holdzero.inputs.machine.presets import PRESETS, preset
from holdzero.tell.blocks import Table


@click.command()
@click.argument("example", required=False, type=click.Choice(list(PRESETS)))
def command(example: str | None) -> int:
    """Machine files to start from: invented examples, to be filled with your own figures.

    Without a name they are listed; with one the file is printed, e.g. holdzero machine belt-axis > mine.toml
    """
    if example is None:
        show.page(Table("", ("example", "what it is"), tuple(PRESETS.items()), align="lw"))
    else:
        click.echo(preset(example), nl=False)
    return 0
