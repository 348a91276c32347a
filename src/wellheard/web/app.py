"""The workbench as one application: pages, what their scripts ask for, and the guard before all."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib import resources
from pathlib import Path
from xml.etree import ElementTree

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from fastapi.staticfiles import StaticFiles
from nicegui import app as framework
from nicegui import ui
from nicegui.storage import Storage

from wellheard.web import answers, api, register
from wellheard.web.guard import Guard, guarded
from wellheard.web.sessions import own_folder
from wellheard.web.workbench import Workbench

STATIC = Path(__file__).parent / "static"


def build(folder: Path, *, token: str, port: int) -> Guard:
    """The workbench for one folder, behind its guard: what ``wellheard serve`` serves.

    Parameters
    ----------
    folder : path
        Of room documents.
    token : str
        Opens the workbench, once it is named in the address.
    port : int
        On which it is served.

    Raises
    ------
    InputError
        The folder is none, or cannot be written to.
    """
    # The page framework would keep a folder of its own wherever it was started.
    Storage.path = own_folder(folder) / "pages"
    framework.storage = Storage()
    return guarded(site(Workbench(folder)), folder, token=token, port=port)


def site(workbench: Workbench) -> FastAPI:
    """Every page and route of the workbench, without a guard.

    Parameters
    ----------
    workbench : Workbench
        Closed when the application stops.
    """
    application = routes(workbench)
    register.pages(workbench)
    ui.run_with(
        application,
        title="Wellheard",
        favicon=STATIC / "mark.svg",
        tailwind=False,
        show_welcome_message=False,
        reconnect_timeout=20.0,
    )
    return application


def routes(workbench: Workbench) -> FastAPI:
    """What pages ask for, without the pages."""

    @asynccontextmanager
    async def open_until_stopped(_: FastAPI) -> AsyncIterator[None]:
        yield
        workbench.close()

    application = FastAPI(
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        lifespan=open_until_stopped,
        exception_handlers={RequestValidationError: answers.not_understood},
    )
    application.include_router(api.router(workbench))
    application.add_api_route("/static/symbols.json", symbols)
    fonts = Path(str(resources.files("wellheard.data").joinpath("fonts")))
    application.mount("/static/fonts", StaticFiles(directory=fonts))
    application.mount("/static", StaticFiles(directory=STATIC))
    return application


def symbols() -> Response:
    """The plan symbols: by name a list of SVG elements, each with its tag and attributes."""
    text = resources.files("wellheard.data").joinpath("look/symbols.svg").read_text("utf-8")
    svg = "{http://www.w3.org/2000/svg}"
    found = {
        symbol.attrib["id"]: [
            {"tag": part.tag.removeprefix(svg), "attrs": dict(part.attrib)}
            for part in symbol
            if part.tag != f"{svg}title"
        ]
        for symbol in ElementTree.fromstring(text).iter(f"{svg}symbol")
    }
    return Response(json.dumps(found), media_type="application/json")
