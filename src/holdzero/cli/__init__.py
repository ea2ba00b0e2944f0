"""The terminal: each command fetches, computes and shows.

Commands are imported when they are called, so that `holdzero --help` starts at once.
"""

import gc
import importlib
import os
import sys
from functools import cache
from typing import TYPE_CHECKING

import click

from holdzero import __version__
from holdzero.errors import HoldzeroError

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

COMMANDS = {  # name: (module that holds `command`, one line for the list), in the order of the job
    "demo": ("holdzero.cli.demo", "Try it on an invented trial: six sensors on a two-motor gantry"),
    "study": ("holdzero.cli.study", "What the homings of each candidate say"),
    "choose": ("holdzero.cli.choose", "Which candidate holds, and the cheapest that does"),
    "standing": ("holdzero.cli.standing", "Does it hold zero, does it stop in time, and what is next"),
    "machine": ("holdzero.cli.machine", "Machine files to start from"),
    "keys": ("holdzero.cli.keys", "What a file or a form may say: every key, its unit and an example"),
    "wiring": ("holdzero.cli.wiring", "What the controller sees of a switch, whole and with every fault"),
    "travel": ("holdzero.cli.travel", "Whether each axis stops where there is still room"),
    "plan": (
        "holdzero.cli.plan",
        "How many homings over how many power-ups, in which order, with a sheet to print",
    ),
    "budget": ("holdzero.cli.budget", "What home position is made of, and which part matters"),
    "sweep": ("holdzero.cli.sweep", "The budget and travel of many variants of a machine"),
    "square": ("holdzero.cli.square", "Which side of a gantry moves, which way, by how much"),
    "install": ("holdzero.cli.install", "What to set on each axis, in order, and what to test"),
    "record": ("holdzero.cli.record", "The record to print, sign and keep with the machine"),
    "log": ("holdzero.cli.log", "Check homings of a machine in use, into its book"),
    "watch": ("holdzero.cli.watch", "Whether the machine still homes where it did, from a log of check homings"),
    "fleet": ("holdzero.cli.fleet", "Which of many machines needs a look, from their logs in place"),
    "listen": ("holdzero.cli.listen", "Readings from an indicator on a serial port"),
    "capture": ("holdzero.cli.capture", "Hundreds of homings from a logic analyser's file"),
    "tally": ("holdzero.cli.tally", "A long run without an analyser, from a counter board"),
    "import": ("holdzero.cli.import_", "Readings from a table: CSV, text or XLSX"),
    "book": ("holdzero.cli.book", "Files into a book and out of it; check, back up, rescue, export"),
    "open": ("holdzero.cli.open", "The book in a browser: on this computer, with a phone, or for a club"),
    "people": ("holdzero.cli.people", "Who may sign in where a book is open to a network"),
    "manual": ("holdzero.cli.manual", "The manual in a browser: first machine, how-to, keys, methods, words"),
    "where": ("holdzero.cli.where", "What is remembered between commands, and where everything lies"),
}
ONE_CORE = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")  # of matrix products
STEPS = {  # of the job, and the commands for each
    "Begin": ("demo", "open", "manual", "machine", "keys", "where"),
    "Before a trial": ("wiring", "travel", "budget", "sweep", "plan"),
    "The trial": ("listen", "capture", "tally", "import"),
    "Decide": ("study", "choose"),
    "Install and square": ("install", "square"),
    "Prove": ("standing", "record"),
    "Keep watch": ("log", "watch", "fleet"),
    "The book itself": ("book", "people"),
}


class Lazy(click.Group):
    """A group whose commands are imported only when called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of the job."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(COMMANDS[cmd_name][0]).command
        _beside(cmd_name, command)
        if not gc.isenabled():  # see `main`
            _set_aside()
            gc.enable()
        return command

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list["CompletionItem"]:
        """Name the commands without importing them."""
        from click.shell_completion import CompletionItem

        commands = [
            CompletionItem(name, help=line) for name, (_, line) in COMMANDS.items() if name.startswith(incomplete)
        ]
        options = click.Command.shell_complete(self, ctx, incomplete)  # a group's own would import every command
        return [*commands, *options]

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Name what was probably meant where there is no such command."""
        if args[0] not in COMMANDS:
            from difflib import get_close_matches

            near = "".join(f" Did you mean {name}?" for name in get_close_matches(args[0], COMMANDS, n=1))
            ctx.fail(f"No such command: {args[0]}.{near}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands by the step of the job, without importing them."""
        widest = max(map(len, COMMANDS))
        for step, names in STEPS.items():
            with formatter.section(step):
                formatter.write_dl([(name.ljust(widest), COMMANDS[name][1]) for name in names])


@cache
def _set_aside() -> None:
    """Leave what is loaded alone, once: it is the program's and stays; what a later command finds may not."""
    gc.freeze()


def _beside(name: str, command: click.Command) -> None:
    """Put beside a command what all have alike: examples, names a shell fills in, the book that is remembered."""
    from holdzero.cli import kept
    from holdzero.cli.complete import names_on_the_line
    from holdzero.cli.examples import EXAMPLES

    if lines := EXAMPLES.get(name):
        command.epilog = "\n".join(["\b", "Examples:", *(f"  {line}" for line in lines)])
    names_on_the_line(command)
    for parameter in command.params:
        if isinstance(parameter, click.Argument) and parameter.name == "source" and parameter.required:
            parameter.required, parameter.default = False, kept.book


@click.group(cls=Lazy, invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="holdzero")
@click.pass_context
def cli(context: click.Context) -> None:
    """Does this machine hold zero?

    Home switches of a CNC machine: chosen, tried, proved and watched. `holdzero COMMAND --help` has examples,
    `holdzero manual` explains.
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


def main() -> None:
    """Run the command line.

    A command returns its exit status (None is 0); bad input ends with status 2 and one line on
    standard error that says what was found, what is needed and what to do.
    """
    for name in ONE_CORE:  # ours are small: a second core that waits for them costs twice what it saves
        os.environ.setdefault(name, "1")
    gc.disable()  # what a command loads stays: looking through it again and again costs a fifth of the start
    try:
        status = cli.main(standalone_mode=False)
    except HoldzeroError as error:
        click.echo(f"holdzero: {error}", err=True)
        sys.exit(2)
    except OSError as error:  # of a name that is too long, say, or a drive that went
        name = f"{' '.join(str(error.filename).splitlines())[:200]}: " if error.filename else ""
        fault = (error.strerror or str(error)).lower()
        need = "a file or folder that can be used; check the name, the folder and the drive"
        click.echo(f"holdzero: {name}found {fault}; needed is {need}.", err=True)
        sys.exit(2)
    except click.exceptions.Abort:
        sys.exit(130)
    except click.ClickException as error:
        click.echo(f"holdzero: {error.format_message()}", err=True)
        sys.exit(2)
    finally:
        gc.enable()
    sys.exit(status or 0)
