"""A floor plan brought in: chosen, looked at, settled, and one room of it taken over."""

from __future__ import annotations

import base64
from collections.abc import Awaitable, Callable
from dataclasses import replace
from pathlib import PurePath
from typing import cast

from fastapi import Request
from nicegui import Client, ui
from nicegui.element import Element
from nicegui.elements.mixins.text_element import TextElement
from nicegui.events import GenericEventArguments

from wellheard.errors import WellheardError
from wellheard.units import Unit, format_length
from wellheard.web import uploads
from wellheard.web.elements import tag
from wellheard.web.jobs import LOOK_EVERY, Job
from wellheard.web.shell import room_address, shell, unit_of
from wellheard.web.typed import Field, Form, as_form, button, changed, hide, submitted
from wellheard.web.workbench import Workbench
from wellheard.workflow import importing, newroom
from wellheard.workflow.importing import Asked, Looked, Pick, Role, Settled, Taken, Unstated

LARGEST = 32_000_000
"""Of a plan that a page takes; the command line takes larger ones. [byte]"""
_FORM = """() => {
  const form = document.querySelector(".plan-form");
  emit(Object.fromEntries([...new FormData(form)].filter(([, v]) => typeof v === "string")));
}"""
CAUTION = (
    "Plans may be wrong, old, or of another building: measure length, width and height in the "
    "room before anything is ordered."
)
UNITS = ("mm", "cm", "m", "in", "ft")
LEAST, MOST = 1.0, 500.0
"""Of a plan whose unit is asked for; what is beyond is no building. [m]"""
FEW_LAYERS = 12
"""So many layers are shown at first."""


def register(workbench: Workbench) -> None:
    """Declare the page."""

    @ui.page("/plan")
    def page(request: Request, client: Client) -> None:
        _Plan(workbench, client, unit_of(request)).open()


