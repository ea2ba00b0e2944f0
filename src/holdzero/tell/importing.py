"""Importing: what each column of a table of readings is taken for, what is left out, and what came of it."""

from holdzero.inputs.importing import GridPlan, Preview, TakenReadings
from holdzero.tell.blocks import Answer, Points, Section, Table

MEANING = (
    (
        "What a column is, is told by its heading or else by what stands in it; --column and --unit say it "
        "otherwise. A unit stands in the heading: in brackets, behind a comma, or behind an underscore."
    ),
    "Lines without a number and lines that look like a summary are left out, each with its reason.",
)
SHOWN = 3  # cells of a column


def tell_import(seen: Preview | None, choice: GridPlan, taken: TakenReadings, *, came: str) -> Answer:
    """Tell what a table of readings was taken for.

    Parameters
    ----------
    seen : Preview or None
        Its columns; None of a file of spans, where every column is what its heading says.
    choice : GridPlan
        What each is taken for.
    taken : TakenReadings
        The readings, with what was left out.
    came : str
        What came of them, in one sentence.
    """
    columns = seen.columns if seen else ()
    left = tuple(left_out.sentence for left_out in taken.left_out)
    head = ("Column", "Heading", "Taken as", "Unit", "First cells")
    rows = tuple(
        (
            str(column.index + 1),
            column.heading,
            choice.columns.get(column.index, "–"),
            choice.units.get(choice.columns.get(column.index, ""), ""),
            " | ".join(column.sample[:SHOWN]),
        )
        for column in columns
    )
    why = tuple(
        f"{column.heading or f'Column {column.index + 1}'}: {column.why}." for column in columns if column.why
    )
    return Answer(
        headline=came,
        lead=(*(seen.notes if seen else ()), *taken.notes),
        to_do=Points(left, title="Left out"),
        table=Table("What each column is taken for", head, rows, align="lwllw") if rows else None,
        more=(Section("Why", (Points(why),)),) if why else (),
        explained=(Section("How a table is read", MEANING),),
    )
