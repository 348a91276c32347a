"""Asking for a design: what may be used and what is promised, the search, and what is offered."""

from __future__ import annotations

from collections.abc import Sequence

from nicegui.element import Element
from nicegui.elements.mixins.text_element import TextElement

from wellheard.web.elements import tag
from wellheard.web.pages import offered
from wellheard.web.pages.jobsheet import NOT_OF_NOW, JobSheet
from wellheard.web.typed import Form, hide, searched, submitted, ticked
from wellheard.web.workbench import Workbench
from wellheard.workflow import asking, offers, tasks
from wellheard.workflow.asking import KINDS, FieldErrors
from wellheard.workflow.choosing import Choices, Design
from wellheard.workflow.desk import Desk
from wellheard.workflow.offers import Offer

PRODUCT, FIRST, MOUNTING, PROMISE = "use:", "first:", "mount:", "promise:"
"""Beginnings of the names of fields."""
SEVERAL = "several"
"""Name of the box that asks for more than one design."""


def ask_panel(workbench: Workbench, desk: Desk) -> AskPanel:
    """The panel for one room, closed; made where it is called, shown over the right of the page."""
    return AskPanel(workbench, desk)


class AskPanel(JobSheet):
    """A sheet at the right of the page that asks for a design, shows one, and takes it."""

    functions = (tasks.DESIGN, tasks.CHOOSE)
    heading = "Ask for a design"

    def __init__(self, workbench: Workbench, desk: Desk) -> None:
        self._wrong: dict[str, TextElement] = {}
        self._taken: set[str] = set()
        self._with_choices = True
        self._with_wiring = True
        super().__init__(workbench, desk)

    def _show_answer(self, answer: Offer | Choices) -> None:
        self._with_choices = True
        self._with_wiring = True
        if isinstance(answer, Choices):
            self._show_choices(answer)
        else:
            self._show_offer(answer)

    # The form ------------------------------------------------------------------------------------

    def _show_form(self, *, failed: str = "") -> None:
        shown = asking.form(self.desk.state.loaded, unit=self.unit)
        self._wrong = {}
        with self.fresh(), tag("form", classes="ask-form", novalidate=True) as form:
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
                _tick(
                    SEVERAL,
                    "several designs to choose from, by price, chance and what is done to the "
                    "building; each is searched for as long",
                    checked=False,
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
        try:
            asked = asking.asked(
                self.desk.state.loaded,
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
        if SEVERAL in filled:
            self.start(tasks.CHOOSE, "designs", asked=asked)
        else:
            self.start(tasks.DESIGN, "design", asked=asked)

    # Several designs -----------------------------------------------------------------------------

    def _show_choices(self, found: Choices) -> None:
        async def take(design: Design) -> None:
            what = f"take a design: {design.name}"
            await self.take(lambda: design.text, version=found.version, what=what)

        with self.fresh(), tag("div", classes="ask-offer"):
            if found.base != self.desk.state.loaded.document.text:
                tag("p", NOT_OF_NOW, classes="note")
            offered.passages(found.lead)
            if found.changes:
                tag("p", "Asked otherwise than the document says, and taken along:", classes="soft")
                with tag("ul", classes="ask-list"):
                    for text in found.changes:
                        tag("li", text)
            self.place_for_refusal()
            offered.designs(found, take)
            offered.passages(found.end)
            with tag("div", classes="ask-acts"):
                reject = tag("button", "reject all", type="button", classes="word")
                reject.on("click", self.drop)

    # The offer -----------------------------------------------------------------------------------

    def _show_offer(self, offer: Offer) -> None:
        changed = offer.base != self.desk.state.loaded.document.text
        self._taken = {one.id for one in offer.devices if one.can_be_taken}
        with self.fresh(), tag("div", classes="ask-offer"):
            if changed:
                tag("p", NOT_OF_NOW, classes="note")
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
            if offer.wiring is not None:
                offered.wiring(offer.wiring)
                tick = _tick("wiring", "wire all of it as well", checked=True)
                ticked(tick, self._choose_wiring)
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
            reject.on("click", self.drop)
        self.place_for_refusal()
        self._count(offer)

    def _take_row(self, offer: Offer, device: str, taken: bool) -> None:
        (self._taken.add if taken else self._taken.discard)(device)
        self._count(offer)

    def _choose(self, chosen: bool) -> None:
        self._with_choices = chosen

    def _choose_wiring(self, chosen: bool) -> None:
        self._with_wiring = chosen

    def _count(self, offer: Offer) -> None:
        of = sum(one.can_be_taken for one in offer.devices)
        self._part.set_text(f"accept only the {len(self._taken)} ticked of {of}")
        hide(self._part, not 0 < len(self._taken) < of)

    async def _accept(self, offer: Offer, devices: frozenset[str] | None) -> None:
        what = "accept a design" if devices is None else f"accept {', '.join(sorted(devices))}"
        await self.take(
            lambda: offers.accept(
                offer, devices, with_choices=self._with_choices, with_wiring=self._with_wiring
            ),
            version=offer.version,
            what=what,
        )


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
