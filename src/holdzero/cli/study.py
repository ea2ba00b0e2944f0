"""`holdzero study`: what the homings of each candidate say."""

from collections.abc import Sequence
from math import isfinite

import click

from holdzero.cli import show
from holdzero.cli.options import how_read, json_too, read_file_of_readings
from holdzero.findings import Findings, Study, as_json, study
from holdzero.quantity import column, fixed
from holdzero.signature import Signature


@click.command()
@click.argument("readings")
@how_read
@json_too
def command(
    readings: str, resolution: str | None, step: str | None, protocol: str | None, json_wanted: bool
) -> int:
    """What the homings of each candidate say.

    READINGS is a CSV file, or - for standard input.
    """
    taken = read_file_of_readings(readings, resolution=resolution, step=step, protocol=protocol)
    result = study(taken)
    if json_wanted:
        show.as_json(as_json(result))
    else:
        show.page(*blocks(result))
    return 0


def blocks(result: Study) -> list[show.Block]:
    """What a person sees: how much was read, the figures, then what to know before trusting them."""
    notes = show.Points("Notes", result.notes)
    return [_headline(result), *_figures(result), *_patterns(result), *_cautions(result), notes]


def _headline(result: Study) -> str:
    sides = [found for found in result.findings if found.side != "difference"]
    homings, sensors = sum(found.n for found in sides), len({found.sensor for found in sides})
    missed = sum(found.misses.count for found in sides)
    unsteady = [name(found) for found in result.findings if any(s.code == "not-steady" for s in found.signatures)]
    text = f"{homings} homing{'' if homings == 1 else 's'} of {sensors} candidate{'' if sensors == 1 else 's'}"
    text += f", {missed} of them plainly wrong" if missed else ""
    return text + (f"; not yet steady: {', '.join(unsteady)}." if unsteady else ".")


def _figures(result: Study) -> list[show.Block]:
    found = result.findings
    unit, decimals = _scale(found)

    def cell(value: float | None) -> str:
        return fixed(value, "length", unit=unit, decimals=decimals)[0] if value is None or isfinite(value) else "–"

    several = len({f.axis for f in found}) > 1
    rows = [
        (
            f.sensor or "–",
            *([f.axis or "–"] if several else []),
            {"difference": "R−L"}.get(f.side, f.side or "–"),
            str(f.n),
            str(f.sets),
            *map(cell, (f.mean_mm, f.span_mm, f.sd_mm, f.spread.middle)),
            *map(cell, (f.spread.low, f.spread.high) if f.posterior else (None, None)),
            *map(cell, (f.within.middle, f.between.middle if f.between else None)),
            f"{f.misses.count}/{f.misses.n}",
        )
        for f in found
    ]
    words = ("sensor", *(["axis"] if several else []), "side")
    figures = ("n", "sets", "mean", "span", "sd", "spread", "from", "to", "within", "between", "misses")
    where = "" if several or not found or not found[0].axis else f"Axis {found[0].axis}. "
    return [
        f"{where}Lengths in {unit}; spread from one power-up to another, with its 95 % limits.",
        show.Table((*words, *figures), rows, left=tuple(range(len(words)))),
    ]


def _scale(found: Sequence[Findings]) -> tuple[str, int]:
    """One unit and number of decimals for all lengths, so that they compare: those of the tightest spread."""
    sizes = [f.spread.middle or f.spread.high for f in found if f.posterior]
    if not sizes:
        return "mm", 4
    _, unit = column([min(sizes)], "length")
    return unit, 0 if len(fixed(min(sizes), "length", unit=unit, decimals=0)[0]) > 2 else 1


_HEADS = {
    "not-steady": "Not yet steady",
    "shape": "Scatter that does not look like a bell curve",
    "outlying": "Homings that stand apart",
    "wrong-protocol": "Readings that look as if taken another way than said",
}


def _patterns(result: Study) -> list[show.Block]:
    """Each kind of pattern once: where it shows, what it comes from, how to tell."""
    kinds: dict[str, list[tuple[str, Signature]]] = {}
    for found in result.findings:
        for signature in found.signatures:
            kinds.setdefault(signature.code, []).append((name(found), signature))
    return [
        show.Points(
            _HEADS.get(code, code.replace("-", " ").capitalize()),
            [
                *(f"{where}: {signature.sentence}" for where, signature in seen),
                *(
                    f"Likely, most likely first: {'; '.join(causes)}. {check}"
                    for causes, check in dict.fromkeys(
                        (signature.causes, signature.check) for _, signature in seen
                    )
                ),
            ],
        )
        for code, seen in kinds.items()
    ]


def _cautions(result: Study) -> list[show.Block]:
    """Each caution once, with the candidates it is about."""
    about: dict[str, list[str]] = {}
    for found in result.findings:
        for caution in found.cautions:
            about.setdefault(caution.text, []).append(name(found))
    everyone = len(result.findings)
    return [
        show.Points(
            "Before trusting these figures",
            [text if len(names) == everyone else f"{', '.join(names)}: {text}" for text, names in about.items()],
        )
    ]


def name(found: Findings) -> str:
    """What to call one series: "B left", "B right minus left"."""
    side = {"L": "left", "R": "right", "difference": "right minus left"}.get(found.side, "")
    return " ".join(word for word in (found.sensor, side) if word) or "These homings"
