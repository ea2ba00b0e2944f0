"""Layout: wrapped at words, never through a figure, never over the width; what does not fit is counted."""

from functools import partial

import click
from hypothesis import given
from hypothesis import strategies as st

from holdzero.cli.layout import full, short
from holdzero.tell.blocks import Answer, Note, Points, Section, SectionsWorded, Table

WORDS = st.sampled_from(["the", "home", "switch", "12\u202fmm", "reads", "tripped"])
SENTENCES = st.lists(WORDS, min_size=1, max_size=30).map(" ".join)
ROWS = st.tuples(SENTENCES, st.integers(0, 10**6))


def plain(lines: list[str]) -> list[str]:
    return [click.unstyle(line) for line in lines]


@given(SENTENCES, st.lists(SENTENCES, max_size=12), st.lists(ROWS, max_size=40))
def test_a_screen_is_never_left(headline, steps, rows):
    table = Table("", ("Check", "Room"), tuple((name, f"{room}\u202fµm") for name, room in rows), align="wr")
    answer = Answer(
        headline=headline, to_do=Points(tuple(steps)), table=table, more=(Section("More", (Note("Mind it."),)),)
    )
    lines = plain(short(answer, width=80, lines=40))
    assert max(map(len, lines)) <= 80
    assert len(lines) <= 40
    everything = plain(full(answer, width=80))
    assert max(map(len, everything)) <= 80
    figures = {part for line in everything for part in line.split(" ") if "\u202f" in part}
    assert {f"{room}\u202fµm" for _, room in rows} <= figures


def test_what_does_not_fit_is_counted():
    answer = Answer(
        headline="Three checks fail.",
        to_do=Points(tuple(f"Mend number {number}." for number in range(20))),
        table=Table("", ("Check", "So it"), (("one", "✓ fits"),) * 30, align="ll"),
    )
    lines = plain(short(answer, width=80, lines=24))
    assert len(lines) <= 24
    shown_steps = sum(line.startswith("– ") for line in lines)
    shown_rows = sum(line.endswith("✓ fits") for line in lines)
    counted = [line for line in lines if line.startswith("  … ")]
    assert counted == [f"  … {20 - shown_steps} more points: --full", f"  … {30 - shown_rows} more rows: --full"]
    assert shown_steps >= 1
    assert shown_rows >= 5


def test_a_thousand_sections_are_put_in_words_only_when_asked_for():
    worded = []

    def section(number: int) -> Section:
        worded.append(number)
        return Section(f"Machine {number}", (Note("Mind it."),))

    more = SectionsWorded(tuple(partial(section, number) for number in range(1000)))
    rows = tuple((f"machine {number}", "✓ fits") for number in range(1000))
    answer = Answer(headline="In limits.", table=Table("", ("Machine", "So it"), rows, align="ll"), more=more)
    lines = plain(short(answer, width=80, lines=24))
    assert worded == []
    assert lines[-3:] == [f"  … {1000 - (len(lines) - 6)} more rows: --full", "", "Everything else: --full."]
    assert plain(full(answer, width=80)).count("▲ Mind it.") == 1000
    assert worded == [*range(1000)]
