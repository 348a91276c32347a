"""The survey of a room: what is open, whom to ask and what hangs on it; and its surfaces."""

from __future__ import annotations

import asyncio
import re
import uuid
from collections.abc import Awaitable, Callable, Sequence
from typing import Any

from fastapi import Request
from nicegui import Client, background_tasks, ui
from nicegui.element import Element

from wellheard.errors import InputError, WellheardError
from wellheard.units import Unit
from wellheard.web.elements import tag
from wellheard.web.jobs import Job
from wellheard.web.loops import in_loop
from wellheard.web.pages.finishes import Surfaces
from wellheard.web.shell import PATIENCE, opened, shell, unit_of
from wellheard.web.typed import Form, button, hide, submitted, typed_line
from wellheard.web.workbench import Workbench
from wellheard.workflow import answering, survey
from wellheard.workflow.answering import Answerable, AskedQuestion
from wellheard.workflow.desk import Conflict, Desk

RANKING = "wellheard.workflow.answering:surveyed"
FORMS = (("pdf", "PDF"), ("xlsx", "XLSX"))
SETTLED = 1.0
"""How long nothing is answered before the questions are ranked anew. [s]"""
FEW = "In the order of work; the ranking by what an answer changes is on its way."


def register(workbench: Workbench) -> None:
    """Declare the page of a room's survey."""

    @ui.page("/rooms/{key}/survey", response_timeout=PATIENCE)
    async def page(request: Request, client: Client, key: str) -> None:
        desk = await opened(workbench, key)
        if desk is None:
            return
        _Survey(workbench, desk, client, unit_of(request, desk.state.loaded.room.units)).open()


