"""The room on a sheet: plan, seat ledger, path strip, findings, and what one asks of it."""

from __future__ import annotations

from fastapi import Request
from nicegui import Client, ui

from wellheard.web.components.parts import (
    Diagram,
    FindingList,
    Ledger,
    Panel,
    Plan,
    Solid,
    Strip,
    WayBack,
    Wiring,
)
from wellheard.web.elements import tag
from wellheard.web.loops import in_loop
from wellheard.web.pages.ask import ask_panel
from wellheard.web.pages.suggested import TreatSheet, WireSheet
from wellheard.web.shell import PATIENCE, opened, room_address, shell
from wellheard.web.workbench import Workbench
from wellheard.workflow.desk import Desk, State
from wellheard.workflow.figures import SHORT
from wellheard.workflow.maps import QUANTITIES

PALETTE = (
    ("seat", "seat", "seat"),
    ("standing", "standing", "standing"),
    ("table", "table", "table"),
    ("display", "display", "display"),
    ("microphone", "microphone", "mic-ceiling"),
    ("loudspeaker", "loudspeaker", "speaker-wall"),
    ("processor", "processor", "processor"),
    ("rack", "rack", "rack"),
    ("air-outlet", "air outlet", "air-outlet"),
    ("luminaire", "luminaire", "luminaire"),
    ("keep-out", "keep-out", "keep-out"),
    ("panel", "panel", "panel"),
)
"""What is placed by hand: kind of the operation, word, symbol."""

MORE = (
    ("amplifier", "amplifier"),
    ("window", "window"),
    ("door", "door"),
    ("board", "board"),
    ("soft-seating", "soft seating"),
    ("table-box", "table box"),
    ("wall-plate", "wall plate"),
    ("projector", "projector"),
    ("obstacle", "column"),
)
"""What is placed less often."""

SIDES = (
    ("findings", "Findings"),
    ("back", "Way back"),
    ("wiring", "Wiring"),
    ("item", "Item"),
    ("room", "Room"),
)
"""What stands below the seats: name, word."""

VIEWS = (("plan", "plan"), ("section", "section"), ("solid", "3D"), ("diagram", "wiring"))
"""What stands in the middle: name, word."""

LAYERS = (
    ("lines", "lines"),
    ("tint", "tint"),
    ("tiles", "tile grid"),
    ("dimensions", "dimensions"),
    ("findings", "findings"),
)


def register(workbench: Workbench) -> None:
    """Declare the page of one room."""

    @ui.page("/rooms/{key}", response_timeout=PATIENCE)
    async def design(request: Request, client: Client, key: str) -> None:
        desk = await opened(workbench, key)
        if desk is None:
            return
        _page(workbench, desk, client)


def _page(workbench: Workbench, desk: Desk, client: Client) -> None:
    room = desk.state.loaded.room
    with shell(
        title=room.title or desk.name,
        key=desk.key,
        stage="design",
        under=_under(desk),
        where=[("Rooms", "/")],
        styles=("design.css", "plan.css", "parts.css", "wiring.css", "ask.css"),
        usual=room.units,
    ) as page:
        page.body.classes("bench")
        page.body.props["data-room"] = desk.key
        with page.tools:
            tag("button", "undo", type="button", classes="word", data_do="undo", disabled=True)
            tag("button", "redo", type="button", classes="word", data_do="redo", disabled=True)
            tag("span", "", classes="note", data_status="", role="status", aria_live="polite")
        with tag("div", classes="notice", data_notice="", role="alert", hidden=True):
            tag("p", "", data_notice_words="")
            tag(
                "button",
                "put the last valid drawing back",
                type="button",
                classes="press",
                data_do="restore",
                hidden=True,
            )
            tag(
                "button",
                "read",
                type="button",
                classes="word",
                data_do="dismiss",
                title="Take this line away",
            )
        plan, wire = _sheet(workbench, desk)
        with tag("section", classes="side", aria_label="Seats, findings, way back and wiring"):
            Ledger(desk.key)
            with tag("div", classes="sidetabs", role="group", aria_label="Below the seats"):
                for name, word in SIDES:
                    tag("button", word, type="button", data_side=name, classes="tab")
                tag("span", "", classes="note count", data_count="")
            with tag("div", classes="sidebody", data_body="findings"):
                FindingList(desk.key)
            with tag("div", classes="sidebody", data_body="back", hidden=True):
                WayBack(desk.key)
            with tag("div", classes="sidebody", data_body="wiring", hidden=True):
                with tag("div", classes="wiring-acts"):
                    button = tag("button", "Wire…", type="button", classes="press")
                    wire.opened_by(button)
                    tag("button", "large diagram", type="button", classes="word", data_do="diagram")
                Wiring(desk.key)
            with tag("div", classes="sidebody", data_body="item", hidden=True):
                Panel(desk.key)
        with tag("section", classes="foot", aria_label="Paths of a voice"):
            Strip(desk.key)
        ui.add_head_html('<script type="module" src="/static/js/design.js"></script>')
    _follow(desk, plan, client)


