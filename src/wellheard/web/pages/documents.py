"""Handing over: the documents of a room are made, looked through page by page, and taken along."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from datetime import datetime
from pathlib import PurePosixPath
from urllib.parse import quote

from fastapi.responses import Response
from nicegui import Client, app, ui
from nicegui.element import Element
from nicegui.events import KeyEventArguments

from wellheard.web.elements import tag
from wellheard.web.jobs import LOOK_EVERY, Job
from wellheard.web.loops import in_loop
from wellheard.web.shell import PATIENCE, opened, room_address, shell
from wellheard.web.typed import hide, ticked
from wellheard.web.workbench import Workbench
from wellheard.workflow import tasks
from wellheard.workflow.desk import Desk
from wellheard.workflow.load import document_hash
from wellheard.workflow.tasks import Published

KINDS = {
    ".pdf": ("application/pdf", "to print"),
    ".svg": ("image/svg+xml", "a picture"),
    ".dxf": ("image/vnd.dxf", "for drawing programs"),
    ".csv": ("text/csv; charset=utf-8", "a table"),
    ".xlsx": (
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        "a workbook",
    ),
    ".ifc": ("application/p21", "a building model"),
    ".json": ("application/json", "for programs"),
    ".yaml": ("application/yaml", "products of your own"),
}
"""Types of files as they are registered [M], and what one does with them."""
WORDS = {
    "dossier": "the dossier",
    "plan": "ceiling plan",
    "section": "section",
    "wiring": "wiring",
    "ledger": "seat ledger",
    "positions": "setting out",
    "cables": "cables",
    "labels": "labels of the cables",
    "bill": "bill",
    "schedules": "all schedules",
    "room": "what hangs and stands in the room",
    "result": "all figures",
    "manifest": "what made these files",
}
"""What is in a file, by its name without arrangement and ending."""
_OURS = re.compile(r"([a-z]+)(?:-[^.]+)?\.[a-z]+")
SAME_BYTES = (1980, 1, 1, 0, 0, 0)
"""Time of every file in an archive: equal documents give equal archives."""


def register(workbench: Workbench) -> None:
    """Declare the page, and what it shows and hands out."""

    @ui.page("/rooms/{key}/documents", response_timeout=PATIENCE)
    async def documents(client: Client, key: str) -> None:
        desk = await opened(workbench, key)
        if desk is None:
            return
        _Page(workbench, desk, client).open()

    def published(key: str, job: str) -> Published | None:
        found = workbench.jobs.get(job)
        if found is None or (found.function, found.label) != (tasks.PUBLISH, key):
            return None
        return found.result if isinstance(found.result, Published) else None

    @app.get("/rooms/{key}/documents/{job}/page/{number}.png")
    def page(key: str, job: str, number: str) -> Response:
        found = published(key, job)
        if found is None or not number.isdecimal() or not 1 <= int(number) <= len(found.pages):
            return _nothing()
        return Response(found.pages[int(number) - 1], media_type="image/png")

    @app.get("/rooms/{key}/documents/{job}/file/{name}")
    def file(key: str, job: str, name: str) -> Response:
        found = published(key, job)
        if found is None or name not in found.files:
            return _nothing()
        return _download(found.files[name], name)

    @app.get("/rooms/{key}/documents/{job}/all.zip")
    def everything(key: str, job: str) -> Response:
        found = published(key, job)
        if found is None:
            return _nothing()
        return _download(archive(found.files), f"{_stem(found)}.zip", "application/zip")


def _nothing() -> Response:
    text = "These documents are not kept any more; make them again.\n"
    return Response(text, 404, media_type="text/plain; charset=utf-8")


def _download(data: bytes, name: str, kind: str = "") -> Response:
    media = kind or KINDS.get(PurePosixPath(name).suffix, ("application/octet-stream", ""))[0]
    disposition = f"attachment; filename*=UTF-8''{quote(name, safe='')}"
    return Response(data, media_type=media, headers={"Content-Disposition": disposition})


def about(name: str) -> str:
    """What a file is, in words.

    Examples
    --------
    >>> about("plan-divided.dxf"), about("schedules.xlsx"), about("board.room.yaml")
    ('ceiling plan, for drawing programs', 'all schedules, a workbook', 'the room document')
    """
    if name.endswith(".room.yaml"):
        return "the room document"
    form = _OURS.fullmatch(name)
    holds = WORDS.get(form[1], "") if form else ""
    does = KINDS.get(PurePosixPath(name).suffix, ("", ""))[1]
    return ", ".join(filter(None, (holds, does)))


def archive(files: dict[str, bytes]) -> bytes:
    """The files in one archive; equal files give equal bytes.

    Parameters
    ----------
    files : dict of str to bytes
        By name.

    Examples
    --------
    >>> archive({"a.csv": b"1"}) == archive({"a.csv": b"1"})
    True
    """
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as zipped:
        for name, data in files.items():
            zipped.writestr(zipfile.ZipInfo(name, SAME_BYTES), data, zipfile.ZIP_DEFLATED)
    return made.getvalue()


def _stem(found: Published) -> str:
    room = next((name for name in found.files if name.endswith(".room.yaml")), "room.room.yaml")
    return room.removesuffix(".room.yaml")


class _Page:
    """One open page."""

    def __init__(self, workbench: Workbench, desk: Desk, client: Client) -> None:
        self.workbench, self.desk, self.client = workbench, desk, client
        self.job = workbench.jobs.last(tasks.PUBLISH, desk.key)
        self._leave = self.job.watch() if self.job is not None else lambda: None
        self.prove = True
        self.number = 1
        self.wide = False
        self.links: list[Element] = []
        self.made_at: datetime | None = None

    def open(self) -> None:
        """Build the page; documents that were made before are shown at once."""
        room = self.desk.state.loaded.room
        with shell(
            title=room.title or self.desk.name,
            key=self.desk.key,
            usual=self.desk.state.loaded.room.units,
            stage="documents",
            where=[("Rooms", "/")],
            styles=("documents.css",),
        ) as page:
            page.body.classes("handing")
            self.body = tag("div", classes="documents")
            self.timer = ui.timer(LOOK_EVERY, self._look, active=False)
            ui.keyboard(self._key, ignore=["input", "select", "textarea"])
        self._follow()
        self._show()

    def _follow(self) -> None:
        """Notice changes of the document until the page is closed."""
        self.client.on_delete(self.desk.subscribe(in_loop(lambda _: self._changed())))
        self.client.on_delete(lambda: self._leave())

    def _show(self) -> None:
        job = self.job
        self.body.clear()
        self.links = []
        self.wide = False
        with self.body:
            if job is None or job.state == "cancelled":
                self._empty()
            elif job.running:
                self._progress(job)
            elif job.state == "failed":
                self._empty(f"The documents could not be made: {job.error}")
            else:
                self._documents(job, job.result)

    # Making them ---------------------------------------------------------------------------------

    def _empty(self, wrong: str = "") -> None:
        with tag("section", classes="none-yet"):
            if wrong:
                tag("p", wrong, classes="wrong", role="alert")
            tag("h1", "No documents have been made of this room yet.")
            tag(
                "p",
                "The dossier for the customer, the plan sheets, the seat ledger and the document "
                "itself, of the room as it is now.",
                classes="soft",
            )
            self._make("make the documents")

    def _make(self, word: str) -> None:
        with tag("div", classes="making"):
            make = tag("button", word, type="button", classes="press")
            make.on("click", self._start)
            with tag("label", classes="prove"):
                box = tag("input", type="checkbox", checked=self.prove)
                tag("span", "with the proof that fewer microphones would not do")

            def chosen(prove: bool) -> None:
                self.prove = prove

            ticked(box, chosen)

    def _start(self) -> None:
        state = self.desk.state
        self._leave()
        self.job = self.workbench.jobs.start(
            tasks.PUBLISH,
            title="documents",
            label=self.desk.key,
            text=state.loaded.document.text,
            path=str(self.desk.path),
            prove=self.prove,
        )
        self._leave = self.job.watch()
        self.number = 1
        self._show()

    def _progress(self, job: Job) -> None:
        with tag("section", classes="none-yet"):
            tag("h1", "Making the documents")
            self.line = tag("p", job.progress, classes="busy-line", role="status")
            cancel = tag("button", "cancel", type="button", classes="word")
            cancel.on("click", job.cancel)
        self.timer.activate()

    def _look(self) -> None:
        if self.job is not None and self.job.running:
            self.line.set_text(self.job.progress)
        else:
            self.timer.deactivate()
            self._show()

    # Looking at them -----------------------------------------------------------------------------

    def _documents(self, job: Job, found: Published) -> None:
        address = room_address(self.desk.key, f"/documents/{job.id}")
        with tag("nav", classes="pages", aria_label="Pages"), tag("ol"):
            for number in range(1, len(found.pages) + 1):
                with tag("li"):
                    link = tag("button", type="button", aria_label=f"Page {number}")
                    link.on("click", self._turn_to(number))
                    with link:
                        tag(
                            "img",
                            src=f"{address}/page/{number}.png",
                            alt="",
                            loading="lazy",
                        )
                        tag("span", str(number))
                self.links.append(link)
        with tag("section", classes="leaf", aria_label="Page"):
            with tag("div", classes="turn"):
                self.back = tag("button", "previous", type="button", classes="word")
                self.back.on("click", lambda: self._turn(-1))
                self.where = tag("span", "", role="status")
                self.on = tag("button", "next", type="button", classes="word")
                self.on.on("click", lambda: self._turn(1))
                self.size = tag("button", "full width", type="button", classes="word")
                self.size.on("click", self._resize)
            with tag("div", classes="paper") as self.paper:
                self.leaf = tag("img", src="", alt="")
            self.address = address
        with tag("aside", classes="take", aria_label="Files"):
            self._files(address, found)
        self._turn(0)
        self._changed()

    def _files(self, address: str, found: Published) -> None:
        tag("h1", found.title)
        with tag("dl"):
            for label, words in (
                ("Document", found.document),
                ("Dated", found.dated or "no date in the document"),
                ("Pages", str(len(found.pages))),
                ("Proof", "in the dossier" if found.proved else "none"),
            ):
                tag("dt", label)
                tag("dd", words)
        if found.remark:
            tag("p", f"Without a proof: {found.remark}.", classes="note")
        with tag("div", classes="stale", role="status", hidden=True) as self.stale:
            self.since = tag("p", "")
            self._make("make them again")
        tag("h2", "To take along")
        with tag("p"):
            tag("a", "all files", classes="press", href=f"{address}/all.zip", download=True)
        with tag("ul"):
            for name, data in found.files.items():
                with tag("li"):
                    target = f"{address}/file/{quote(name, safe='')}"
                    tag("a", name, href=target, download=name)
                    tag("span", f"{about(name)} · {_size(data)}".lstrip(" ·"), classes="note")

    def _turn_to(self, number: int) -> Callable[[], None]:
        def turn() -> None:
            self._turn(number - self.number)

        return turn

    def _turn(self, by: int) -> None:
        self.number = min(max(self.number + by, 1), len(self.links))
        for number, link in enumerate(self.links, start=1):
            if (number == self.number) != ("aria-current" in link.props):
                if number == self.number:
                    link.props["aria-current"] = "page"
                else:
                    link.props.pop("aria-current")
                link.update()
        self.leaf.props["src"] = f"{self.address}/page/{self.number}.png"
        self.leaf.props["alt"] = f"Page {self.number} of the dossier"
        self.leaf.update()
        self.where.set_text(f"page {self.number} of {len(self.links)}")
        for button, end in (
            (self.back, self.number == 1),
            (self.on, self.number == len(self.links)),
        ):
            if end:
                button.props["disabled"] = True
            else:
                button.props.pop("disabled", None)
            button.update()

    def _resize(self) -> None:
        """Fill the width with the page, or show the whole of it."""
        self.wide = not self.wide
        self.paper.classes(toggle="wide")
        self.size.set_text("whole page" if self.wide else "full width")

    def _key(self, event: KeyEventArguments) -> None:
        if not event.action.keydown or not self.links:
            return
        if event.key in ("ArrowRight", "ArrowDown", "PageDown"):
            self._turn(1)
        elif event.key in ("ArrowLeft", "ArrowUp", "PageUp"):
            self._turn(-1)
        elif event.key == "Home":
            self._turn(-len(self.links))
        elif event.key == "End":
            self._turn(len(self.links))

    def _changed(self) -> None:
        """Say it where the document is not that of the documents any more."""
        if self.job is None or not isinstance(self.job.result, Published) or not self.links:
            return
        state = self.desk.state
        stale = document_hash(state.loaded.document.text) != self.job.result.document
        if not stale:
            self.made_at = None
        elif self.made_at is None:
            self.made_at = state.saved_at
        if self.made_at is not None:
            self.since.set_text(f"Out of date since {self.made_at:%H:%M}: the room has changed.")
        hide(self.stale, not stale)


def _size(data: bytes) -> str:
    size = len(data)
    return f"{size / 1e6:.1f} MB" if size >= 1e6 else f"{max(1, round(size / 1e3))} kB"
