"""The catalogue: what there is by kind, the whole sheet of one entry, and one's own added."""

from __future__ import annotations

import datetime
from collections.abc import Awaitable, Callable, Sequence
from pathlib import PurePath
from typing import Any

from fastapi import Request
from nicegui import Client, ui
from nicegui.events import GenericEventArguments

from wellheard.errors import InputError, WellheardError
from wellheard.units import plain_money
from wellheard.web import uploads
from wellheard.web.elements import tag
from wellheard.web.shell import shell
from wellheard.web.typed import button, changed, hide, put_text, searched, typed_line
from wellheard.web.workbench import Workbench
from wellheard.workflow import datasheet, finishing, offered, products
from wellheard.workflow import product_answers as answers
from wellheard.workflow.offered import Offer
from wellheard.workflow.product_answers import Catalogue, Entry

INVENTED = (
    "Every product, name and price that comes with the program is invented and generic. Figures "
    "of finishes are published ones, each with its source."
)
YOURS = (
    "Your own data sheets join these; none ever takes the place of a shipped one. They are read, "
    "checked and kept on this machine."
)
EXAMPLE = """wellheard-products: 1
accessories:
  our-rail: {name: Our mounting rail, price: 12, currency: EUR}
"""


def register(workbench: Workbench) -> None:
    """Declare the page of the catalogue."""

    @ui.page("/catalogue")
    async def page(request: Request, client: Client) -> None:
        shown = _Catalogue(workbench, client)
        await shown.open(request.query_params.get("entry", ""))