def _under(desk: Desk) -> str:
    project = desk.state.loaded.room.project
    words = [project.client or project.site, project.revision and f"rev {project.revision}"]
    return " · ".join(word for word in words if word)


def _sheet(workbench: Workbench, desk: Desk) -> tuple[Plan, WireSheet]:
    """Palette, plan and its bars; the plan, and the sheet that wires the room."""
    with tag("aside", classes="place", aria_label="Place on the plan"):
        tag("h2", "place")
        with tag("ul"):
            for kind, word, symbol in PALETTE:
                with (
                    tag("li"),
                    tag("button", type="button", data_place=kind, title=f"place {word}"),
                ):
                    _symbol(symbol)
                    tag("span", word)
            with tag("li"), tag("details", classes="more"):
                tag("summary", "more …")
                for kind, word in MORE:
                    tag("button", word, type="button", data_place=kind, classes="word")
    with tag("section", classes="sheet", aria_label="Plan"):
        with tag("div", classes="mapbar"):
            with tag("label", classes="soft"):
                tag("span", "Map of ")
                with tag("select", classes="press", data_choose="quantity"):
                    for quantity in QUANTITIES:
                        tag("option", SHORT[quantity], value=quantity)
            with tag("span", classes="pair", role="group", aria_label="Value of the map"):
                tag("button", "middle", type="button", data_worst="no", aria_pressed="true")
                tag("button", "low end", type="button", data_worst="yes", aria_pressed="false")
            tag("span", classes="gap")
            compare = room_address(desk.key, "/compare")
            tag("a", "side by side", href=compare, classes="word", title="Two versions or rooms")
            asked, treat, wire = (
                ask_panel(workbench, desk),
                TreatSheet(workbench, desk),
                WireSheet(workbench, desk),
            )
            button = tag("button", "treat…", type="button", classes="word", title="Find finishes")
            treat.opened_by(button)
            button = tag("button", "Ask for a design…", type="button", classes="press")
            asked.opened_by(button)
        with tag("div", classes="mapbar second"):
            with tag("span", classes="pair", role="group", aria_label="View"):
                for view, word in VIEWS:
                    pressed = str(view == "plan").lower()
                    tag("button", word, type="button", data_view=view, aria_pressed=pressed)
            tag(
                "button",
                "edit outline",
                type="button",
                classes="word",
                data_do="outline",
                aria_pressed="false",
            )
            tag("span", classes="gap")
            with tag("span", classes="pair", role="group", aria_label="Shown on the plan"):
                for layer, word in LAYERS:
                    tag("button", word, type="button", data_layer=layer, aria_pressed="true")
        with tag("div", classes="view", data_shown="plan"):
            plan = Plan(desk.key)
        with tag("div", classes="view", data_shown="section", hidden=True):
            tag("img", data_section="", alt="Section through the room")
        with tag("div", classes="view", data_shown="solid", hidden=True):
            Solid(desk.key)
        with tag("div", classes="view", data_shown="diagram", hidden=True):
            Diagram(desk.key)
    sheets = (asked, treat, wire)
    for one in sheets:
        one.beside, one.plan = sheets, plan
    return plan, wire


def _symbol(name: str) -> None:
    """A symbol of the plan beside its word; the script of the page draws it."""
    tag(
        "svg",
        classes="placesymbol",
        data_symbol=name,
        viewBox="-14.8 -12 29.6 24",
        aria_hidden="true",
    )


def _follow(desk: Desk, plan: Plan, client: Client) -> None:
    """Tell the page of every new version until it is closed."""

    def arrived(state: State) -> None:
        with client:
            plan.arrived(state.version)

    client.on_delete(desk.subscribe(in_loop(arrived)))
