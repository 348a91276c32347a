"""Every page, declared for one workbench."""

from __future__ import annotations

from fastapi import Request, Response
from nicegui import Client, app
from nicegui.page import page

from wellheard.web.pages import catalogue, compare, design, documents, plans, prove, rooms, survey
from wellheard.web.shell import not_found
from wellheard.web.workbench import Workbench


def pages(workbench: Workbench) -> None:
    """Declare all pages; those of a workbench before are forgotten by a fresh application."""
    for module in (rooms, design, survey, catalogue, compare, documents, plans, prove):
        module.register(workbench)

    @app.exception_handler(404)
    async def nothing_here(request: Request, error: Exception) -> Response:
        with Client(page(""), request=request) as client:
            not_found(getattr(error, "detail", ""))
        return client.build_response(request, 404)