class _Catalogue:
    """One open page."""

    def __init__(self, workbench: Workbench, client: Client) -> None:
        self.workbench = workbench
        self.client = client
        self.kind = answers.KINDS[0]
        self.word = ""
        self.entry: Entry | None = None
        self.catalogue = Catalogue.shipped()
        self.broken = ""
        self.pieces = uploads.Pieces(offered.LARGEST)
        self.offer: Offer | None = None
        self.raw = b""

    async def open(self, wanted: str) -> None:
        """Build the page; an entry that was asked for is open."""
        await self._read()
        if wanted:
            self._find(wanted)
        with shell(title="Catalogue", where=[("Rooms", "/")], styles=("catalogue.css",)) as page:
            page.body.classes("catalogue")
            with page.middle:
                tag("p", INVENTED, classes="soft invented")
            with tag("section", classes="listed", aria_label="Entries"):
                self.unread = tag("p", classes="wrong", role="alert", hidden=True)
                self._choose()
                self.list = tag("div", classes="list")
                with tag("section", classes="own", aria_label="Add your own"):
                    self._own()
            self.sheet = tag("article", classes="datasheet", id="sheet")
        self._show_unread()
        self._list()
        self._sheet()
        if self.entry is not None:
            ui.run_javascript("document.querySelector('tr.on')?.scrollIntoView({block: 'nearest'})")

    async def _read(self) -> None:
        try:
            folder = self.workbench.shelf.folder
            self.catalogue = await self.workbench.slowly(products.own_catalogue, folder)
            self.broken = ""
        except InputError as error:
            self.catalogue, self.broken = Catalogue.shipped(), str(error)

    def _show_unread(self) -> None:
        if self.broken:
            first, _, more = self.broken.partition("\n")
            count = len(more.splitlines())
            said = f"{first}{f' (and {count} more)' if count else ''}"
            self.unread.set_text(f"your own products cannot be read, shipped ones only: {said}")
        hide(self.unread, not self.broken)

    def _find(self, wanted: str) -> None:
        for kind in answers.KINDS:
            entries: Sequence[Entry] = getattr(self.catalogue, kind)
            for one in entries:
                if one.id == wanted:
                    self.kind, self.entry = kind, one
                    return

    # The list --------------------------------------------------------------------------------

    def _choose(self) -> None:
        with tag("div", classes="choosing"):
            with tag("label"):
                tag("span", "Kind", classes="soft")
                with tag("select", classes="field") as kinds:
                    for kind in answers.KINDS:
                        option = tag("option", kind, value=kind)
                        if kind == self.kind:
                            option.props["selected"] = True
            with tag("label"):
                tag("span", "with the word", classes="soft")
                line = typed_line("word", "", kind="search")
            self.counted = tag("span", classes="note")

        async def of_kind(kind: str) -> None:
            self.kind = kind if kind in answers.KINDS else self.kind
            self._list()

        async def with_word(word: str) -> None:
            self.word = word
            self._list()

        changed(kinds, of_kind)
        searched(line, with_word)

    def _list(self) -> None:
        found = answers.found(self.catalogue, self.kind, self.word.strip())
        every: Sequence[Entry] = getattr(self.catalogue, self.kind)
        self.counted.set_text(f"{len(found)} of {len(every)}")
        self.list.clear()
        with self.list:
            if not found:
                tag("p", "Nothing of this kind has the word in its id, name or note.")
                return
            with tag("table"):
                with tag("thead"), tag("tr"):
                    for head in _heads(self.kind):
                        tag("th", head, scope="col", classes="num" if head in _FIGURES else "")
                with tag("tbody"):
                    for one in found:
                        self._line(one)

    def _line(self, one: Entry) -> None:
        here = self.entry is not None and one.id == self.entry.id
        own = answers.origin(self.catalogue, one)
        with tag("tr", classes="on" if here else ""):
            with tag("th", scope="row"):
                press = button(one.name, self._opening(one), classes="row")
                press.props["aria-pressed"] = str(here).lower()
            for head, cell in _cells(self.kind, one):
                tag("td", cell, classes="num" if head in _FIGURES else "")
            tag("td", "yours" if own else "", classes="soft", title=own.file if own else "")

    def _opening(self, one: Entry) -> Callable[[], Awaitable[None]]:
        async def act() -> None:
            self.entry = one
            self._list()
            self._sheet()

        return act

    # One sheet -------------------------------------------------------------------------------

    def _sheet(self) -> None:
        self.sheet.clear()
        one = self.entry
        with self.sheet:
            if one is None:
                tag("p", "Choose an entry: its whole data sheet is shown here.", classes="soft")
                return
            own = answers.origin(self.catalogue, one) is not None
            with tag("div", classes="headline"):
                tag("h1", one.name)
                tag("code", one.id, classes="soft")
            is_finish = isinstance(one, finishing.Finish)
            if not own and not is_finish:
                tag("p", "Invented and generic: no such product is sold.", classes="strong")
            if isinstance(one, finishing.Finish):
                ui.html(finishing.finish_curve(one), sanitize=False).classes("curve-box")
            with tag("table", classes="fields"), tag("tbody"):
                for label, value in datasheet.rows(self.catalogue, one):
                    with tag("tr"):
                        tag("th", label, scope="row")
                        tag("td", value)
            if datasheet.is_product(one):
                _table(
                    datasheet.INSTALLED,
                    datasheet.INSTALLED_HEAD,
                    datasheet.ways(self.catalogue, one),
                    figures=("price",),
                )
                _table(
                    "What each mounting takes",
                    datasheet.PARTS_HEAD,
                    datasheet.parts(self.catalogue, one),
                    figures=("price", "per metre"),
                )

    # One's own -------------------------------------------------------------------------------

    def _own(self) -> None:
        with tag("details"):
            tag("summary", "Add your own", classes="word")
            tag("p", YOURS, classes="note")
            with tag("p", classes="pick"):
                with tag("label", classes="press"):
                    tag("span", "choose a file …")
                    file = tag(
                        "input", classes="unseen", type="file", accept=".yaml,.yml,.csv,text/*"
                    )
                tag("span", "or paste it:", classes="soft")
            file.on("change", self._piece, js_handler=uploads.of_file(offered.LARGEST))
            with tag("form", classes="paste", novalidate=True) as form:
                self.text = tag(
                    "textarea",
                    classes="field",
                    name_="text",
                    rows=9,
                    spellcheck="false",
                    aria_label="Data sheets",
                    placeholder=EXAMPLE,
                )
                with tag("div", classes="pick"):
                    with tag("label"):
                        tag("span", "called", classes="soft")
                        self.called = typed_line("called", "ours")
                    with tag("label"):
                        tag("span", "as", classes="soft")
                        self.form = tag("select", classes="field", name_="form")
                        self._forms(offered.SEVERAL)
                    tag("button", "check it", classes="press", type="submit")
            self.answer = tag("div", classes="answer", role="status", aria_live="polite")
        form.on("submit", self._pasted, js_handler=uploads.of_form(offered.LARGEST))

    def _forms(self, now: str) -> None:
        self.form.clear()
        with self.form:
            for form, words in offered.FORMS:
                option = tag("option", words, value=form)
                if form == now:
                    option.props["selected"] = True

    async def _piece(self, event: GenericEventArguments) -> None:
        """A file, piece by piece: when the last has come, its text is shown and checked."""
        raw = self._whole(event.args)
        if raw is None:
            return
        name = PurePath(str(event.args.get("name", ""))[:200]).name
        form = offered.form_of(name, raw)
        kept = offered.name_of(name, form)
        put_text(self.called, kept.partition(".")[0])
        self._forms(form)
        put_text(self.text, raw.decode("utf-8", "replace"))
        await self._look(raw, called=kept, form=form)

    async def _pasted(self, event: GenericEventArguments) -> None:
        raw = self._whole(event.args)
        if raw is None:
            return
        called, form = (str(event.args.get(key, ""))[:200] for key in ("called", "form"))
        await self._look(raw, called=called, form=form)

    def _whole(self, sent: Any) -> bytes | None:
        """The bytes that were sent once all have come; None before, and where they are none."""
        try:
            return self.pieces.whole(sent)
        except uploads.Refused as refused:
            self._refuse(str(refused))
            return None

    def _refuse(self, text: str) -> None:
        self.answer.clear()
        with self.answer:
            tag("p", text, classes="wrong")

    async def _look(self, raw: bytes, *, called: str, form: str, update: bool = False) -> None:
        self.raw = raw
        self.answer.clear()
        with self.answer:
            tag("p", "reading and checking …", classes="busy-line")
        try:
            offer = await self.workbench.slowly(
                offered.look_through,
                raw,
                called=called,
                form=form,
                today=datetime.date.today(),
                update=update,
            )
        except WellheardError as error:
            self._refuse(str(error))
            return
        self.offer = offer
        self.answer.clear()
        with self.answer:
            self._looked(offer, called, form)

    def _looked(self, offer: Offer, called: str, form: str) -> None:
        there = offered.is_there(offer.name)
        if offer.fit:
            tag("p", f"{offer.name}: {offer.holds}.", classes="strong")
            _problems("Plausible? These can be added all the same:", offer.implausible)
            if offer.taken:
                with tag("details"):
                    count = len(offer.taken)
                    tag(
                        "summary",
                        f"{count} default{'s' if count > 1 else ''} taken",
                        classes="soft",
                    )
                    for line in offer.taken:
                        tag("p", line, classes="note")
            if offer.replaces:
                said = f"{offer.name} in your catalogue gives way to this, whole."
                tag("p", said, classes="wrong")
            word = "replace it" if offer.replaces else "add to your catalogue"
            button(word, self._take, classes="press")
            return
        tag("p", f"{offer.name} cannot be read:", classes="strong")
        if offer.error:
            tag("p", offer.error, classes="wrong")
        _problems("", offer.problems)
        if there:
            tag(
                "p",
                f"Your catalogue has {offer.name} already. Call this otherwise, or look whether it "
                "can take that place; nothing is replaced yet.",
                classes="note",
            )

            async def again() -> None:
                await self._look(self.raw, called=called, form=form, update=True)

            button("check it as a replacement", again)

    async def _take(self) -> None:
        offer, self.offer = self.offer, None  # a second press finds nothing to add
        if offer is None:
            return
        try:
            done = await self.workbench.surely(offered.take_in, offer)
        except WellheardError as error:
            self._refuse(str(error))
            return
        await self.workbench.surely(self.workbench.shelf.look)  # rooms that are open have it too
        await self._read()
        self._show_unread()
        self._list()
        self.answer.clear()
        with self.answer:
            what = "replaced" if done.replaced else "there already" if done.before else "added"
            tag("p", f"{done.path.name}: {what}.", classes="strong")
            for change in done.changes:
                fields = f": {', '.join(change.fields)}" if change.fields else ""
                tag("p", f"{change.id} {change.what}{fields}", classes="note")
            tag("p", f"Kept in {done.path}", classes="note")


