"""Asking for a design: what may be used and what is promised, the search, and what is offered."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Sequence

from nicegui import ui
from nicegui.element import Element
from nicegui.elements.mixins.text_element import TextElement

from wellheard.errors import WellheardError
from wellheard.web.elements import tag
from wellheard.web.jobs import LOOK_EVERY, Job
from wellheard.web.pages import offered
from wellheard.web.shell import unit_of
from wellheard.web.typed import Form, hide, searched, submitted, ticked
from wellheard.web.workbench import Workbench
from wellheard.workflow import asking, offers, tasks
from wellheard.workflow.asking import KINDS, FieldErrors
from wellheard.workflow.desk import Conflict, Desk, State
from wellheard.workflow.offers import Offer

PRODUCT, FIRST, MOUNTING, PROMISE = "use:", "first:", "mount:", "promise:"
"""Beginnings of the names of fields."""


def ask_panel(workbench: Workbench, desk: Desk) -> AskPanel:
    """The panel for one room, closed; made where it is called, shown over the right of the page."""
    return AskPanel(workbench, desk)


class AskPanel:
    """A sheet at the right of the page that asks for a design, shows one, and takes it."""

    def __init__(self, workbench: Workbench, desk: Desk) -> None:
        self.workbench, self.desk = workbench, desk
        client = ui.context.client
        self.unit = unit_of(client.request, desk.state.loaded.room.units)
        self.job: Job | None = None
        self._stop: Callable[[], None] = lambda: None
        self._wrong: dict[str, TextElement] = {}
        self._line: TextElement | None = None
        self._taken: set[str] = set()
        self._with_choices = True
        self.sheet = tag(
            "section", classes="ask", role="dialog", aria_label="Ask for a design", hidden=True
        )
        self.sheet.on("keydown.escape", self.close)
        with self.sheet:
            with tag("header", classes="ask-head"):
                self.title = tag("h1", "Ask for a design", tabindex="-1")
                close = tag("button", "close", type="button", classes="word")
                close.on("click", self.close)
            self.body = tag("div", classes="ask-body")
            self.timer = ui.timer(LOOK_EVERY, self._look, active=False)
        self._watch(workbench.jobs.last(tasks.DESIGN, desk.key))
        client.on_delete(lambda: self._stop())

    # Open and shut -------------------------------------------------------------------------------

    def open(self) -> None:
        """Show it: the form, or what is being worked out or offered for this room."""
        hide(self.sheet, False)
        if self.job is None:
            self._watch(self.workbench.jobs.last(tasks.DESIGN, self.desk.key))
        self._show()
        ui.run_javascript(f"getHtmlElement({self.title.id})?.focus()")

    def close(self) -> None:
        """Take it away; what is being worked out goes on."""
        hide(self.sheet, True)
        self.timer.deactivate()

    def _watch(self, job: Job | None) -> None:
        leave, self.job = self._stop, job
        self._stop = job.watch() if job is not None else lambda: None
        leave()
        self._taken = set()
        self._with_choices = True

    def _show(self) -> None:
        job = self.job
        if job is None or job.state == "cancelled":
            self._show_form()
        elif job.running:
            self._show_progress(job)
        elif job.state == "failed":
            self._show_form(failed=job.error)
        else:
            self._show_offer(job.result)

    def _fresh(self) -> Element:
        self.timer.deactivate()
        self._line = None
        self.body.clear()
        return self.body

    # The form ------------------------------------------------------------------------------------

    def _show_form(self, *, failed: str = "") -> None:
        shown = asking.form(self.desk.state.loaded, unit=self.unit)
        self._wrong = {}
        with self._fresh(), tag("form", classes="ask-form", novalidate=True) as form:
            if failed:
                tag("p", f"No design: {failed}", classes="wrong", role="alert")
            self._products(shown.products)
            if shown.microphones_only:
                tag("p", shown.microphones_only, classes="note")
            with tag("fieldset"):
                tag("legend", "Mountings")
                with tag("div", classes="ask-ticks"):
                    for key, word, allowed in shown.mountings:
                        _tick(MOUNTING + key, word, allowed)
                self._place_for("mountings")
            with tag("fieldset"):
                tag("legend", "Promise to every seat")
                for one in shown.promises:
                    hint = f"{one.allowed}; empty: not promised"
                    self._line_for(
                        one.name, PROMISE + one.name, one.words, one.value, one.unit, hint
                    )
            with tag("fieldset"):
                tag("legend", "Search")
                limit = f"{asking.LEAST_TIME:g} to {asking.MOST_TIME:g}; then the best so far"
                self._line_for(
                    "time_limit", "time_limit", "Time at most", shown.time_limit, "s", limit
                )
            with tag("div", classes="ask-acts"):
                tag("button", "find a design", type="submit", classes="press")
                tag("span", "Locked devices stay; others may move or go.", classes="note")
        submitted(form, self._ask)

    def _products(self, products: Sequence[asking.Product]) -> None:
        kinds: list[tuple[Element, list[tuple[Element, str]]]] = []

        def narrow(text: str) -> None:
            words = text.lower().split()
            for body, rows in kinds:
                fitting = [all(word in known for word in words) for _, known in rows]
                for (row, _), fits in zip(rows, fitting, strict=True):
                    hide(row, not fits)
                hide(body, not any(fitting))

        with tag("fieldset"):
            tag("legend", "Microphones and loudspeakers to choose from")
            search = tag(
                "input",
                classes="field ask-search",
                type="search",
                placeholder="search",
                aria_label="Search the products",
                autocomplete="off",
                maxlength=100,
            )
            searched(search, narrow)
            with tag("div", classes="ask-products"), tag("table"):
                with tag("thead"), tag("tr"):
                    for word, classes in (
                        ("Use", ""),
                        ("Reach", "num"),
                        ("List price", "num"),
                        ("First", "ask-first"),
                    ):
                        tag("th", word, classes=classes, scope="col")
                for kind, title in KINDS.items():
                    alike = [one for one in products if one.kind == kind]
                    if not alike:
                        continue
                    with tag("tbody") as body:
                        with tag("tr"):
                            tag("th", title, colspan=4, scope="rowgroup", classes="ask-kind")
                        kinds.append(
                            (body, [(_product_row(one), _known(one, title)) for one in alike])
                        )
            self._place_for("products")

    def _line_for(
        self, field: str, name: str, words: str, value: str, unit: str, hint: str
    ) -> None:
        with tag("div", classes="ask-line"), tag("label"):
            tag("span", words, classes="ask-word")
            line = tag(
                "input",
                classes="field",
                type="text",
                name_=name,
                autocomplete="off",
                inputmode="decimal",
                maxlength=60,
            )
            # What stands in it at first; what was typed since is never put back by the server.
            line.props[".defaultValue"] = value
            tag("span", unit, classes="soft ask-unit")
            tag("span", hint, classes="note")
        self._place_for(field)

    def _place_for(self, field: str) -> None:
        self._wrong[field] = tag("p", classes="wrong", role="alert", hidden=True)

    def _ask(self, filled: Form) -> None:
        for place in self._wrong.values():
            hide(place, True)
        state = self.desk.state
        try:
            asked = asking.asked(
                state.loaded,
                products=_after(PRODUCT, filled),
                preferred=_after(FIRST, filled),
                mountings=_after(MOUNTING, filled),
                promises={n: filled.get(PROMISE + n, "") for n, _, _ in asking.PROMISES},
                time_limit=filled.get("time_limit", ""),
            )
        except FieldErrors as error:
            for field, text in error.fields.items():
                self._wrong[field].set_text(text)
                hide(self._wrong[field], False)
            return
        self._start(state, asked)

    def _start(self, state: State, asked: asking.Asked) -> None:
        job = self.workbench.jobs.start(
            tasks.DESIGN,
            title="design",
            label=self.desk.key,
            text=state.loaded.document.text,
            path=str(self.desk.path),
            asked=asked,
            version=state.version,
            unit=self.unit,
        )
        self._watch(job)
        self._show_progress(job)

    # The search ----------------------------------------------------------------------------------

    def _show_progress(self, job: Job) -> None:
        with self._fresh(), tag("div", classes="ask-busy"):
            self._line = tag("p", job.progress, classes="busy-line", role="status")
            cancel = tag("button", "cancel", type="button", classes="word")
            cancel.on("click", self._cancel)
        self.timer.activate()

    def _cancel(self) -> None:
        if self.job is not None:
            self.workbench.jobs.forget(self.job)
        self._watch(None)
        self._show_form()

    def _look(self) -> None:
        if self.job is not None and self.job.running and self._line is not None:
            self._line.set_text(self.job.progress)
        else:
            self._show()

    # The offer -----------------------------------------------------------------------------------

    def _show_offer(self, offer: Offer) -> None:
        changed = offer.base != self.desk.state.loaded.document.text
        self._taken = {one.id for one in offer.devices if one.can_be_taken}
        with self._fresh(), tag("div", classes="ask-offer"):
            if changed:
                tag(
                    "p",
                    "The room has changed since this was worked out. What you accept is joined "
                    "with it; the figures below are those of before.",
                    classes="note",
                )
            offered.verdict(offer)
            if offer.changes:
                with tag("div", classes="ask-changes"):
                    tag("h2", "Asked otherwise than the document says")
                    with tag("ul"):
                        for text in offer.changes:
                            tag("li", text)
                    tick = _tick("choices", "write this into the document as well", checked=True)
                    ticked(tick, self._choose)
            offered.devices(offer, self._take_row)
            self._acts(offer)
            offered.seats(offer.seats, "as it is", "as offered")
            offered.proof(offer)
            offered.findings(offer)

    def _acts(self, offer: Offer) -> None:
        with tag("div", classes="ask-acts"):
            if not offer.changes_nothing or offer.changes:
                accept = tag("button", "accept all of it", type="button", classes="press")
                accept.on("click", lambda: self._accept(offer, None))
            self._part = tag("button", "", type="button", classes="word")
            self._part.on("click", lambda: self._accept(offer, frozenset(self._taken)))
            tag(
                "a",
                "side by side",
                classes="word",
                href=f"{offered.compare_address(self.desk.key)}?with=offer",
            )
            reject = tag("button", "reject", type="button", classes="word")
            reject.on("click", self._cancel)
        self._refused = tag("div", classes="ask-refused", role="alert", hidden=True)
        self._count(offer)

    def _take_row(self, offer: Offer, device: str, taken: bool) -> None:
        (self._taken.add if taken else self._taken.discard)(device)
        self._count(offer)

    def _choose(self, chosen: bool) -> None:
        self._with_choices = chosen

    def _count(self, offer: Offer) -> None:
        of = sum(one.can_be_taken for one in offer.devices)
        self._part.set_text(f"accept only the {len(self._taken)} ticked of {of}")
        hide(self._part, not 0 < len(self._taken) < of)

    async def _accept(self, offer: Offer, devices: frozenset[str] | None) -> None:
        what = "accept a design" if devices is None else f"accept {', '.join(sorted(devices))}"
        try:
            text = await self.workbench.slowly(
                offers.accept, offer, devices, with_choices=self._with_choices
            )
            await self.workbench.surely(
                self.desk.commit_text,
                text,
                base=offer.version,
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


def _after(beginning: str, filled: Form) -> list[str]:
    """What is ticked among fields whose names begin alike."""
    return [n.removeprefix(beginning) for n, v in filled.items() if v and n.startswith(beginning)]


def _tick(name: str, word: str, checked: bool) -> Element:
    """A box to tick with its word; returned is the box."""
    with tag("label", classes="ask-tick"):
        box = tag("input", type="checkbox", name_=name, value="on", checked=checked)
        tag("span", word)
    return box


def _product_row(one: asking.Product) -> Element:
    with tag("tr") as row:
        with tag("td"), tag("label", classes="ask-tick"):
            tag("input", type="checkbox", name_=PRODUCT + one.id, value="on", checked=one.ticked)
            with tag("span", classes="ask-name"):
                tag("span", one.name)
                aside = one.id if not one.note else f"{one.id} · {one.note}"
                tag("span", aside, classes="note")
        tag("td", one.reach, classes="num")
        tag("td", one.price, classes="num")
        with tag("td", classes="ask-first"):
            tag(
                "input",
                type="checkbox",
                name_=FIRST + one.id,
                value="on",
                checked=one.preferred,
                aria_label=f"Take {one.name} first among equals",
            )
    return row


def _known(one: asking.Product, kind: str) -> str:
    return f"{one.id} {one.name} {kind} {one.mountings} {one.note}".lower()
