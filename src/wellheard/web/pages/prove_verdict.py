"""What a session says of a room: measured and compared in another process, then told here."""

from __future__ import annotations

from pathlib import Path

from fastapi.responses import Response
from nicegui import Client, app, ui
from nicegui.element import Element

from wellheard.web.elements import tag
from wellheard.web.jobs import LOOK_EVERY, Job
from wellheard.web.loops import in_loop
from wellheard.web.pages.offered import mark, passages
from wellheard.web.shell import room_address
from wellheard.web.typed import hide
from wellheard.web.workbench import Workbench
from wellheard.workflow import proved
from wellheard.workflow.desk import Desk
from wellheard.workflow.proved import Proved, ProvedRow

NOT_YET = "Not held against the promise yet."
HOW = (
    "Every recording is measured; then the room is predicted again as it was that day, and both "
    "are compared."
)
FIRST = "Record something first, or choose its file below."
STALE = "The session or the room has changed since this was worked out."


def register(workbench: Workbench) -> None:
    """Declare the charts of verdicts, and verdicts for programs."""

    def found(key: str, session: str, job: str) -> Proved | None:
        one = workbench.jobs.get(job)
        if one is None or (one.function, one.label) != (proved.PROVE, f"{key}/{session}"):
            return None
        return one.result if isinstance(one.result, Proved) else None

    @app.get("/rooms/{key}/prove/{session}/{job}/{stem}.{theme}.svg")
    def chart(key: str, session: str, job: str, stem: str, theme: str) -> Response:
        answer = found(key, session, job)
        for one in answer.charts if answer is not None else ():
            if one.stem == stem and theme in one.svg:
                return Response(one.svg[theme], media_type="image/svg+xml")
        return _nothing()

    @app.get("/rooms/{key}/prove/{session}/{job}/verdict.json")
    def verdict(key: str, session: str, job: str) -> Response:
        answer = found(key, session, job)
        if answer is None:
            return _nothing()
        return Response(answer.answer, media_type="application/json")


def _nothing() -> Response:
    text = "This verdict is not kept any more; measure and prove again.\n"
    return Response(text, 404, media_type="text/plain; charset=utf-8")


class Verdict:
    """The verdict of one session on an open page."""

    def __init__(self, workbench: Workbench, desk: Desk, client: Client, folder: Path) -> None:
        self.workbench, self.desk, self.client, self.folder = workbench, desk, client, folder
        self.label = f"{desk.key}/{folder.name}"
        self.job = workbench.jobs.last(proved.PROVE, self.label)
        self._leave = self.job.watch() if self.job is not None else lambda: None
        self.recorded = False
        self.begins: list[Element] = []
        self.first: Element | None = None
        self.stale: Element | None = None

    def open(self) -> None:
        """Build it; what was worked out before is shown at once."""
        with tag("section", classes="prove-verdict", aria_label="Verdict"):
            tag("h2", "Verdict")
            self.body = tag("div")
            self.timer = ui.timer(LOOK_EVERY, self._look, active=False)
        self.client.on_delete(self.desk.subscribe(in_loop(lambda _: self._aged())))
        self.client.on_delete(lambda: self._leave())
        self._show()

    def ready(self, recorded: bool) -> None:
        """Say whether there is anything to measure; called whenever the session has changed."""
        self.recorded = recorded
        for button in self.begins:
            if recorded:
                button.props.pop("disabled", None)
            else:
                button.props["disabled"] = True
            button.update()
        if self.first is not None:
            hide(self.first, recorded)
        self._aged()

    def _show(self) -> None:
        job = self.job
        self.body.clear()
        self.begins, self.first, self.stale = [], None, None
        with self.body:
            if job is None or job.state == "cancelled":
                tag("p", f"{NOT_YET} {HOW}", classes="soft")
                self.first = tag("p", FIRST)
                self._begin("measure and prove")
            elif job.running:
                self._progress(job)
            elif job.state == "failed":
                tag("p", job.error, classes="wrong", role="alert")
                self._begin("measure and prove again")
            else:
                self._told(job, job.result)
        self.ready(self.recorded)

    def _begin(self, word: str) -> None:
        button = tag("button", word, type="button", classes="press")
        button.on("click", self._start)
        self.begins.append(button)

    def _start(self) -> None:
        self._leave()
        self.job = self.workbench.jobs.start(
            proved.PROVE,
            title="verdict",
            label=self.label,
            text=self.desk.state.loaded.document.text,
            path=str(self.desk.path),
            folder=str(self.folder),
        )
        self._leave = self.job.watch()
        self._show()

    def _progress(self, job: Job) -> None:
        with tag("div", classes="ask-busy"):
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

    def _aged(self) -> None:
        """Say it where the verdict is of another session or room than there is now."""
        job = self.job
        if self.stale is None or job is None or not isinstance(job.result, Proved):
            return
        hide(self.stale, proved.is_of(job.result, self.desk.state.loaded, self.folder))

    # What came of it -----------------------------------------------------------------------------

    def _told(self, job: Job, found: Proved) -> None:
        with tag("div", classes="ask-verdict"):
            mark(found.state)
            tag("p", found.sentence, classes="prove-sentence")
        with tag("div", classes="stale", role="status", hidden=True) as self.stale:
            tag("p", STALE)
            self._begin("measure and prove again")
        if found.rows:
            self._table(found)
            tag("p", found.rule, classes="note")
        if found.notes:
            tag("h3", "Not compared")
            with tag("ul", classes="ask-list"):
                for note in found.notes:
                    tag("li", note)
        address = room_address(self.desk.key, f"/prove/{self.folder.name}/{job.id}")
        for chart in found.charts:
            with tag("figure", classes="prove-chart"):
                for theme in chart.svg:
                    tag(
                        "img",
                        src=f"{address}/{chart.stem}.{theme}.svg",
                        alt=chart.title,
                        loading="lazy",
                        classes=f"on-{theme}",
                    )
        with tag("details", classes="prove-measured"):
            tag("summary", "What was measured, set alike and found at fault")
            passages(found.measured)
        with tag("p"):
            tag("a", "the verdict as JSON", href=f"{address}/verdict.json", download="verdict.json")

    def _table(self, found: Proved) -> None:
        sides = ["num" if right else "" for right in found.right]
        with tag("div", classes="ask-wide"), tag("table", classes="prove-rows"):
            with tag("thead"), tag("tr"):
                tag("th", "Word", scope="col")
                for word, side in zip(found.head, sides, strict=True):
                    tag("th", word, scope="col", classes=side)
            for row in found.rows:
                _row(row, found.head, sides)


def _row(row: ProvedRow, heads: tuple[str, ...], sides: list[str]) -> None:
    with tag("tbody", data_word=row.word):
        with tag("tr"):
            with tag("td", classes="prove-word"):
                mark(row.state)
                tag("span", row.word)
            for number, (text, head, side) in enumerate(zip(row.cells, heads, sides, strict=True)):
                classes = side if number else f"{side} strong".strip()
                tag("td", text, classes=classes, data_head=head.replace("\n", " "))
        with tag("tr"):
            tag("td")
            tag("td", row.said, colspan=len(row.cells), classes="prove-said soft")
