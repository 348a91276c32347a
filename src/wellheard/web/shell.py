"""What every page has round it: the top line, the sheet's colours, the unit one reads in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Literal, TypeAlias
from urllib.parse import quote

from fastapi import HTTPException, Request
from nicegui import ui
from nicegui.element import Element

from wellheard import __version__
from wellheard.errors import InputError
from wellheard.units import Unit
from wellheard.web.elements import tag
from wellheard.web.workbench import Workbench
from wellheard.workflow.desk import Desk

Stage: TypeAlias = Literal["", "survey", "design", "documents", "prove"]

STAGES: tuple[tuple[Stage, str, str], ...] = (
    ("survey", "Survey", "/survey"),
    ("design", "Design", ""),
    ("documents", "Hand over", "/documents"),
    ("prove", "Prove", "/prove"),
)
"""Parts of the work on one room: word and end of its address."""

PATIENCE = 20.0
"""How long a page of a room may take to be made: its document may have to be read first. [s]"""

_HEAD = """
<link rel="stylesheet" href="/static/tokens.css?{v}">
<link rel="stylesheet" href="/static/sheet.css?{v}">
<link rel="stylesheet" href="/static/frame.css?{v}">
<script src="/static/js/frame.js?{v}"></script>
"""

_MARK = (
    '<svg width="86" height="26" viewBox="0 0 86 26" role="img" aria-label="Wellheard">'
    '<text x="0" y="16" font-size="18" font-weight="600">Wellheard</text>'
    + "".join(
        f'<rect x="{86 / 6.3 * i:.2f}" y="20.5" width="13.65" height="3" '
        f'fill="{"none" if i % 2 else "var(--ink)"}" stroke="var(--ink)" stroke-width=".5"/>'
        for i in range(6)
    )
    + "</svg>"
)


@dataclass(frozen=True)
class Page:
    """Places of a page that its maker fills."""

    middle: Element
    tools: Element
    body: Element


def room_address(key: str, end: str = "") -> str:
    """Address of a room's page on this server."""
    return f"/rooms/{quote(key, safe='')}{end}"


def unit_of(request: Request, usual: Unit = "m") -> Unit:
    """Unit that the reader has chosen; ``usual`` until then."""
    chosen = request.cookies.get("wellheard-unit")
    if chosen == "ft":
        return "ft"
    return "m" if chosen == "m" else usual


@contextmanager
def shell(
    *,
    title: str,
    key: str = "",
    stage: Stage = "",
    under: str = "",
    where: Sequence[tuple[str, str]] = (),
    styles: Sequence[str] = (),
    usual: Unit = "m",
) -> Iterator[Page]:
    """A page with its top line; what is made inside stands below it.

    Parameters
    ----------
    title : str
        Name of the page; of a room's page the room's title.
    key : str
        Of the room, where the page is one of a room's: its stages are then offered.
    stage : str
        Which of them this is.
    under : str
        Said beside the title, softer.
    where : sequence of (text, address)
        The way here, from the rooms on.
    styles : sequence of str
        Style sheets of this page, files of ``static``.
    usual : {"m", "ft"}
        Unit of this page for a reader who has chosen none.
    """
    head = _HEAD.format(v=__version__)
    head += "".join(f'<link rel="stylesheet" href="/static/{s}?{__version__}">\n' for s in styles)
    ui.add_head_html(head)
    ui.page_title(f"{title} · Wellheard" if title != "Wellheard" else title)
    tag("a", "Skip to the page", classes="skip", href="#page")
    with tag("header", classes="top", data_usual=usual):
        with tag("a", classes="mark", href="/", aria_label="Wellheard: all rooms"):
            ui.html(_MARK, sanitize=False)
        with tag("div", classes="where"):
            for text, address in where:
                tag("a", text, href=address)
                tag("span", "/", classes="soft", aria_hidden="true")
            tag("strong", title, classes="here")
            if under:
                tag("span", under, classes="soft under")
        middle = tag("div", classes="middle")
        if key:
            with middle, tag("nav", classes="stages", aria_label="Parts of the work"):
                for number, (name, word, end) in enumerate(STAGES):
                    if number:
                        tag("i", "·", aria_hidden="true")
                    link = tag("a", word, href=room_address(key, end))
                    if name == stage:
                        link.props["aria-current"] = "page"
        with tag("div", classes="tools"):
            tools = tag("div", classes="tools own")
            with tag("span", classes="pair", role="group", aria_label="Unit"):
                tag("button", "m", type="button", data_unit="m", title="metres")
                tag("button", "ft in", type="button", data_unit="ft", title="feet and inches")
            with tag("span", classes="pair", role="group", aria_label="Sheet"):
                tag("button", "white", type="button", data_theme="white")
                tag("button", "slate", type="button", data_theme="slate")
    # The page framework makes the page's <main> round all of this.
    with tag("div", classes="page", id="page") as body:
        yield Page(middle, tools, body)


async def opened(workbench: Workbench, key: str) -> Desk | None:
    """The open document of a room; None, and a page that says why, where it cannot be read.

    Raises
    ------
    HTTPException
        404: the folder has no such room.
    """
    try:
        return await workbench.surely(workbench.desk, key)
    except KeyError:
        gone = "This folder has no such room; it may have been renamed or deleted."
        raise HTTPException(404, gone) from None
    except InputError as error:
        not_found(str(error), heading="This room cannot be read.")
        return None


def not_found(what: str, *, heading: str = "There is nothing at this address.") -> None:
    """A page that says that there is nothing here, and where to go."""
    with shell(title="Not here", where=[("Rooms", "/")]), tag("section", classes="nothing"):
        tag("h1", heading)
        tag("p", what)
        tag("a", "Back to the rooms", href="/", classes="press")
