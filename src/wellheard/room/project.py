"""Whose room this is, and where it stands."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema

from wellheard.forms.fields import Date, Frozen, Label, Line, refuse, shown


def _currency(value: Any) -> str:
    if not isinstance(value, str) or not (len(value) == 3 and value.isascii() and value.isupper()):
        refuse(f"{shown(value)} is no currency", "three capital letters, as in EUR")
    return value


Currency = Annotated[
    str, BeforeValidator(_currency), WithJsonSchema({"type": "string", "pattern": "^[A-Z]{3}$"})
]


class Project(Frozen):
    """What the title block says."""

    number: Label = ""
    revision: Label = ""
    client: Line = ""
    site: Line = ""
    author: Line = ""
    date: Date | None = None
    currency: Currency = Field(default="EUR", description="Of every price in the document")


class Site(Frozen):
    """What decides cable jackets, mains and bracing; ``unknown`` is not assessed."""

    region: Label = "unknown"
    seismic: Label = "unknown"
