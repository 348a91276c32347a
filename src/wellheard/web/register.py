"""Every page, declared for one workbench."""

from __future__ import annotations

from wellheard.web.pages import catalogue, compare, design, documents, rooms, survey
from wellheard.web.workbench import Workbench


def pages(workbench: Workbench) -> None:
    """Declare all pages; those of a workbench before are forgotten by a fresh application."""
    for page in (rooms, design, survey, catalogue, compare, documents):
        page.register(workbench)
