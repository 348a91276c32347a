"""Proving a room: its sessions of measurement, begun, opened and deleted."""

from __future__ import annotations

import datetime
from pathlib import Path

from fastapi import Request
from nicegui import Client, ui
from nicegui.element import Element

from wellheard.errors import WellheardError
from wellheard.units import Unit
from wellheard.web.elements import tag
from wellheard.web.pages import prove_verdict
from wellheard.web.pages.prove_session import OpenSession
from wellheard.web.recordings import session_folder
from wellheard.web.shell import PATIENCE, not_found, opened, room_address, shell, unit_of
from wellheard.web.typed import Field, Form, hide, submitted
from wellheard.web.workbench import Workbench
from wellheard.workflow import session_text, sessions
from wellheard.workflow.desk import Desk
from wellheard.workflow.sessions import Listed

EMPTY = "Nothing has been measured in this room yet."
PRIVACY = (
    "A microphone hears everybody. Say so to everybody in the room before you record, and record "
    "only with their consent; local law on recordings goes before. Recordings stay in the folder "
    "of their session on this machine: nothing is sent anywhere."
)


def register(workbench: Workbench) -> None:
    """Declare the page of a room's sessions, that of one of them, and what these show."""
    prove_verdict.register(workbench)

    @ui.page("/rooms/{key}/prove", response_timeout=PATIENCE)
    async def page(request: Request, client: Client, key: str) -> None:
        desk = await opened(workbench, key)
        if desk is not None:
            _Prove(workbench, desk, client, _unit(request, desk)).open()

    @ui.page("/rooms/{key}/prove/{session}", response_timeout=PATIENCE)
    async def one(request: Request, client: Client, key: str, session: str) -> None:
        desk = await opened(workbench, key)
        if desk is None:
            return
        try:
            folder = session_folder(workbench, desk, session)
        except WellheardError as error:
            not_found(str(error))
            return
        _Prove(workbench, desk, client, _unit(request, desk)).open(folder)


def _unit(request: Request, desk: Desk) -> Unit:
    return unit_of(request, desk.state.loaded.room.units)


class _Prove:
    """One open page."""

    def __init__(self, workbench: Workbench, desk: Desk, client: Client, unit: Unit) -> None:
        self.workbench, self.desk, self.client, self.unit = workbench, desk, client, unit

    def open(self, folder: Path | None = None) -> None:
        """Build the page; with one session opened, or with none."""
        room = self.desk.state.loaded.room
        found = sessions.sessions(self.desk.state.loaded)
        with shell(
            title=room.title or self.desk.name,
            key=self.desk.key,
            usual=room.units,
            stage="prove",
            under=room.project.client or room.project.site,
            where=[("Rooms", "/")],
            styles=("ask.css", "prove.css"),
        ) as page:
            page.body.classes("proving")
            with tag("section", classes="prove-list", aria_label="Sessions"):
                tag("h2", "Sessions of measurement")
                self.list = tag("ul", hidden=not found)
                self._list(found, folder)
                self._begin()
                tag("p", PRIVACY, classes="note")
            with tag("section", classes="prove-sheet", aria_label="Session") as sheet:
                if folder is None:
                    self._none(found)
        if folder is not None:
            OpenSession(
                self.workbench,
                self.desk,
                self.client,
                self.unit,
                folder,
                away=room_address(self.desk.key, "/prove"),
                changed=lambda: self._list(sessions.sessions(self.desk.state.loaded), folder),
            ).open(sheet)

    def _none(self, found: tuple[Listed, ...]) -> None:
        with tag("div", classes="prove-blank"):
            if found:
                tag("p", "Open one of the sessions, or begin another.")
            else:
                tag("p", f"{EMPTY} Begin a session, then record into it or choose its recordings.")

    def _list(self, found: tuple[Listed, ...], folder: Path | None) -> None:
        self.list.clear()
        with self.list:
            for one in found:
                with tag("li"):
                    _listed(self.desk.key, one, current=folder is not None and one.folder == folder)

    # A new one -----------------------------------------------------------------------------------

    def _begin(self) -> None:
        today = datetime.date.today().isoformat()
        with tag("form", classes="prove-begin", novalidate=True) as form:
            self.fields = {
                "title": _line("What for", "title", "Measured at hand-over"),
                "date": _line("Date", "date", today),
                "by": _line("By", "by", ""),
            }
            tag("button", "begin a session", type="submit", classes="press")
            self.wrong = tag("p", classes="wrong", role="alert", hidden=True)
        submitted(form, self._begun)

    async def _begun(self, form: Form) -> None:
        self.fields["date"].wrong("")
        hide(self.wrong, True)
        date = None
        typed = form.get("date", "").strip()
        if typed:
            try:
                date = datetime.date.fromisoformat(typed)
            except ValueError:
                self.fields["date"].wrong(f"{typed!r:.20} is no date; as in 2026-11-26")
                return
        try:
            name = await self.workbench.surely(
                session_text.begin,
                self.desk.state.loaded,
                title=form.get("title", ""),
                by=form.get("by", ""),
                date=date,
            )
        except WellheardError as error:
            self.wrong.set_text(str(error))
            hide(self.wrong, False)
            return
        with self.client:
            ui.navigate.to(room_address(self.desk.key, f"/prove/{name}"))


def _line(word: str, name: str, value: str) -> Field:
    with tag("div", classes="prove-line"), tag("label"):
        tag("span", word)
        return Field(name, value, label=word)


def _listed(key: str, one: Listed, *, current: bool) -> Element:
    if one.found is None:
        with tag("span", classes="prove-unread") as made:
            tag("strong", one.name)
            tag("span", one.why_not, classes="wrong")
        return made
    session = one.found.session
    count = len(session.recordings)
    with tag("a", href=room_address(key, f"/prove/{one.name}")) as made:
        tag("strong", session.title or one.name)
        recordings = "1 recording" if count == 1 else f"{count or 'no'} recordings"
        date = session.date.isoformat() if session.date else ""
        tag("span", " · ".join(filter(None, (date, recordings))), classes="note")
    if current:
        made.props["aria-current"] = "page"
    return made