class _Survey:
    """One open page."""

    def __init__(self, workbench: Workbench, desk: Desk, client: Client, unit: Unit) -> None:
        self.workbench = workbench
        self.desk = desk
        self.client = client
        self.unit = unit
        self.version = desk.state.version
        self.job: Job | None = None
        self.found: survey.Survey | None = None
        self.due = asyncio.Event()
        self.stopping: Callable[[], None] = lambda: None

    def open(self) -> None:
        """Build the page, then rank the questions in a process of its own."""
        room = self.desk.state.loaded.room
        with shell(
            title=room.title or self.desk.name,
            key=self.desk.key,
            usual=self.desk.state.loaded.room.units,
            stage="survey",
            under=room.project.client or room.project.site,
            where=[("Rooms", "/")],
            styles=("survey.css",),
        ) as page:
            with page.tools:
                self.undo = button("undo", lambda: self._step(self.desk.undo))
                self.redo = button("redo", lambda: self._step(self.desk.redo))
                self.saved = tag("span", classes="note", role="status")
            page.body.classes("survey")
            with tag("section", classes="asked", aria_label="Open questions"):
                with tag("div", classes="headline"):
                    tag("h2", "Open questions")
                    self.count = tag("span", classes="soft")
                self._sheets()
                with tag("p", classes="busy-line", role="status", aria_live="polite") as self.busy:
                    self.progress = tag("span")
                    self.cancel = button("cancel", self._cancel)
                self.problem = tag("p", classes="wrong", role="alert", hidden=True)
                self.ground = tag("p", FEW, classes="note ground")
                self.list = tag("ol", classes="questions")
            self.surfaces = Surfaces(self.workbench, self.desk, self.unit, self._commit)
        self._show(answering.unranked(room, unit=self.unit))
        self._tools()
        stop = self.desk.subscribe(in_loop(lambda _: self._told()))
        task = background_tasks.create(self._follow(), name="survey")

        def gone() -> None:
            stop()
            task.cancel()
            self.stopping()

        self.client.on_delete(gone)

    # Ranking -----------------------------------------------------------------------------------

    async def _follow(self) -> None:
        """Rank now, and again whenever the document has changed and hands rest."""
        while True:
            self._rank()
            await self.due.wait()
            while self.due.is_set():
                self.due.clear()
                await asyncio.sleep(SETTLED)

    def _rank(self) -> None:
        state = self.desk.state
        label = f"{self.desk.key}@{state.version}"
        before = self.workbench.jobs.last(RANKING, label)
        if before is None or before.state in ("failed", "cancelled"):
            before = self.workbench.jobs.start(
                RANKING,
                title="ranking the questions",
                label=label,
                text=state.loaded.document.text,
                path=str(self.desk.path),
            )
        # The ranking of a document that has changed is left, and ends if nobody else waits.
        leave, self.job = self.stopping, before
        self.stopping = before.watch(in_loop(self._heard))
        leave()
        self._heard(before)

    def _heard(self, job: Job) -> None:
        if job is not self.job:
            return
        hide(self.busy, not job.running)
        if job.running:
            self.progress.set_text(f"ranking the questions: {job.words}")
            return
        if job.state == "done" and job.label == f"{self.desk.key}@{self.desk.state.version}":
            self.found = job.result
            room = self.desk.state.loaded.room
            self.ground.set_text(job.result.ground)
            self._show(answering.asked(job.result, room, unit=self.unit))
        elif job.state == "failed":
            self._say(f"the questions could not be ranked: {job.error}")
        elif job.state == "cancelled":
            self.ground.set_text("In the order of work; the ranking was cancelled.")
        self._sheets_ready()

    async def _cancel(self) -> None:
        if self.job is not None:
            self.job.cancel()

    def _say(self, text: str) -> None:
        self.problem.set_text(text)
        hide(self.problem, not text)

    # The document ------------------------------------------------------------------------------

    def _told(self) -> None:
        """Somebody has changed the document: here, in another window, or outside."""
        state = self.desk.state
        self._tools()
        if state.version == self.version:
            return
        self.version = state.version
        self.list.classes("old")
        self.surfaces.refresh()
        self.due.set()

    def _tools(self) -> None:
        state = self.desk.state
        for press, what in ((self.undo, state.undo), (self.redo, state.redo)):
            press.props["title"] = what
            if what:
                press.props.pop("disabled", None)
            else:
                press.props["disabled"] = True
            press.update()
        self.saved.set_text(f"saved {state.saved_at:%H:%M:%S}")
        if state.problems:
            self._say(f"the file was edited and cannot be read: {state.problems[0]}")

    async def _step(self, act: Callable[..., Any]) -> None:
        try:
            await self.workbench.surely(act, key=str(uuid.uuid4()))
        except WellheardError as error:
            self._say(str(error))

    async def _commit(self, changes: Sequence[dict[str, Any]], what: str) -> str:
        """Change the document; what is wrong with it, or ''."""
        try:
            await self.workbench.surely(
                self.desk.commit,
                changes,
                base=self.version,
                key=str(uuid.uuid4()),
                what=what,
                unit=self.unit,
            )
        except Conflict as error:
            return "; ".join(clash.what for clash in error.clashes) or str(error)
        except InputError as error:
            first = error.problems[0] if error.problems else None
            return str(error) if first is None else f"{first.what}; {first.allowed}"
        except WellheardError as error:
            return str(error)
        self._told()
        return ""

    # Questions ---------------------------------------------------------------------------------

    def _show(self, questions: Sequence[AskedQuestion]) -> None:
        self.list.clear()
        self.list.classes(remove="old")
        counting = sum(one.counts for one in questions)
        rest = len(questions) - counting
        self.count.set_text(
            f"{counting} that move the worst place, {rest} more" if counting else f"{rest}"
        )
        with self.list:
            for number, one in enumerate(questions):
                if number == counting and counting:
                    with tag("li", classes="part"):
                        tag("h3", "Of less weight, or needed for the job all the same")
                self._question(one)

    def _question(self, one: AskedQuestion) -> None:
        with tag("li", classes="question", value=one.rank):
            tag("span", str(one.rank), classes="rank soft", aria_hidden="true")
            with tag("div", classes="said"):
                tag("p", one.sentence, classes="sentence")
                with tag("p", classes="note"):
                    tag("span", f"Ask {one.who}", classes="strong")
                    tag("span", f" · {one.ask_to} · {one.why}")
                if one.taken:
                    with tag("p", classes="taken"):
                        tag("span", "taken so far: ", classes="soft")
                        tag("span", one.taken, classes="told" if one.said != "measured" else "")
                        tag("span", f", {one.said}", classes="soft")
                if one.effects:
                    _effects(one.effects)
                if one.field is not None:
                    self._answer(one, one.field)
                elif one.surface:
                    button("choose it among the surfaces", self._surface(one.surface))
                else:
                    tag("p", "The answer goes on the sheet; no figure takes it.", classes="note")

    def _surface(self, path: str) -> Callable[[], Awaitable[None]]:
        async def act() -> None:
            self.surfaces.show(path)
            with self.client:
                ui.run_javascript(
                    "document.getElementById('surfaces')?.scrollIntoView({block: 'start'})"
                )

        return act

    def _answer(self, one: AskedQuestion, field: Answerable) -> None:
        with tag("form", classes="answer", novalidate=True) as form:
            line = _line(one, field)
            if field.bases:
                _choice("basis", "how it is known", field.bases, _next(field.basis))
            tag("button", "answer", classes="press", type="submit")
            wrong = tag("span", classes="wrong", role="alert", hidden=True)

        async def take(typed: Form) -> None:
            try:
                changes = answering.operations(field, typed)
            except ValueError as error:
                said = str(error)
            else:
                about = one.topic.replace("-", " ").replace(":", " ")
                said = await self._commit(changes, f"answer: {about}")
            if said and line is not None:
                line.props["aria-invalid"] = "true"
                line.update()
            wrong.set_text(said)
            hide(wrong, not said)

        submitted(form, take)

    # Sheets to take along ------------------------------------------------------------------------

    def _sheets(self) -> None:
        self.filled: list[Element] = []
        with tag("p", classes="sheets"):
            tag("span", "Sheet to take along, blank: ", classes="soft")
            for form, word in FORMS:
                button(word, self._sheet(form, blank=True), aria_label=f"blank sheet as {word}")
            tag("span", "with what is known: ", classes="soft")
            for form, word in FORMS:
                press = button(
                    word, self._sheet(form, blank=False), aria_label=f"filled sheet as {word}"
                )
                self.filled.append(press)
        self._sheets_ready()

    def _sheets_ready(self) -> None:
        for press in self.filled:
            if self.found is None:
                press.props["disabled"] = True
            else:
                press.props.pop("disabled", None)
            press.update()

    def _sheet(self, form: str, *, blank: bool) -> Callable[[], Awaitable[None]]:
        async def act() -> None:
            found = None if blank else self.found
            try:
                data = await self.workbench.slowly(_written, found, form, self.unit)
            except WellheardError as error:
                self._say(str(error))
                return
            name = "survey-blank" if blank else f"{_stem(self.desk.name)}-survey"
            with self.client:
                ui.download.content(data, f"{name}.{form}")

        return act