class _Plan:
    """One open page."""

    def __init__(self, workbench: Workbench, client: Client, unit: Unit) -> None:
        self.workbench, self.client, self.unit = workbench, client, unit
        self.pieces = uploads.Pieces(LARGEST)
        self.name, self.raw = "", b""
        self.asked = Asked()
        self.job: Job | None = None
        self.looked: Looked | None = None
        self.key: str | None = None
        self.settled = Settled()
        self.taken: Taken | None = None
        self.shown_height = ""
        self.line: TextElement | None = None
        self._leave: Callable[[], None] = lambda: None

    def open(self) -> None:
        """Build the page, with nothing chosen yet."""
        with shell(
            title="From a plan", where=[("Rooms", "/")], styles=("plans.css",), usual=self.unit
        ) as page:
            page.body.classes("plans")
            with tag("section", classes="plan-words", aria_label="The plan") as self.words:
                with tag("div", classes="plan-pick"):
                    with tag("label", classes="press"):
                        tag("span", "choose a plan …")
                        file = tag("input", classes="unseen", type="file", accept=".dxf,.ifc")
                    tag("span", "DXF or IFC, up to 32 MB", classes="note")
                file.on("change", self._piece, js_handler=uploads.of_file(LARGEST))
                self.body = tag("div", classes="plan-body")
            self.picture = tag("section", classes="plan-picture", aria_label="What was recognised")
            self.timer = ui.timer(LOOK_EVERY, self._look, active=False)
        self.client.on_delete(self._gone)
        self._empty()

    def _gone(self) -> None:
        """Nobody waits for it any more: a plan belongs to nobody's room yet."""
        if self.job is not None:
            self.workbench.jobs.forget(self.job)
        self._leave()

    # The file ------------------------------------------------------------------------------------

    def _piece(self, event: GenericEventArguments) -> None:
        try:
            raw = self.pieces.whole(event.args)
        except uploads.Refused as refused:
            self._empty(str(refused))
            return
        if raw is None:
            return
        self.name = PurePath(str(event.args.get("name", ""))[:200]).name or "plan"
        self.raw = raw
        self.asked, self.key, self.settled = Asked(), None, Settled()
        self._read()

    def _read(self) -> None:
        """Begin to read the plan as it is asked for now."""
        self._gone()
        self.job = self.workbench.jobs.start(
            importing.LOOK,
            title="plan",
            label=self.name,
            name=self.name,
            raw=self.raw,
            asked=self.asked,
        )
        self._leave = self.job.watch()
        self.body.clear()
        with self.body, tag("div", classes="ask-busy"):
            self.line = tag("p", self.job.progress, classes="busy-line", role="status")
            cancel = tag("button", "cancel", type="button", classes="word")
            cancel.on("click", self._cancel)
        self.timer.activate()

    def _cancel(self) -> None:
        self._gone()
        self.job, self.looked = None, None
        self.timer.deactivate()
        self._empty()

    def _look(self) -> None:
        job = self.job
        if job is None:
            self.timer.deactivate()
        elif job.running:
            if self.line is not None:
                self.line.set_text(job.progress)
        else:
            self.timer.deactivate()
            if job.state == "done":
                self._answered(job.result)
            else:
                self._empty(job.error)

    def _answered(self, answer: Looked | Unstated) -> None:
        if isinstance(answer, Unstated):
            self._ask_unit(answer)
            return
        self.looked = answer
        if self.key is None and len(answer.plan.rooms) == 1:
            self.key = answer.plan.rooms[0].key
        self._show()

    def _empty(self, wrong: str = "") -> None:
        self.body.clear()
        self.picture.clear()
        with self.body:
            if wrong:
                tag("p", wrong, classes="wrong", role="alert")
        with self.picture, tag("div", classes="plan-blank"):
            tag("p", "The plan will be shown here. Nothing is written before you accept it.")

    def _ask_unit(self, unstated: Unstated) -> None:
        self._empty()
        with self.body:
            tag("h1", "The drawing does not say its unit")
            tag("p", "How large is its largest room?", classes="soft")
            with tag("ul", classes="plan-units"):
                sizes = [one for one in unstated.sizes if LEAST < max(one[1:]) < MOST]
                for unit, wide, deep in sizes or unstated.sizes:
                    size = " × ".join(format_length(x, unit=self.unit) for x in (wide, deep))
                    with tag("li"):
                        button(f"{size}, drawn in {unit}", self._in(unit))

    def _in(self, unit: str) -> Callable[[], Awaitable[None]]:
        async def read() -> None:
            self.asked = replace(self.asked, unit=unit)
            self._read()

        return read

    # What was found --------------------------------------------------------------------------

    def _show(self) -> None:
        looked = self.looked
        if looked is None:
            return
        self.body.clear()
        with self.body:
            tag("h1", looked.name)
            with tag("p", classes="plan-unit"):
                tag("span", f"{looked.plan.format}, drawn in")
                _choice(
                    UNITS,
                    looked.plan.unit,
                    self._unit_chosen,
                    label="Unit of the drawing",
                )
                tag("span", looked.plan.unit_source, classes="note")
            for warning in looked.plan.warnings:
                tag("p", warning, classes="note")
            self._rooms(looked)
            self.form = tag("div")
            self._layers(looked)
        self._settle()

    def _unit_chosen(self, unit: str) -> None:
        if unit in UNITS:
            self.asked = replace(self.asked, unit=unit)
            self._read()

    def _rooms(self, looked: Looked) -> None:
        rooms = looked.plan.rooms
        if not rooms:
            tag(
                "p",
                "No room was found: no closed outline, and no walls that close one. Say below "
                "which layer has its outline or its walls.",
                classes="wrong",
                role="alert",
            )
            return
        tag("h2", "Which room?" if len(rooms) > 1 else "The room")
        with tag("ul", classes="plan-rooms"):
            for room in rooms:
                with tag("li"), tag("label"):
                    dot = tag("input", type="radio", name_="room", value=room.key)
                    if room.key == self.key:
                        dot.props["checked"] = True
                    dot.on("change", lambda _, key=room.key: self._room_chosen(key), args=[])
                    tag("strong", f"{room.key} {room.name}".strip())
                    tag("span", importing.sized(room, self.unit))
                    tag("span", room.source, classes="note")

    def _room_chosen(self, key: str) -> None:
        self.key = key
        self.settled = Settled()
        self._settle()

    # Settling it -----------------------------------------------------------------------------

    def _settle(self, wrong: str = "") -> None:
        """Show picture, fields and what becomes of it, for the room that is chosen."""
        looked = self.looked
        if looked is None:
            return
        self._draw(looked)
        self.form.clear()
        if self.key is None:
            return
        room = importing.room_of(looked.plan, self.key)
        try:
            self.taken = importing.take(looked.plan, self.key, self.settled)
        except WellheardError as error:
            self.taken, wrong = None, str(error)
        with self.form:
            with tag("form", classes="plan-form", novalidate=True) as form:
                height = self.settled.height or room.height
                shown = "" if height is None else format_length(height, unit=self.unit)
                self.shown_height = shown
                self.fields = {
                    "title": self._line("Title", "title", self.settled.title or room.name),
                    "height": self._line("Height", "height", shown),
                }
                if not room.seats:
                    seats = "" if self.settled.seats is None else str(self.settled.seats)
                    self.fields["seats"] = self._line("Seats at its tables", "seats", seats)
                tag("button", "show it so", type="submit", classes="word")
            submitted(form, self._typed)
            if wrong:
                tag("p", wrong, classes="wrong", role="alert")
            if self.taken is not None:
                self._becomes(self.taken)

    def _line(self, word: str, name: str, value: str) -> Field:
        with tag("div", classes="plan-line"), tag("label"):
            tag("span", word)
            return Field(name, value, label=word)

    def _typed(self, form: Form) -> None:
        if self._told(form):
            self._settle()

    def _told(self, form: Form) -> bool:
        """Take over what was typed; False where something is wrong with it, which is said."""
        for one in self.fields.values():
            one.wrong("")
        settled = replace(self.settled, title=form.get("title", "").strip())
        height = form.get("height", "").strip()
        if not height:
            settled = replace(settled, height=None)
        elif height != self.shown_height:
            # as shown it is the plan's own, which is finer than what was rounded to be read
            try:
                settled = replace(settled, height=newroom.length_typed(height, unit=self.unit))
            except ValueError as error:
                self.fields["height"].wrong(str(error))
                return False
        seats = form.get("seats", "").strip()
        if seats:
            most = importing.MOST_SEATS
            if not (seats.isascii() and seats.isdigit() and 0 < int(seats[:4]) <= most):
                self.fields["seats"].wrong(f"{seats!r:.20} is no number of seats; 1 to {most}")
                return False
        settled = replace(settled, seats=int(seats) if seats else None)
        self.settled = settled
        return True

    def _becomes(self, taken: Taken) -> None:
        tag("h2", "What becomes of it")
        with tag("ul", classes="plan-kinds"):
            for role, count in importing.kinds(taken, self.settled):
                with tag("li"), tag("label"):
                    box = tag("input", type="checkbox")
                    if role not in self.settled.without:
                        box.props["checked"] = True
                    box.on("change", lambda _, role=role: self._kept(role), args=[])
                    tag("span", f"{count} " if count else "")
                    tag("span", importing.many(role, count))
        for words, lines in (
            ("Taken to be so", taken.assumed),
            ("Left", importing.left(taken)),
        ):
            if lines:
                with tag("details", open=words != "Left"):
                    tag("summary", f"{words} ({len(lines)})")
                    with tag("ul", classes="ask-list"):
                        for line in lines:
                            tag("li", line)
        self._materials(taken)
        tag("p", CAUTION, classes="note")
        with tag("div", classes="ask-acts"):
            take = tag("button", "make this room", classes="press", type="button")
            take.on("click", self._accept, js_handler=_FORM)
        self.refused = tag("p", classes="wrong", role="alert", hidden=True)

    def _kept(self, role: Role) -> None:
        without = self.settled.without
        self.settled = replace(
            self.settled, without=without - {role} if role in without else without | {role}
        )
        self._settle()

    def _materials(self, taken: Taken) -> None:
        """Ask for the finish of materials that nobody knows."""
        if not taken.unknown:
            return
        tag("h2", "Materials that are not known")
        finishes = ("", *importing.finish_ids())
        for material, surface in taken.unknown:
            with tag("p", classes="plan-unit"):
                tag("span", f"“{material}” ({surface}) is")
                _choice(
                    finishes,
                    "",
                    self._finish_chosen(material),
                    label=f"Finish of {material}",
                    empty="the usual one",
                )

    def _finish_chosen(self, material: str) -> Callable[[str], None]:
        def chosen(finish: str) -> None:
            if finish in importing.finish_ids():
                known = {**self.settled.finishes, importing.plain(material): finish}
                self.settled = replace(self.settled, finishes=known)
                self._settle()

        return chosen

    def _layers(self, looked: Looked) -> None:
        """What each layer was taken for, to be set right."""
        layers = sorted(looked.plan.layers.items(), key=lambda one: (-one[1][0], one[0]))
        with tag("details", classes="plan-layers", open=not looked.plan.rooms):
            tag("summary", f"What its {len(layers)} layers are taken for")
            self._table(layers[:FEW_LAYERS])
            if len(layers) > FEW_LAYERS:
                with tag("details"):
                    tag("summary", f"{len(layers) - FEW_LAYERS} more")
                    self._table(layers[FEW_LAYERS:])

    def _table(self, layers: list[tuple[str, tuple[int, Role | None]]]) -> None:
        words = ("", "ignore", *importing.ROLES)
        with tag("table"), tag("tbody"):
            for name, (count, role) in layers:
                with tag("tr"):
                    tag("td", name, classes="plan-layer")
                    tag("td", str(count), classes="num")
                    with tag("td"):
                        _choice(
                            words,
                            self._picked(name) or role or "",
                            self._layer_chosen(name),
                            label=f"What is on {name}",
                            empty="by itself",
                        )

    def _picked(self, layer: str) -> Pick | None:
        return next((pick for pick, names in self.asked.layers.items() if layer in names), None)

    def _layer_chosen(self, layer: str) -> Callable[[str], None]:
        def chosen(word: str) -> None:
            others: dict[Pick, tuple[str, ...]] = {}
            for pick, names in self.asked.layers.items():
                kept = tuple(name for name in names if name != layer)
                if kept:
                    others[pick] = kept
            if word == "ignore" or word in importing.ROLES:
                pick = cast("Pick", word)
                others[pick] = (*others.get(pick, ()), layer)
            self.asked = replace(self.asked, layers=others)
            self._read()

        return chosen

    # The picture and the end of it ---------------------------------------------------------------

    def _draw(self, looked: Looked) -> None:
        svg = importing.preview(looked, self.key, unit=self.unit)
        data = base64.b64encode(svg.encode()).decode("ascii")
        self.picture.clear()
        with self.picture:
            tag("img", src=f"data:image/svg+xml;base64,{data}", alt=f"What was read of {self.name}")

    async def _accept(self, event: GenericEventArguments) -> None:
        """Make the room as it is typed by now, whether or not that was looked at."""
        looked = self.looked
        if looked is None or not self._told(as_form(event.args)):
            return
        try:
            taken = importing.take(looked.plan, self.key, self.settled)
            title = taken.room.title
            key = await self.workbench.surely(self.workbench.shelf.from_text, taken.text, title)
        except WellheardError as error:
            self.refused.set_text(str(error))
            hide(self.refused, False)
            return
        with self.client:
            ui.navigate.to(room_address(key))


def _choice(
    values: tuple[str, ...],
    now: str,
    told: Callable[[str], None],
    *,
    label: str,
    empty: str = "",
) -> Element:
    """A list to choose from; ``empty`` is said for the value of none."""
    with tag("select", classes="field", aria_label=label) as made:
        for value in values:
            option = tag("option", value or empty, value=value)
            if value == now:
                option.props["selected"] = True
    changed(made, told)
    return made
