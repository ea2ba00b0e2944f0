"""Download: a document to save, named as it is; where no PDF can be had, the page that prints the same."""

from fastapi import Response

from holdzero.report.printed import Printed


def download(document: Printed, name: str) -> Response:
    """Return a document as a file to save, under `name` and its ending."""
    disposition = f'attachment; filename="{name}.{document.ending}"'
    return Response(document.made, media_type=document.media_type, headers={"content-disposition": disposition})