def _written(found: survey.Survey | None, form: str, unit: Unit) -> bytes:
    return survey.written(found or survey.survey(None, unit=unit), form)


def _stem(name: str) -> str:
    """Name of a file without its folder and endings, of letters that every system takes."""
    last = name.rpartition("/")[2].removesuffix(".yaml").removesuffix(".room")
    return re.sub(r"[^A-Za-z0-9_-]+", "-", last).strip("-") or "room"


def _next(basis: str) -> str:
    """How an answer is likely to be known: what was only assumed is told now."""
    return basis if basis in ("drawing", "measured") else "told"


def _line(one: AskedQuestion, field: Answerable) -> Element | None:
    """The field that an answer is typed into, or chosen in; None for a choice."""
    if field.options and field.kind != "noise":
        _choice("value", one.sentence, (("", "–"), *field.options), field.value)
        return None
    line = typed_line(
        "value",
        field.value,
        label=one.sentence,
        classes="wide" if field.kind == "text" else "",
    )
    if field.kind == "noise":
        _choice("part", "unit", field.options, field.part)
    elif field.unit:
        tag("span", field.unit, classes="soft")
    return line


def _choice(name: str, label: str, options: Sequence[tuple[str, str]], now: str) -> None:
    with tag("select", classes="field", name_=name, aria_label=label):
        for value, words in options:
            option = tag("option", words, value=value)
            if value == now:
                option.props["selected"] = True


def _effects(effects: Sequence[tuple[str, str]]) -> None:
    with tag("details", classes="effects"):
        tag("summary", "what hangs on it", classes="soft")
        with tag("table"), tag("tbody"):
            for value, effect in effects:
                with tag("tr"):
                    tag("th", value, scope="row")
                    tag("td", effect)
