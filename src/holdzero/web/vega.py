"""Vega: the script that brings charts to life, made once from the installed package.

No third-party code is in this repository: vl-convert carries it, and makes one module of it in about
a second. The module is kept in the user's cache folder under the version of vl-convert.
"""

import os
import sys
from importlib.metadata import version
from pathlib import Path
from tempfile import NamedTemporaryFile

import vl_convert

SNIPPET = "window.vegaEmbed = vegaEmbed;"


def bundle() -> Path:
    """Return the file that holds the module, made if it is not there yet."""
    kept = cache_folder() / f"vega-{version('vl-convert-python')}.js"
    if not kept.exists():
        kept.parent.mkdir(parents=True, exist_ok=True)
        with NamedTemporaryFile("w", dir=kept.parent, encoding="utf-8", delete=False) as part:
            part.write(vl_convert.javascript_bundle(SNIPPET))
        os.replace(part.name, kept)
    return kept


def cache_folder() -> Path:
    """Return the folder for what can be made again, by the custom of the operating system."""
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local")) / "holdzero" / "cache"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "holdzero"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "holdzero"
