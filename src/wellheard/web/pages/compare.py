"""Two versions of a room side by side: now and an offer, an earlier version, or another room."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import quote

from fastapi import Request
from fastapi.responses import Response
from nicegui import Client, app, ui

from wellheard.errors import InputError
from wellheard.units import Unit
from wellheard.web.elements import tag
from wellheard.web.jobs import LOOK_EVERY, Job
from wellheard.web.pages import offered
from wellheard.web.shell import PATIENCE, opened, room_address, shell, unit_of
from wellheard.web.workbench import Workbench
from wellheard.workflow import tasks
from wellheard.workflow.cards import STATES
from wellheard.workflow.desk import Desk
from wellheard.workflow.offers import Offer
from wellheard.workflow.sidebyside import Both, Side, SideBySide

OFFER, VERSION, ROOM = "offer", "version-", "room-"
MOST_VERSIONS = 60
SIDES = ("left", "right")


@dataclass(frozen=True)
class Choice:
    """Something that the room can be set beside."""

    name: str
    """In the address."""
    words: str
    aside: str
    left: str
    """What stands on the left, and below on the right, in two words."""
    right: str


@dataclass(frozen=True)
class Texts:
    """What is compared: the two documents and where they lie."""

    old: str
    new: str
    old_path: str
    new_path: str


def register(workbench: Workbench) -> None:
    """Declare the page, and the pictures on it."""

    @ui.page("/rooms/{key}/compare", response_timeout=PATIENCE)
    async def compare(request: Request, client: Client, key: str) -> None:
        desk = await opened(workbench, key)
        if desk is None:
            return
        page = _Page(workbench, desk, client, unit_of(request, desk.state.loaded.room.units))
        await page.open(request.query_params.get("with", ""))

    @app.get("/rooms/{key}/compare/{job}/{side}-{theme}.svg")
    def plan(key: str, job: str, side: str, theme: str) -> Response:
        found = workbench.jobs.get(job)
        if found is None or not _is_of(found, key) or not isinstance(found.result, SideBySide):
            return Response("no such plan", 404, media_type="text/plain")
        sides = {"left": found.result.left, "right": found.result.right}
        plans = sides[side].plans if side in sides else {}
        if theme not in plans:
            return Response("no such plan", 404, media_type="text/plain")
        return Response(plans[theme], media_type="image/svg+xml")


def label(key: str, name: str) -> str:
    """What the comparison of a room with one of its `Choice` is labelled."""
    return f"{key}\n{name}"


def _is_of(job: Job, key: str) -> bool:
    return job.function == tasks.COMPARE and job.label.partition("\n")[0] == key


class _Page:
    """One open page."""

    def __init__(self, workbench: Workbench, desk: Desk, client: Client, unit: Unit) -> None:
        self.workbench, self.desk, self.client, self.unit = workbench, desk, client, unit
        self.job: Job | None = None

    async def open(self, name: str) -> None:
        """Build the page for a choice; '' for none yet."""
        choices = await self.workbench.surely(self._choices)
        texts = await self.workbench.surely(self._texts, name) if name else None
        room = self.desk.state.loaded.room
        title = room.title or self.desk.name
        with shell(
            title=title,
            key=self.desk.key,
            usual=self.desk.state.loaded.room.units,
            where=[("Rooms", "/")],
            styles=("ask.css", "compare.css"),
        ) as page:
            page.body.classes("abreast")
            chosen = next((c for c in choices if c.name == name), None)
            with tag("nav", classes="with", aria_label="Set beside"):
                tag("h1", "Side by side")
                self._list(choices, name)
            self.body = tag("div", classes="both")
        if chosen is None or texts is None:
            with self.body:
                if name:
                    tag("p", "There is no such version any more; choose another.", classes="wrong")
                tag("p", "Choose what to set beside the room as it is now.", classes="soft")
            return
        self.chosen = chosen
        with self.body:
            self.timer = ui.timer(LOOK_EVERY, self._look, active=False)
            self.shown = tag("div")
        self._start(texts)

    # What there is to choose from ----------------------------------------------------------------

    def _choices(self) -> list[Choice]:
        found = []
        if self._offer() is not None:
            found.append(Choice(OFFER, "the design that is offered", "", "now", "as offered"))
        versions = self.desk.versions()
        for one in versions[1 : MOST_VERSIONS + 1]:
            when = f"{one.at:%d.%m. %H:%M}" if one.at.date() != versions[0].at.date() else ""
            when = when or f"{one.at:%H:%M:%S}"
            found.append(Choice(f"{VERSION}{one.version}", when, one.what, when, "now"))
        for card in self.workbench.shelf.rooms():
            if card.key != self.desk.key and not card.problems:
                words = card.title or card.name
                found.append(Choice(f"{ROOM}{card.key}", words, card.name, "now", words))
        return found

    def _list(self, choices: list[Choice], chosen: str) -> None:
        groups: tuple[tuple[str, Callable[[Choice], bool]], ...] = (
            ("Offer", lambda c: c.name == OFFER),
            ("Earlier", lambda c: c.name.startswith(VERSION)),
            ("Other rooms", lambda c: c.name.startswith(ROOM)),
        )
        for title, belongs in groups:
            mine = [c for c in choices if belongs(c)]
            if not mine:
                continue
            tag("h2", title)
            with tag("ul"):
                for one in mine:
                    address = f"{offered.compare_address(self.desk.key)}?with={quote(one.name)}"
                    with tag("li"):
                        link = tag("a", href=address)
                        if one.name == chosen:
                            link.props["aria-current"] = "page"
                        with link:
                            tag("span", one.words)
                            if one.aside:
                                tag("span", one.aside, classes="note")

    def _offer(self) -> Offer | None:
        job = self.workbench.jobs.last(tasks.DESIGN, self.desk.key)
        return job.result if job is not None and isinstance(job.result, Offer) else None

    def _texts(self, name: str) -> Texts | None:
        now, path = self.desk.state.loaded.document.text, str(self.desk.path)
        offer = self._offer()
        if name == OFFER and offer is not None:
            return Texts(now, offer.text, path, path)
        if name.startswith(VERSION):
            try:
                return Texts(self.desk.text(int(name.removeprefix(VERSION))), now, path, path)
            except (KeyError, ValueError):
                return None
        try:
            other = self.workbench.desk(name.removeprefix(ROOM))
        except (KeyError, InputError):
            return None
        return Texts(now, other.state.loaded.document.text, path, str(other.path))

    # The comparison ------------------------------------------------------------------------------

    def _start(self, texts: Texts) -> None:
        self.job = self.workbench.jobs.start(
            tasks.COMPARE,
            title="compare",
            label=label(self.desk.key, self.chosen.name),
            old=texts.old,
            new=texts.new,
            old_path=texts.old_path,
            new_path=texts.new_path,
            unit=self.unit,
        )
        self.client.on_delete(self.job.cancel)
        with self.shown, tag("div", classes="ask-busy"):
            self.line = tag("p", self.job.words, classes="busy-line", role="status")
            cancel = tag("button", "cancel", type="button", classes="word")
            cancel.on("click", self.job.cancel)
        self.timer.activate()

    def _look(self) -> None:
        job = self.job
        if job is None:
            return
        if job.running:
            self.line.set_text(job.progress)
            return
        self.timer.deactivate()
        self.shown.clear()
        with self.shown:
            if job.state == "done":
                _result(self.desk.key, job, self.chosen)
            elif job.state == "cancelled":
                with tag("p", classes="soft"):
                    tag("span", "Cancelled. ")
                    again = f"?with={quote(self.chosen.name)}"
                    tag(
                        "a",
                        "Compare again",
                        href=f"{offered.compare_address(self.desk.key)}{again}",
                    )
            else:
                tag("p", f"Not compared: {job.error}", classes="wrong", role="alert")


def _result(key: str, job: Job, chosen: Choice) -> None:
    found: SideBySide = job.result
    with tag("div", classes="sides"):
        for side, words, one in zip(
            SIDES, (chosen.left, chosen.right), (found.left, found.right), strict=True
        ):
            _side(room_address(key, f"/compare/{job.id}/{side}"), words, one)
    with tag("div", classes="said"):
        _changes(found)
        _promises(found, chosen)
        with tag("section"):
            offered.seats(found.seats, chosen.left, chosen.right, found.seats_alike)
        _findings("Findings that are new", found.new_findings)
        _findings("Findings that are gone", found.gone_findings)


def _side(address: str, words: str, one: Side) -> None:
    with tag("section", classes="one-side", aria_label=words):
        with tag("h2"):
            tag("span", words)
            tag("span", f"document {one.document}", classes="note")
        for theme in one.plans:
            tag(
                "img",
                classes=f"on-{theme}",
                src=f"{address}-{theme}.svg",
                alt=f"Plan of {one.title}, {words}: STI at the far end",
            )
        tag("p", one.sentence, classes="strong")
        tag("p", one.under, classes="soft")
        tag("p", f"All devices as installed: {one.price}")


def _changes(found: SideBySide) -> None:
    with tag("section"):
        tag("h2", "What is different")
        if not found.changes and not found.slight:
            tag("p", "The two documents say the same.")
            return
        with tag("ul", classes="ask-list"):
            for text in found.changes:
                tag("li", text)
            if found.slight:
                many = "1 length moves" if found.slight == 1 else f"{found.slight} lengths move"
                tag("li", f"{many} by less than is printed.")
        tag("p", f"Price of all devices: {found.price_step}.")


def _promises(found: SideBySide, chosen: Choice) -> None:
    with tag("section"):
        tag("h2", "The promise")
        if found.worse:
            tag("p", "A place that was kept is not any more.", classes="strong")
        with tag("table", classes="promise"):
            with tag("thead"):
                with tag("tr"):
                    tag("th", "")
                    for words in (chosen.left, chosen.right):
                        tag("th", words, colspan=4, scope="colgroup")
                with tag("tr"):
                    tag("th", "Asked", scope="col")
                    for _ in SIDES:
                        tag("th", "Promised", scope="col", classes="num")
                        tag("th", "Predicted", scope="col", classes="num")
                        tag("th", "Chance", scope="col", classes="num")
                        tag("th", "State", scope="col", classes="ask-state")
            with tag("tbody"):
                for one in found.promises:
                    _promise(one)


def _promise(one: Both) -> None:
    with tag("tr", classes="differs" if one.differs else ""):
        tag("td", one.asked)
        for side in range(2):
            if not one.state[side]:
                tag("td", "not promised", colspan=4, classes="soft")
                continue
            for words in (one.promised[side], one.predicted[side], one.chance[side]):
                tag("td", words, classes="num")
            with tag("td", classes="ask-state"):
                offered.mark(next(state for state in STATES if state == one.state[side]))
                tag("span", one.state[side])


def _findings(title: str, found: tuple[tuple[str, str], ...]) -> None:
    if not found:
        return
    with tag("section"):
        tag("h2", title)
        with tag("ul", classes="ask-list"):
            for _, message in found:
                tag("li", message)
