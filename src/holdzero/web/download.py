"""Download: a document to save, named as it is; where no PDF can be had, the page that prints the same."""

from fastapi import Response

from holdzero.report.printed import Printed


def attached(made: bytes | str, name: str, media_type: str) -> Response:
    """Return a file to save under `name`."""
    return Response(made, media_type=media_type, headers={"content-disposition": f'attachment; filename="{name}"'})


def download(document: Printed, name: str) -> Response:
    """Return a document as a file to save, under `name` and its ending."""
    return attached(document.made, f"{name}.{document.ending}", document.media_type)