_FIGURES = frozenset({"price", "per metre", "mean"})


def _heads(kind: str) -> tuple[str, ...]:
    if kind == "finishes":
        return ("Name", "mean", "trust", "")
    if kind in ("accessories", "cables"):
        return ("Name", "price", "per metre", "")
    return ("Name", "mounting", "price", "status", "")


def _cells(kind: str, one: Any) -> tuple[tuple[str, str], ...]:
    """Cells of a line behind the name."""
    if kind == "finishes":
        nrc = one.noise_reduction_coefficient
        mean = "each" if nrc is None else f"{nrc:.2f}"
        return (("mean", mean), ("trust", finishing.TRUST.get(one.trust, one.trust)))
    price = ("price", plain_money(one.price, one.currency))
    if kind in ("accessories", "cables"):
        metre = plain_money(one.price_per_metre) if one.price_per_metre else ""
        return (price, ("per metre", metre))
    status = "" if one.status == "current" else one.status
    return (("mounting", ", ".join(one.mountings)), price, ("status", status))


def _table(
    title: str, head: Sequence[str], rows: Sequence[Sequence[str]], *, figures: Sequence[str]
) -> None:
    tag("h2", title)
    with tag("table", classes="ways"):
        with tag("thead"), tag("tr"):
            for word in head:
                tag("th", word, scope="col", classes="num" if word in figures else "")
        with tag("tbody"):
            for row in rows:
                with tag("tr"):
                    for word, cell in zip(head, row, strict=True):
                        tag("td", cell, classes="num" if word in figures else "")


def _problems(title: str, found: Sequence[Any]) -> None:
    if not found:
        return
    if title:
        tag("p", title, classes="soft")
    with tag("ol", classes="problems"):
        for one in found:
            with tag("li", classes="wrong"):
                if one.line:
                    tag("span", f"line {one.line}, column {one.column}: ", classes="soft")
                where = f"{one.path}: " if one.path else ""
                tag("span", f"{where}{one.what}; {one.allowed}")
