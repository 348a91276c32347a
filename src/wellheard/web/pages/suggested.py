"""What is worked out for a room beside a design: its wiring, and finishes that bring its decay."""

from __future__ import annotations

from wellheard.web.elements import tag
from wellheard.web.pages import offered
from wellheard.web.pages.jobsheet import NOT_OF_NOW, JobSheet
from wellheard.web.typed import Form, submitted
from wellheard.workflow import tasks
from wellheard.workflow.suggestion import Suggestion


class SuggestionSheet(JobSheet):
    """A sheet that shows one suggestion with all its words, and takes it whole."""

    refusal: str
    """Begins the reason why nothing was found."""
    nothing: str
    """Said where the document is what would be suggested."""

    def _show_answer(self, answer: Suggestion) -> None:
        with self.fresh(), tag("div", classes="ask-offer"):
            if answer.base != self.desk.state.loaded.document.text:
                tag("p", NOT_OF_NOW, classes="note")
            with tag("div", classes="ask-verdict"):
                offered.mark(answer.state)
                tag("h2", answer.sentence)
            self._acts(answer)
            offered.passages(answer.passages)
        self.draw(answer.drawn.plain)

    def _acts(self, answer: Suggestion) -> None:
        async def accept() -> None:
            await self.take(lambda: answer.text, version=answer.version, what=answer.what)

        with tag("div", classes="ask-acts"):
            if answer.changes_nothing:
                tag("span", self.nothing, classes="note")
            else:
                button = tag("button", "accept", type="button", classes="press")
                button.on("click", accept)
            drop = tag("button", "ask anew", type="button", classes="word")
            drop.on("click", self.drop)
        self.place_for_refusal()

    def _said(self, words: str, failed: str) -> None:
        if failed:
            tag("p", f"{self.refusal}: {failed}", classes="wrong", role="alert")
        tag("p", words)


class WireSheet(SuggestionSheet):
    """Wires the room at least cost."""

    functions = (tasks.WIRE,)
    heading = "Wire the room"
    refusal = "No wiring"
    nothing = "The document is wired so already."

    def open(self) -> None:
        """Show it; there is nothing to ask first."""
        super().open()
        if self.job is None:
            self.start(tasks.WIRE, "wiring")

    def _show_form(self, *, failed: str = "") -> None:
        with self.fresh(), tag("form", classes="ask-form") as form:
            self._said(
                "Every device is joined at least cost, and the proof says how far that is sure: "
                "ports, cables with their ways, and what electronics have to be bought. Locked "
                "links stay; others may give way.",
                failed,
            )
            with tag("div", classes="ask-acts"):
                tag("button", "wire", type="submit", classes="press")
        submitted(form, lambda _: self.start(tasks.WIRE, "wiring"))


class TreatSheet(SuggestionSheet):
    """Looks for finishes."""

    functions = (tasks.TREAT,)
    heading = "Treat the room"
    refusal = "No treatment"
    nothing = "Nothing has to be laid."

    def _show_form(self, *, failed: str = "") -> None:
        with self.fresh(), tag("form", classes="ask-form") as form:
            self._said(
                "The cheapest panels, tiles and carpet that bring the room to its decay, on free "
                "walls, ceiling and floor. The decay is that of the promise, or what is "
                "recommended where nothing is promised; where seats need a drier room, that is "
                "solved for.",
                failed,
            )
            with tag("div", classes="ask-ticks"), tag("label", classes="ask-tick"):
                tag("input", type="checkbox", name_="curtains", value="on")
                tag("span", "let curtains hang before glass; they count only while drawn")
            with tag("div", classes="ask-acts"):
                tag("button", "find a treatment", type="submit", classes="press")
        submitted(form, self._ask)

    def _ask(self, filled: Form) -> None:
        self.start(tasks.TREAT, "treatment", curtains="curtains" in filled)
