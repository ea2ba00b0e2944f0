"""Answer: what a station answers, as a section of a document."""

from dataclasses import replace

from holdzero.tell.blocks import Answer, Block, Note, Section


def answer_section(
    heading: str, answer: Answer, *, pictures: bool = True, overview: bool = True, explained: bool = True
) -> Section:
    """Return the answer of a station: headline, why, cautions, what to do, the table; then the rest.

    Parameters
    ----------
    heading : str
        Of the section.
    answer : Answer
        What the station answers.
    pictures : bool
        Whether its first pictures come along.
    overview : bool
        Whether its table comes along; not where the sections below have every row of it.
    explained : bool
        Whether what its figures mean comes along; not where another section has it.
    """
    blocks: list[Block] = [answer.headline, *answer.lead, *(Note(caution) for caution in answer.before)]
    if answer.to_do.items:
        blocks.append(answer.to_do)
    if pictures and answer.pictures is not None:
        blocks.append(answer.pictures)
    if overview and answer.table is not None:
        blocks.append(answer.table)
    above = (answer.headline, *answer.lead)
    below = (_without(section, above) for section in answer.more)
    return Section(heading, tuple(blocks), (*below, *(answer.explained if explained else ())))


def _without(section: Section, above: tuple[str, ...]) -> Section:
    """Leave out sentences that stand above already, as those of one axis do where there is no other."""
    return replace(section, blocks=tuple(block for block in section.blocks if block not in above))
