"""Demo book: the invented machine, its candidates and its trial in a book, marked as invented."""

from holdzero import demo
from holdzero.case.in_book import WATCH
from holdzero.form import EXAMPLE_KEY, read_toml
from holdzero.inputs.log import read_log
from holdzero.inputs.reading import read_readings
from holdzero.store import Book


def keep_demo(book: Book, *, fitted: bool = True) -> int:
    """Put the invented machine, its candidates and its trial in a book; returns the machine's id.

    `fitted`: with the chosen sensor wired, the gantry squared and fourteen months of check homings as well.
    """
    machine_id = book.add_machine(read_toml(demo.machine_toml()), remark=demo.INVENTED)
    for name, document in read_toml(demo.sensors_toml())["sensors"].items():
        book.add_sensor(machine_id, name, {**document, EXAMPLE_KEY: True})
    trial_id = book.add_trial(machine_id, name=demo.TRIAL, axis="Y", resolution=f"{demo.DISPLAY_MM:g} mm")
    book.import_readings(trial_id, read_readings(demo.readings_csv(), where="the demo"))
    if not fitted:
        return machine_id
    book.add_sheet(machine_id, "wiring", read_toml(demo.wiring_toml()))
    setup = read_toml(demo.square_toml())
    rounds = setup.pop("round")
    for sheet in ({"setup": setup}, *({"round": entered | {EXAMPLE_KEY: True}} for entered in rounds)):
        book.add_sheet(machine_id, "square", sheet)
    book.add_sheet(machine_id, WATCH, read_toml(demo.watch_toml()))
    book.add_log(machine_id, read_log([(demo.log_csv(), "the demo")]).entries, source="the demo")
    return machine_id
