"""One session of measurement: what was recorded, more of it, and how it was measured."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from nicegui import Client, ui
from nicegui.element import Element
from nicegui.events import GenericEventArguments

from wellheard.errors import WellheardError
from wellheard.measurement.session import SessionFolder
from wellheard.units import Unit, format_length
from wellheard.web.components.parts import Capture
from wellheard.web.elements import tag
from wellheard.web.pages.prove_settings import Settings
from wellheard.web.pages.prove_verdict import Verdict
from wellheard.web.typed import button, hide, typed_line
from wellheard.web.workbench import Workbench
from wellheard.workflow import playing, session_text, sessions
from wellheard.workflow.desk import Desk
from wellheard.workflow.session_text import KINDS

NOT_YET = "Nothing is recorded in this session yet."
PLACES = "prove-places"


class OpenSession:
    """One session on an open page.

    Parameters
    ----------
    folder : Path
        Of the session.
    away : str
        Address of the page without it.
    changed : callable
        Called when recordings have come or gone.
    """

    def __init__(
        self,
        workbench: Workbench,
        desk: Desk,
        client: Client,
        unit: Unit,
        folder: Path,
        *,
        away: str,
        changed: Callable[[], None],
    ) -> None:
        self.workbench, self.desk, self.client, self.unit = workbench, desk, client, unit
        self.folder, self.away, self.told = folder, away, changed

    def open(self, sheet: Element) -> None:
        """Build it."""
        with sheet:
            try:
                found = session_text.opened(self.folder)
            except WellheardError as error:
                tag("h1", "This session cannot be read.")
                tag("p", str(error), classes="wrong")
                self._deleting()
                return
            self._head(found)
            self.verdict = Verdict(self.workbench, self.desk, self.client, self.folder)
            self.verdict.open()
            with tag("section", aria_label="Recordings"):
                tag("h2", "Recordings")
                self.table = tag("div", classes="prove-recordings")
                self.wrong = tag("p", classes="wrong", role="alert", hidden=True)
            with tag("section", classes="prove-add", aria_label="One more"):
                tag("h2", "One more recording")
                self._form(found)
                self._capture(found)
            Settings(self.workbench, self.desk, self.folder, self._changed).open(found)
            self._deleting()
        self._show(found)

    def _head(self, found: SessionFolder) -> None:
        session = found.session
        tag("h1", session.title or found.name)
        date = session.date.isoformat() if session.date else ""
        where = f"in {sessions.sessions_folder(self.desk.path).name}/{found.name}"
        tag("p", " · ".join(filter(None, (date, session.by, where))), classes="note")

    def _changed(self, found: SessionFolder) -> None:
        """Settings were saved: what depends on them is made anew."""
        self._show(found)
        self.capture_place.clear()
        with self.capture_place:
            self._recorder(found)

    # Recordings ----------------------------------------------------------------------------------

    def _show(self, found: SessionFolder) -> None:
        session = found.session
        waiting = session_text.planned(found)
        self.table.clear()
        with self.table:
            if not session.recordings and not session.calibration:
                tag("p", NOT_YET, classes="soft")
            else:
                self._rows(found, waiting)
        self._choices(found, waiting)
        self.verdict.ready(len(session.recordings) > len(waiting))

    def _rows(self, found: SessionFolder, waiting: dict[str, Any]) -> None:
        session = found.session
        with tag("table"):
            with tag("thead"), tag("tr"):
                for word in ("Recording", "of", "from", "to", "processing", ""):
                    tag("th", word)
            with tag("tbody"):
                for name, recording in session.recordings.items():
                    active = ", ".join(session.active_in(name)) or "none"
                    self._row(
                        name,
                        KINDS[recording.kind],
                        self._at(recording.from_),
                        self._at(recording.to),
                        "planned, not made yet" if name in waiting else active,
                    )
                for name, calibration in session.calibration.items():
                    level = (
                        f"{calibration.level_db:g} dB"
                        if calibration.level_db is not None
                        else f"{calibration.level_dba:g} dBA"
                        if calibration.level_dba is not None
                        else f"{calibration.full_scale_db:g} dB at full scale"
                    )
                    self._row(name, "calibration", "", level, "")

    def _at(self, place: Any) -> str:
        """A place of a recording in words."""
        if place is None or isinstance(place, str):
            return place or ""
        return ", ".join(format_length(one, unit=self.unit) for one in place)

    def _row(self, name: str, kind: str, from_: str, to: str, state: str) -> None:
        with tag("tr", data_recording=name):
            for word in (name, kind, from_, to):
                tag("td", word or "–")
            tag("td", state, classes="soft")
            with tag("td", classes="num") as cell:
                button(
                    "delete …",
                    lambda: self._ask(cell, name),
                    aria_label=f"Delete {name}",
                )

    async def _ask(self, cell: Element, name: str) -> None:
        """Nothing goes before it was asked for twice."""
        cell.clear()
        with cell:
            button("delete it for good", lambda: self._take_out(name))
            button("keep it", self._again)

    async def _again(self) -> None:
        self._show(session_text.opened(self.folder))

    async def _take_out(self, name: str) -> None:
        try:
            await self.workbench.surely(session_text.take_out, self.folder, name)
        except WellheardError as error:
            self._say(str(error))
        await self._again()
        self.told()

    def _say(self, text: str) -> None:
        self.wrong.set_text(text)
        hide(self.wrong, not text)

    # One more ------------------------------------------------------------------------------------

    def _form(self, found: SessionFolder) -> None:
        with tag("form", classes="prove-form", novalidate=True, onsubmit="return false"):
            with _labelled("For", "f-fills"):
                self.fills = tag("select", classes="field", name_="fills")
            tag("input", type="hidden", name_="unit", value=self.unit)
            with (
                _labelled("Of", "f-kind"),
                tag("select", classes="field", name_="kind"),
            ):
                for kind, words in KINDS.items():
                    tag("option", words, value=kind)
            with _labelled("From", "f-from"):
                typed_line("from", "", label="From").props["list"] = PLACES
                tag(
                    "span",
                    "who or what sounds: an id of the room, or a point x, y, z",
                    classes="note",
                )
            with _labelled("To", "f-to"):
                typed_line("to", "", label="To").props["list"] = PLACES
                tag("span", "a microphone's output, a seat, or a point", classes="note")
            with _labelled("Channel", "f-channel"):
                typed_line("channel", "1", label="Channel", classes="num")
                tag("span", "of the file", classes="note")
            with _labelled("Loop-back", "f-loopback"):
                typed_line("loopback", "", label="Loop-back channel", classes="num")
                tag(
                    "span",
                    "channel with what was played, or what the far end sent; may stay empty",
                    classes="note",
                )
            with _labelled("Calibration", "f-calibration"):
                self.calibrations = tag("select", classes="field", name_="calibration")
            with _labelled("Level", "f-level"):
                typed_line("level_db", "94", label="Level", classes="num")
                tag("span", "of the calibrator in dB, or read on the meter in dBA", classes="note")
            with _labelled("Note", "f-note"):
                typed_line("note", "", label="Note")
        with tag("datalist", id=PLACES):
            for place, words in session_text.places(self.desk.state.loaded.room):
                tag("option", words, value=place)

    def _choices(self, found: SessionFolder, waiting: dict[str, Any]) -> None:
        """What can be chosen depends on what is there."""
        self.fills.clear()
        with self.fills:
            for name, recording in waiting.items():
                ends = " to ".join(
                    filter(None, (self._at(recording.from_), self._at(recording.to)))
                )
                words = f"planned {name}: {KINDS[recording.kind]} {' to '.join(filter(None, ends))}"
                tag("option", words, value=name, data_kind=recording.kind)
            tag("option", "a recording that is not planned", value="")
        self.calibrations.clear()
        with self.calibrations:
            for name in found.session.calibration:
                tag("option", name, value=name)
            tag("option", "none: levels re full scale only", value="")

    def _capture(self, found: SessionFolder) -> None:
        with tag("div", classes="prove-cautions"):
            for caution in playing.CAUTIONS:
                tag("p", caution, classes="note")
        with tag("div") as self.capture_place:
            self._recorder(found)
        self.kept = tag("div", classes="prove-kept", role="status")

    def _recorder(self, found: SessionFolder) -> None:
        capture = Capture(
            self.desk.key, self.folder.name, playing.capture_plan(found.session.signal)
        ).classes("capture")
        capture.on("kept", self._kept)

    def _kept(self, event: GenericEventArguments) -> None:
        """A recording has come: show it, and what can be heard in it at once."""
        told = event.args if isinstance(event.args, dict) else {}
        self.kept.clear()
        with self.kept:
            tag("p", f"Kept as {told.get('id', '')}: {told.get('words', '')}.")
            for fault in told.get("faults", [])[:10]:
                tag("p", f"{fault.get('message')}; {fault.get('remedy')}", classes="wrong")
        self._show(session_text.opened(self.folder))
        self.told()

    # The end of it -------------------------------------------------------------------------------

    def _deleting(self) -> None:
        with tag("section", classes="prove-delete", aria_label="Delete"):
            self.ask = tag("div")
            with self.ask:
                button("delete this session …", self._ask_all)

    async def _ask_all(self) -> None:
        self.ask.clear()
        with self.ask:
            try:
                files = await self.workbench.surely(sessions.contents, self.folder)
            except WellheardError as error:
                tag("p", str(error), classes="wrong", role="alert")
                return
            size = sum(one[1] for one in files) / 1e6
            count = "1 file" if len(files) == 1 else f"{len(files)} files"
            tag("h2", "Delete this session?")
            tag(
                "p",
                f"{count}, {size:.1f} MB, would be deleted from this machine for good, and cannot "
                "be brought back:",
            )
            with tag("ul", classes="prove-files"):
                for name, length in files:
                    tag("li", f"{name} ({length / 1e6:.1f} MB)")
            with tag("div", classes="capture-acts"):
                button(f"delete {count}", self._delete, classes="press")
                button("keep them", self._not_all)

    async def _not_all(self) -> None:
        self.ask.clear()
        with self.ask:
            button("delete this session …", self._ask_all)

    async def _delete(self) -> None:
        try:
            await self.workbench.surely(sessions.delete, self.folder)
        except WellheardError as error:
            with self.ask:
                tag("p", str(error), classes="wrong", role="alert")
            return
        with self.client:
            ui.navigate.to(self.away)


def _labelled(word: str, classes: str) -> Element:
    line = tag("label", classes=f"prove-field {classes}")
    with line:
        tag("span", word)
    return line
