"""Bringing in: a paste or a file through its preview, as a person does who finds it right."""

import re
from typing import Any
from urllib.parse import parse_qsl

from httpx import Response
from starlette.testclient import TestClient


def bring_in(client: TestClient, address: str, **sent: Any) -> Response:
    """Paste something or send a file, look at the preview, and bring it in as it stands."""
    seen = client.post(address, **sent)
    if "/import/" not in seen.url.path:
        return seen  # refused
    asked = {**dict(parse_qsl(seen.url.query.decode())), **form_of(seen.text), "do": "keep"}
    return client.post(seen.url.path, data=asked)


def form_of(page: str) -> dict[str, str]:
    """What the form of a preview holds as it stands."""
    form = page.partition('id="import-choice"')[2].partition("</form>")[0]
    held = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))
    for name, options in re.findall(r'<select id="[^"]*" name="([^"]+)"[^>]*>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options) or re.search(r'value="([^"]*)"', options)
        held[name] = chosen[1] if chosen else ""
    boxes = re.findall(r'<input type="checkbox" name="([^"]+)" value="([^"]*)" checked', form)
    return held | dict(boxes)
