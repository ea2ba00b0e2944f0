"""Told: what a station answers, as a section of a document."""

from holdzero.tell.blocks import Block, Note, Section, Told


def told_section(heading: str, told: Told, *, pictures: bool = True) -> Section:
    """Return the answer of a station: headline, why, cautions, what to do, the table; then the rest.

    Parameters
    ----------
    heading : str
        Of the section.
    told : Told
        What the station answers.
    pictures : bool
        Whether its first pictures come along.
    """
    blocks: list[Block] = [told.headline, *told.lead, *(Note(caution) for caution in told.before)]
    if told.to_do.items:
        blocks.append(told.to_do)
    if pictures and told.pictures is not None:
        blocks.append(told.pictures)
    if told.table is not None:
        blocks.append(told.table)
    return Section(heading, tuple(blocks), (*told.more, *told.explained))
