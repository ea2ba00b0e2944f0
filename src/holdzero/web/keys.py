"""Keys: the page that lists every key, its unit, sign, meaning and an example."""

from fastapi import APIRouter, Response

from holdzero.report.key_reference import HEAD, key_groups
from holdzero.web.page import ThisPage

router = APIRouter()


@router.get("/keys")
@router.get("/keys.json")
def keys(page: ThisPage) -> Response:
    """Every key that a file or a form knows."""
    groups = key_groups()
    return page(
        "keys.html", data=lambda: {"groups": [group.as_json() for group in groups]}, groups=groups, columns=HEAD
    )
