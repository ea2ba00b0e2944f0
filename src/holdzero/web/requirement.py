"""Requirement: what is asked of the machine, as a form of its own that several pages carry."""

from collections.abc import Mapping
from typing import Any

from holdzero.inputs.machine import REQUIREMENT_KEYS
from holdzero.quantity import System
from holdzero.web import forms
from holdzero.web.forms import Field, FormTexts

PREFIX = "requirement."


def fields(document: Mapping[str, Any], system: System, texts: FormTexts | None = None) -> list[Field]:
    """Return the fields, as kept in a machine's document or as typed now."""
    entered = document.get("requirement", {})
    return forms.fields(REQUIREMENT_KEYS, entered, system=system, prefix=PREFIX, texts=texts)


def with_texts(document: Mapping[str, Any], texts: FormTexts, system: System) -> dict[str, Any]:
    """Return the machine's document with what was typed now."""
    now = forms.kept(REQUIREMENT_KEYS, texts, system=system, prefix=PREFIX)
    return {**document, "requirement": forms.merged(document.get("requirement", {}), REQUIREMENT_KEYS, now)}
