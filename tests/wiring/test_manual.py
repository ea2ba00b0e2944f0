"""Every sensor kind x input kind x NO/NC is solved; tables and pictures of the manual are what came out.

Set HOLDZERO_WRITE_DOCS=1 to write them anew.
"""

import os
from pathlib import Path

from holdzero.chart import PRINT
from holdzero.chart.wiring import diagram
from holdzero.chart.wiring_bench import bench_tests
from holdzero.compute.wiring import assess_all, assess_many, circuits_from, read_wiring
from holdzero.compute.wiring.keys import WIRING_KEYS
from wiring_cases import INPUTS, OUTPUTS, every

MANUAL = Path(__file__).parents[2] / "docs" / "wiring.md"
EXAMPLE = {
    "name": "Y left home",
    "machine": "Plywood router",
    "axis": "Y",
    "side": "L",
    "supply": {"voltage": "24 V +- 10 %", "fuse": "1 A"},
    "sensor": {"output": "dry contact", "contact": "NC", "material": "gold"},
    "input": {"kind": "IEC 61131-2 type 3", "name": "IN3"},
    "cable": {"length": "10 m", "section": "0.25 mm2", "screened": True},
}
VERDICTS = ("works", "works, but", "does not work", "damage", "cannot say")


def solved():
    named = list(every())
    circuits = [circuit for _, one in named for circuit in circuits_from(one)]
    return {name: found for (name, _), found in zip(named, assess_many(circuits), strict=True)}


def cell(found) -> str:
    """Verdict, and what hides of the losses that must not."""
    lost = [row.fault for row in found.faults if row.hides_a_loss]
    if found.verdict != "works, but" or not lost:
        return found.verdict
    return f"{found.verdict}: {len(lost)} hide" if len(lost) > 2 else f"{found.verdict}: {', '.join(lost)}"


def table() -> str:
    found = solved()
    lines = ["| sensor | " + " | ".join(INPUTS) + " |", "|---|" + "---|" * len(INPUTS)]
    for output in OUTPUTS:
        for contact in ("NC", "NO"):
            cells = " | ".join(cell(found[output, one, contact]) for one in INPUTS)
            lines.append(f"| {output} {contact} | {cells} |")
    return "\n".join(lines)


def test_none_raises_and_every_verdict_is_one_of_the_five():
    found = solved()
    assert len(found) == len(OUTPUTS) * len(INPUTS) * 2
    for one in found.values():
        assert one.verdict in VERDICTS
        assert one.sentence
        assert {row.effect for row in one.faults} <= {"stops", "found at the next homing", "hides", "damage", None}
        assert {state.reads for state in (one.clear, one.tripped)} <= {"clear", "tripped", "undefined"}
        assert one.passes == (
            one.verdict in ("works", "works, but", "cannot say")
            and not one.misreads
            and not any(row.hides_a_loss for row in one.faults)
        )


def test_what_is_made_for_each_other_reads_right_and_what_is_not_does_not():
    """NPN sinks, PNP sources: with the other kind of input the two states look alike."""
    found = solved()
    for contact in ("NO", "NC"):
        for output, right, wrong in (
            ("NPN", "opto, common plus", "opto, common minus"),
            ("PNP", "opto, common minus", "opto, common plus"),
            ("NPN", "5 V pull-up", "IEC type 3"),
            ("PNP", "IEC type 3", "5 V pull-up"),
        ):
            assert not found[output, right, contact].misreads
            assert found[output, wrong, contact].misreads or found[output, wrong, contact].verdict == "damage"


def test_remedies_never_raise_and_never_make_it_worse():
    circuits = [circuit for (_, _, contact), one in every() if contact == "NC" for circuit in circuits_from(one)]
    rank = {"damage": 0, "does not work": 1, "cannot say": 2, "works, but": 3, "works": 4}
    for found in assess_all(circuits):
        for remedy in found.remedies:
            assert rank[remedy.verdict] >= max(rank[found.verdict], 3)
        if found.verdict in ("damage", "does not work"):
            assert found.remedies, (found.sentence, found.circuit.sensors[0].output, found.circuit.input)


def keys_table() -> str:
    """Every key a file may say, from the tables that read it."""
    names = {
        "": "At the top",
        "supply": "[supply]",
        "sensor": "[sensor], or several [[sensor]]",
        "chain": "[chain]",
    }
    parts = []
    for table_name, keys in WIRING_KEYS.items():
        parts += [
            f"**{names.get(table_name, f'[{table_name}]')}**",
            "",
            "| key | says | for example |",
            "|---|---|---|",
        ]
        for key in keys:
            example = " / ".join(key.choices) if key.choices else key.example
            parts.append(f"| `{key.name}` | {key.meaning} | {example} |")
        parts.append("")
    return "\n".join(parts).strip()


BLOCKS = {"combinations": table, "keys": keys_table}
PICTURES = {
    "wiring-example.svg": lambda: diagram(assess_many(circuits_from(EXAMPLE))[0], day="").svg(PRINT),
    "wiring-unknown.svg": lambda: bench_tests().svg(PRINT),
}


def test_the_manual_shows_what_came_out():
    text = MANUAL.read_text(encoding="utf-8")
    for name, make in BLOCKS.items():
        start, end = f"<!-- {name}: made by tests/wiring/test_manual.py -->", f"<!-- end of {name} -->"
        head, _, rest = text.partition(start)
        text = f"{head}{start}\n\n{make()}\n\n{end}{rest.partition(end)[2]}"
    _same(MANUAL, text)


def test_the_pictures_of_the_manual_are_drawn_by_this_code():
    for name, make in PICTURES.items():
        _same(MANUAL.parent / "pictures" / name, make())


def test_the_example_of_the_manual_is_read_as_it_stands():
    """The file shown in the manual is the one that is drawn, and its verdict is quoted."""
    text = MANUAL.read_text(encoding="utf-8")
    shown = text.partition("```toml\n")[2].partition("```")[0]
    (circuit,) = read_wiring(shown)
    assert circuit == circuits_from(EXAMPLE)[0]
    assert assess_many([circuit])[0].sentence in text


def _same(path: Path, wanted: str) -> None:
    if os.environ.get("HOLDZERO_WRITE_DOCS") == "1":
        path.parent.mkdir(exist_ok=True)
        path.write_text(wanted, encoding="utf-8")
    assert path.read_text(encoding="utf-8") == wanted
