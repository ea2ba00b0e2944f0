"""Complete: names a shell fills in, candidates, axes and machines, out of the files already on the line."""

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

import click
from click.shell_completion import CompletionItem

from holdzero.errors import HoldzeroError
from holdzero.files import is_book, read_readings_text, read_text

if TYPE_CHECKING:
    from holdzero.store import Book


class NameOnTheLine(click.ParamType[str]):
    """A name that a book or a file on the line holds.

    Parameters
    ----------
    kind : {"axis", "sensor", "machine"}
        What is named.
    """

    def __init__(self, kind: str) -> None:
        self.name = kind

    def get_metavar(self, param: click.Parameter, ctx: click.Context | None = None) -> str:
        """As it stands in the help."""
        return "NAME"

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        """Return the names that begin like this; none where no file can be read yet."""
        try:
            names = list(dict.fromkeys(_names(self.name, ctx)))
        except HoldzeroError:
            names = []  # the command itself says what is wrong with the file
        return [CompletionItem(name) for name in names if name.casefold().startswith(incomplete.casefold())]


def _names(kind: str, ctx: click.Context) -> Iterator[str]:
    arguments = [argument.name or "" for argument in ctx.command.params if isinstance(argument, click.Argument)]
    params = dict(zip(arguments, ctx.args, strict=False))  # an option that lacks its value leaves them unread
    params |= {name: value for name, value in ctx.params.items() if isinstance(value, str) and value}
    source = params.get("source")
    if source and is_book(source):
        from holdzero.store import open_book

        with open_book(source, create=False) as book:
            yield from _of_book(kind, book, params)
        return
    if kind == "axis":
        from holdzero.inputs.machine import read_machine

        of_machine = params.get("machine") or source
        if of_machine:
            text, where = read_text(of_machine)
            yield from (axis.name for axis in read_machine(text, where=where).axes)
    elif kind == "sensor" and "sensors" in params:
        from holdzero.inputs.sensor import read_sensors

        text, where = read_text(params["sensors"])
        yield from (sensor.name for sensor in read_sensors(text, where=where))
    elif kind == "sensor" and "readings" in params:
        from holdzero.inputs.reading import read_readings

        text, where, _ = read_readings_text(params["readings"])
        yield from (group.sensor for group in read_readings(text, where=where).groups)


def _of_book(kind: str, book: "Book", params: dict[str, str]) -> Iterable[str]:
    machines = book.machines()
    if kind == "machine":
        return [machine.machine.name for machine in machines]
    meant = [machine for machine in machines if params.get("machine") in (None, machine.machine.name)]
    if kind == "axis":
        return [axis.name for machine in meant for axis in machine.machine.axes]
    return [sensor.sensor.name for machine in meant for sensor in book.sensors(machine.id)]


def names_on_the_line(command: click.Command) -> None:
    """Let a shell fill in the names that a command's options take."""
    kinds = {"axis": "axis", "sensor": "sensor", "take": "sensor"}
    for option in command.params:
        if isinstance(option, click.Option) and option.type is click.STRING:
            if option.name in kinds:
                option.type = NameOnTheLine(kinds[option.name])
            elif option.name == "machine" and "NAME" in (option.metavar or ""):
                option.type = NameOnTheLine("machine")
