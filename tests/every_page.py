"""Every page of one machine, and its JSON twin."""

SLUGS = (
    "machine",
    "sensors",
    "wiring",
    "travel",
    "trial",
    "findings",
    "choice",
    "square",
    "record",
    "plan",
    "noise",
    "budget",
    "install",
    "capture",
    "tally",
    "watch",
    "files",
)


def pages(machine_id: int, *, twins: bool = True) -> list[str]:
    """Return the addresses of every page."""
    endings = ("", ".json") if twins else ("",)
    return ["/", *(f"/machines/{machine_id}/{slug}{ending}" for slug in SLUGS for ending in endings)]
