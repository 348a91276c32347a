"""A sheet at the right of a page: work in another process, how far it is, what came of it."""

from __future__ import annotations

import uuid
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from nicegui import ui
from nicegui.element import Element
from nicegui.elements.mixins.text_element import TextElement
from nicegui.events import GenericEventArguments

from wellheard.errors import WellheardError
from wellheard.web.components.parts import Plan
from wellheard.web.elements import tag
from wellheard.web.jobs import LOOK_EVERY, Job
from wellheard.web.shell import unit_of
from wellheard.web.typed import hide
from wellheard.web.workbench import Workbench
from wellheard.workflow.desk import Conflict, Desk

_UNIT = "() => emit(globalThis.wellheardUnit?.() ?? '')"
NOT_OF_NOW = (
    "The room has changed since this was worked out. What you accept is joined with it; the "
    "figures below are those of before."
)


class JobSheet(ABC):
    """One kind of work on a room, closed at first; made where it is called.

    Parameters
    ----------
    workbench : Workbench
    desk : Desk
        The document that it is about.

    Attributes
    ----------
    functions : tuple of str
        What its jobs call.
    heading : str
        Its title, and how it is named to those who do not see it.
    beside : sequence of JobSheet
        Others that stand in the same place: one of them is open at most.
    plan : Plan or None
        Where what is suggested is drawn.
    """

    functions: tuple[str, ...]
    heading: str

    def __init__(self, workbench: Workbench, desk: Desk) -> None:
        self.workbench, self.desk = workbench, desk
        client = ui.context.client
        self.unit = unit_of(client.request, desk.state.loaded.room.units)
        self.job: Job | None = None
        self.beside: Sequence[JobSheet] = ()
        self.plan: Plan | None = None
        self._stop: Callable[[], None] = lambda: None
        self._line: TextElement | None = None
        self.sheet = tag(
            "section", classes="ask", role="dialog", aria_label=self.heading, hidden=True
        )
        self.sheet.on("keydown.escape", self.close)
        with self.sheet:
            with tag("header", classes="ask-head"):
                self.title = tag("h1", self.heading, tabindex="-1")
                close = tag("button", "close", type="button", classes="word")
                close.on("click", self.close)
            self.body = tag("div", classes="ask-body")
            self.timer = ui.timer(LOOK_EVERY, self._look, active=False)
        self._watch(self._last())
        client.on_delete(lambda: self._stop())

    # For each kind of work -----------------------------------------------------------------------

    @abstractmethod
    def _show_form(self, *, failed: str = "") -> None:
        """Say what is about to be worked out, and why it was not if it failed."""

    @abstractmethod
    def _show_answer(self, answer: Any) -> None:
        """Say what came of it."""

    def opened_by(self, button: Element) -> None:
        """Open it by a button, in the unit that the page shows at that moment."""

        def pressed(event: GenericEventArguments) -> None:
            if event.args in ("m", "ft"):
                self.unit = event.args
            self.open()

        button.on("click", pressed, js_handler=_UNIT)

    # Open and shut -------------------------------------------------------------------------------

    def open(self) -> None:
        """Show it: the form, or what is being worked out or offered for this room."""
        for other in self.beside:
            if other is not self:
                other.close()
        hide(self.sheet, False)
        if self.job is None:
            self._watch(self._last())
        self._show()
        ui.run_javascript(f"getHtmlElement({self.title.id})?.focus()")

    def close(self) -> None:
        """Take it away; what is being worked out goes on."""
        if self.is_open:
            self.draw(None)
        hide(self.sheet, True)
        self.timer.deactivate()

    @property
    def is_open(self) -> bool:
        """Whether it is in sight."""
        return "hidden" not in self.sheet.props

    def draw(self, drawn: Mapping[str, Any] | None) -> None:
        """Draw what is suggested over the plan; None takes it away."""
        if self.plan is not None:
            self.plan.propose(drawn)

    # The work ------------------------------------------------------------------------------------

    def start(self, function: str, title: str, **asked: Any) -> None:
        """Begin to work, and show how far it is."""
        for one in self.functions:
            former = self.workbench.jobs.last(one, self.desk.key)
            if former is not None:
                self.workbench.jobs.forget(former)
        state = self.desk.state
        job = self.workbench.jobs.start(
            function,
            title=title,
            label=self.desk.key,
            text=state.loaded.document.text,
            path=str(self.desk.path),
            version=state.version,
            unit=self.unit,
            **asked,
        )
        self._watch(job)
        self._show_progress(job)

    def drop(self) -> None:
        """End the work, keep nothing of it, and show the form."""
        if self.job is not None:
            self.workbench.jobs.forget(self.job)
        self._watch(None)
        self.draw(None)
        self._show_form()

    def _last(self) -> Job | None:
        found = [self.workbench.jobs.last(one, self.desk.key) for one in self.functions]
        return next((job for job in found if job is not None), None)

    def _watch(self, job: Job | None) -> None:
        leave, self.job = self._stop, job
        self._stop = job.watch() if job is not None else lambda: None
        leave()

    def _show(self) -> None:
        job = self.job
        if job is None or job.state == "cancelled":
            self._show_form()
        elif job.running:
            self._show_progress(job)
        elif job.state == "failed":
            self._show_form(failed=job.error)
        else:
            self._show_answer(job.result)

    def _show_progress(self, job: Job) -> None:
        with self.fresh(), tag("div", classes="ask-busy"):
            self._line = tag("p", job.progress, classes="busy-line", role="status")
            cancel = tag("button", "cancel", type="button", classes="word")
            cancel.on("click", self.drop)
        self.timer.activate()

    def _look(self) -> None:
        if self.job is not None and self.job.running and self._line is not None:
            self._line.set_text(self.job.progress)
        else:
            self._show()

    def fresh(self) -> Element:
        """The body, emptied."""
        self.timer.deactivate()
        self._line = None
        self.body.clear()
        return self.body

    # Taking it -----------------------------------------------------------------------------------

    def place_for_refusal(self) -> None:
        """Where it is said why something was not taken."""
        self._refused = tag("div", classes="ask-refused", role="alert", hidden=True)

    async def take(self, text: Callable[[], str], *, version: int, what: str) -> None:
        """Put a text in place of the document as one change, or say why not."""
        try:
            await self.workbench.surely(
                self.desk.commit_text,
                await self.workbench.slowly(text),
                base=version,
                key=str(uuid.uuid4()),
                what=what,
            )
        except Conflict as error:
            self._refuse([f"{c.what}: {c.yours} here, {c.theirs} meanwhile" for c in error.clashes])
            return
        except WellheardError as error:
            self._refuse(str(error).splitlines())
            return
        if self.job is not None:
            self.workbench.jobs.forget(self.job)
        self._watch(None)
        self.close()

    def _refuse(self, reasons: Sequence[str]) -> None:
        self._refused.clear()
        with self._refused:
            tag("p", "Nothing was changed. Ask anew, or mend this first:", classes="wrong")
            with tag("ul"):
                for reason in reasons:
                    tag("li", reason)
        hide(self._refused, False)
