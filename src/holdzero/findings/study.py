"""Study: the findings of every candidate in a readings file."""

from holdzero.findings.find import find, find_in
from holdzero.findings.pairs import difference
from holdzero.findings.values import Findings, Study
from holdzero.reading.values import Readings


def study(readings: Readings) -> Study:
    """Work out the figures of every sensor, axis and side.

    Parameters
    ----------
    readings : Readings
        A whole file.

    Returns
    -------
    Study
        In the order of the file; where both sides were read at the same homings, the difference R minus L
        follows the second of them. [mm]
    """
    findings: list[Findings] = []
    for homings in readings.groups:
        found = find(homings)
        findings.append(found)
        other = {"L": "R", "R": "L"}.get(found.side)
        for mate in findings[:-1]:
            if (mate.sensor, mate.axis, mate.side) == (found.sensor, found.axis, other):
                left, right = (mate, found) if found.side == "R" else (found, mate)
                pairs = difference(left, right)
                findings += [find_in(pairs)] if pairs else []
                break
    return Study(findings=tuple(findings), notes=readings.notes, digest=readings.digest)
