"""All rooms of a folder on their shelves, worst first, and the sentence that begins another."""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass

from fastapi import Request
from nicegui import Client, background_tasks, ui
from nicegui.element import Element

from wellheard.errors import InputError, Problem, WellheardError
from wellheard.units import Unit
from wellheard.web.elements import tag
from wellheard.web.loops import in_loop
from wellheard.web.shell import room_address, shell, unit_of
from wellheard.web.typed import Field, Form, button, hide, submitted
from wellheard.web.workbench import Workbench
from wellheard.workflow import cards, newroom
from wellheard.workflow.cards import Outlook, Outlooks, State
from wellheard.workflow.load import Loaded, load
from wellheard.workflow.shelf import Card

KEPT_IN = ".wellheard/cards.json"
"""Where predictions are remembered, in the folder of the rooms."""
AT_ONCE = 12
"""Cards that are put on a page between two looks at other events."""


def register(workbench: Workbench) -> None:
    """Declare the page of all rooms."""
    known = Outlooks(workbench.shelf.folder / KEPT_IN)

    @ui.page("/")
    def rooms(request: Request, client: Client) -> None:
        _Rooms(workbench, known, client, unit_of(request)).open()


@dataclass
class _Entry:
    """One room on the page."""

    card: Card
    element: Element
    shown: Card | None = None
    """The card of which everything below was read: the shelf makes another at every change."""
    loaded: Loaded | None = None
    outlook: Outlook | None = None
    stale: bool = True
    """Whether the outlook is of an earlier version, or not there yet."""
    problems: tuple[Problem, ...] = ()
    why: str = ""
    """Why it cannot be predicted."""
    renaming: bool = False

    @property
    def places(self) -> int:
        """Seats and standing areas."""
        people = self.loaded.room.people if self.loaded else None
        return len(people.seats) + len(people.standing) if people else 0

    @property
    def order(self) -> tuple[int, tuple[int, float, float], str]:
        """Worst first: what cannot be read, then by how it fares, then by name."""
        outlook = self.outlook or Outlook({}, why="")
        unread = self.loaded is None and bool(self.problems)
        badness = outlook.badness if self.outlook else (2, 1.0, 1.0)
        return (0 if unread else 1, badness, self.card.name)


class _Rooms:
    """One open page."""

    def __init__(self, workbench: Workbench, known: Outlooks, client: Client, unit: Unit) -> None:
        self.workbench = workbench
        self.shelf = workbench.shelf
        self.known = known
        self.client = client
        self.unit = unit
        self.entries: dict[str, _Entry] = {}
        self.due = asyncio.Event()
        self.making = False
        self.gone = ""
        """What was deleted last and can be brought back; empty for nothing."""

    def open(self) -> None:
        """Build the page, then fill it as files are read and rooms predicted."""
        with shell(title="Rooms", styles=("rooms.css",)) as page:
            page.body.classes("shelves")
            with page.middle:
                self.sum = tag("div", classes="sum", aria_label="Places by how they fare")
            with page.tools:
                self.undo = tag("button", "undo", type="button", classes="word", hidden=True)
                self.undo.on("click", self._bring_back)
                tag("a", "catalogue", href="/catalogue")
                self.total = tag("span", classes="note")
            self._sentence()
            self.busy = tag("p", classes="busy-line", role="status", aria_live="polite")
            self.said = tag("p", classes="wrong aside", role="alert", hidden=True)
            self.grid = tag("div", classes="rooms")
            self.empty = _blank_sheet(self._first)
            self.empty.props["hidden"] = True
        stop = self.shelf.subscribe(in_loop(self.due.set))
        self.due.set()
        task = background_tasks.create(self._live(), name="rooms")

        def gone() -> None:
            stop()
            task.cancel()

        self.client.on_delete(gone)

    # The sentence --------------------------------------------------------------------------------

    def _sentence(self) -> None:
        usual = newroom.USUAL[self.unit]
        with tag("section", classes="begin", aria_label="New room"):
            with tag("form", classes="new", novalidate=True) as form:
                problems = tag("div", classes="problems")
                self.fields: dict[str, Field] = {}
                for before, name, label in (
                    ("New room", "length", "length"),
                    ("by", "width", "width"),
                    ("and", "height", "height"),
                    ("high, for", "seats", "seats"),
                ):
                    tag("span", before)
                    self.fields[name] = Field(
                        name,
                        usual[name],
                        label=label,
                        classes="s" if name == "seats" else "",
                        problems=problems,
                    )
                tag("span", "seats")
                tag("button", "draw it", classes="press", type="submit")
                with tag("details", classes="examples"):
                    tag("summary", "from an example", classes="word")
                    with tag("ul"):
                        for name in self.shelf.examples():
                            with tag("li"):
                                button(name.replace("-", " "), self._from_example(name))
                tag("a", "from a plan", href="/plan", classes="word")
                tag("span", self._scale_words(), classes="end soft")
            problems.move(target_index=-1)
        submitted(form, self._draw)

    def _scale_words(self) -> str:
        bar = "1 m" if self.unit == "m" else "1 m (3 ft 3⅜ in)"
        return f"worst first · all plans to one scale: each bar of a shelf is {bar}"

    async def _draw(self, form: Form) -> None:
        found = newroom.problems(form, unit=self.unit)
        for name, box in self.fields.items():
            box.wrong(found.get(name, ""))
        if found:
            return
        size = (form["length"].strip(), form["width"].strip(), form["height"].strip())
        await self._making(
            lambda: self.shelf.new(
                size=size, seats=int(form["seats"]), unit=self.unit, title="New room"
            )
        )

    async def _first(self) -> None:
        await self._draw(newroom.USUAL[self.unit])

    def _from_example(self, name: str) -> Callable[[], Awaitable[None]]:
        async def take() -> None:
            await self._making(lambda: self.shelf.from_example(name))

        return take

    async def _making(self, make: Callable[[], str]) -> None:
        """Make a room and go to it; a second press meanwhile makes no other."""
        if self.making:
            return
        self.making = True
        try:
            key = await self.workbench.surely(make)
        except WellheardError as error:
            self._say(str(error))
            return
        finally:
            self.making = False
        with self.client:
            ui.navigate.to(room_address(key))

    def _say(self, text: str) -> None:
        self.said.set_text(text)
        hide(self.said, not text)

    # Reading and predicting ------------------------------------------------------------------

    async def _live(self) -> None:
        while True:
            await self.due.wait()
            self.due.clear()
            try:
                await self._read_all()
                await self._predict_all()
            except WellheardError as error:
                self._say(str(error))

    async def _read_all(self) -> None:
        found = await self.workbench.slowly(self.shelf.rooms)
        self.gone = await self.workbench.surely(self.shelf.last_deleted)
        self._say(self.shelf.note)
        keys = {card.key for card in found}
        for key in [key for key in self.entries if key not in keys]:
            self.entries.pop(key).element.delete()
        for number, card in enumerate(found):
            entry = self.entries.get(card.key)
            if entry is None:
                with self.grid:
                    entry = _Entry(card, tag("article", classes="room"))
                self.entries[card.key] = entry
                if not card.read:
                    self._show(entry)
            entry.card = card
            if card.read and entry.shown is not card:
                entry.loaded, entry.problems = await self.workbench.slowly(_read, card)
                entry.shown = card
                entry.outlook, entry.stale = self._known(entry)
                self._show(entry)
            if number % AT_ONCE == 0:
                await asyncio.sleep(0)
        self._arrange()

    def _known(self, entry: _Entry) -> tuple[Outlook | None, bool]:
        if entry.loaded is None:
            return None, False
        found = self.known.known(entry.loaded)
        return (found, False) if found is not None else (entry.outlook, True)

    async def _predict_all(self) -> None:
        waiting = [one for one in self.entries.values() if one.stale and one.loaded is not None]
        for number, entry in enumerate(waiting, start=1):
            loaded = entry.loaded
            if loaded is None or self.entries.get(entry.card.key) is not entry:
                continue
            title = loaded.room.title or entry.card.name
            self.busy.set_text(f"predicting {number} of {len(waiting)}: {title} …")
            try:
                entry.outlook, entry.why = await self.workbench.slowly(self.known.of, loaded), ""
            except WellheardError as error:
                entry.outlook, entry.why = None, str(error)
            entry.stale = False
            self._show(entry)
            self._count()
            if self.due.is_set():
                break
        self.busy.set_text("")
        self._arrange()

    def _arrange(self) -> None:
        """Put the worst first; a card moves only if it must, so that no hand is led astray."""
        wanted = sorted(self.entries.values(), key=lambda one: one.order)
        there = self.grid.default_slot.children
        for index, entry in enumerate(wanted):
            if there[index] is not entry.element:
                entry.element.move(self.grid, index)
        self._count()

    def _count(self) -> None:
        states: Counter[State] = Counter()
        for entry in self.entries.values():
            if entry.outlook is not None:
                states.update(entry.outlook.counts)
        self.sum.clear()
        with self.sum:
            for state in cards.STATES:
                if states[state]:
                    _counted(state, states[state])
        places = sum(one.places for one in self.entries.values())
        count = len(self.entries)
        self.total.set_text(
            f"{count} room{'' if count == 1 else 's'}, {places} place{'' if places == 1 else 's'}"
        )
        hide(self.empty, bool(self.entries))
        hide(self.grid, not self.entries)
        self.undo.set_text(f"undo: bring back {self.gone}")
        hide(self.undo, not self.gone)

    # One card --------------------------------------------------------------------------------

    def _show(self, entry: _Entry) -> None:
        """Show a card as it is by now; one that is being renamed waits for the hand."""
        if not entry.renaming:
            self._build(entry)

    def _build(self, entry: _Entry) -> None:
        entry.element.clear()
        with entry.element:
            if entry.loaded is not None:
                self._readable(entry, entry.loaded)
            elif entry.problems:
                _unreadable(entry)
            else:
                _unread(entry)

    def _readable(self, entry: _Entry, loaded: Loaded) -> None:
        face = cards.face(loaded, unit=self.unit)
        plan = cards.drawn(loaded, entry.outlook)
        address = room_address(entry.card.key)
        with tag("a", classes="open", href=address, aria_label=f"Open {face.title}"):
            with tag("div", classes="pl"):
                ui.html(plan.svg, sanitize=False)
            tag("div", classes="shelf")
            if plan.metres > 1:
                tag("span", f"each bar {plan.metres} m", classes="scale note")
        if entry.renaming:
            self._rename_line(entry, face.title)
        else:
            with tag("h2"):
                tag("a", face.title, href=address)
                tag("span", face.subtitle, classes="soft", title=face.subtitle)
        old = " old" if entry.stale and entry.outlook is not None else ""
        with tag("p", classes=f"counts{old}"):
            _fares(entry)
        with tag("p", classes=f"worst{old}"):
            _worst(entry)
        with tag("p"):
            tag("span", face.size)
            tag("span", f"· {face.size_other}", classes="soft")
            devices = " · ".join(face.devices) or "no devices yet"
            tag("span", devices, classes="r" if face.devices else "r soft", title=devices)
        with tag("p", classes="last"):
            tag("span", face.stage, classes="soft")
            price = face.price or face.price_why
            about = "devices as installed, without tax, cables and set-up" if face.price else ""
            tag("span", price, classes="r" if face.price else "r soft", title=about)
        with tag("div", classes="acts"):
            for word, act in (
                ("rename", self._rename),
                ("duplicate", self._duplicate),
                ("delete", self._delete),
            ):
                button(word, _on(act, entry), aria_label=f"{word} {face.title}")

    def _rename_line(self, entry: _Entry, title: str) -> None:
        with tag("form", classes="rename", novalidate=True) as form:
            box = Field("title", title, label=f"New name of {title}", autofocus="")
            tag("button", "keep", classes="press", type="submit")
            button("leave", _on(self._leave, entry))

        async def rename(form: Form) -> None:
            name = form.get("title", "").strip()
            try:
                if not name:
                    raise InputError("nothing is here; write the name of the room")
                await self.workbench.surely(self.shelf.rename, entry.card.key, name)
            except WellheardError as error:
                box.wrong(_first_line(error))
                return
            await self._leave(entry)
            self.due.set()

        submitted(form, rename)
        form.on("keydown.esc", _on(self._leave, entry))

    async def _rename(self, entry: _Entry) -> None:
        entry.renaming = True
        self._build(entry)

    async def _leave(self, entry: _Entry) -> None:
        entry.renaming = False
        self._show(entry)

    async def _duplicate(self, entry: _Entry) -> None:
        await self._doing(self.shelf.duplicate, entry.card.key)

    async def _delete(self, entry: _Entry) -> None:
        await self._doing(self.shelf.delete, entry.card.key)

    async def _bring_back(self) -> None:
        await self._doing(self.shelf.undo_delete)

    async def _doing(self, act: Callable[..., object], *args: str) -> None:
        try:
            await self.workbench.surely(act, *args)
        except (WellheardError, KeyError) as error:
            gone = "this room is no longer there"
            self._say(gone if isinstance(error, KeyError) else str(error))
        else:
            self._say("")
        self.due.set()


def _read(card: Card) -> tuple[Loaded | None, tuple[Problem, ...]]:
    """What a file holds, or why it cannot be read."""
    if card.problems:
        return None, card.problems
    try:
        return load(card.path), ()
    except InputError as error:
        return None, error.problems or (Problem(card.name, 0, 0, "", str(error), ""),)


def _fares(entry: _Entry) -> None:
    """How many places are in each state."""
    if entry.outlook is None:
        tag("span", entry.why or "not predicted yet", classes="soft", title=entry.why)
        return
    for state, count in entry.outlook.counts.items():
        _counted(state, count)


def _counted(state: State, count: int) -> None:
    with tag("span", classes="cnt"):
        ui.html(cards.state_mark(state), sanitize=False)
        tag("span", f"{count} {state}")


def _worst(entry: _Entry) -> None:
    outlook = entry.outlook
    if outlook is None or outlook.worst is None:
        why = outlook.why if outlook else ""
        tag("span", f"worst place not assessed: {why}" if why else "", classes="soft")
        return
    worst = outlook.worst
    tag("span", "worst", classes="soft")
    tag("span", worst.place)
    tag("span", f"STI {worst.sti:.2f}")
    promise = "" if worst.promise is None else f", {worst.promise:.2f} promised"
    bar = ui.html(cards.range_bar(worst), sanitize=False).classes("iv")
    bar.props["title"] = f"10–90 %: {worst.low:.2f}–{worst.high:.2f}{promise}"


def _unread(entry: _Entry) -> None:
    """One of very many rooms, that is yet to be read."""
    tag("div", classes="pl")
    tag("div", classes="shelf")
    with tag("h2"):
        tag("a", entry.card.title, href=room_address(entry.card.key))
    tag("p", "reading …", classes="soft")


def _unreadable(entry: _Entry) -> None:
    """A file that cannot be read: what is wrong, in one line; it stays as it is."""
    first = entry.problems[0]
    with tag("div", classes="pl"):
        tag("div", classes="unread")
    tag("div", classes="shelf")
    with tag("h2"):
        tag("span", entry.card.name)
    with tag("p", classes="problem"):
        ui.html(cards.state_mark("broken"), sanitize=False)
        tag("span", _in_one_line(first), title=str(first))
    more = len(entry.problems) - 1
    words = "cannot be read; the file stays as it is"
    tag("p", f"{words}, {more} more problem{'s' if more > 1 else ''}" if more else words).classes(
        "soft"
    )


def _in_one_line(problem: Problem) -> str:
    place = f"line {problem.line}: " if problem.line else ""
    where = f"{problem.path}: " if problem.path else ""
    allowed = f"; {problem.allowed}" if problem.allowed else ""
    return f"{place}{where}{problem.what}{allowed}"


def _blank_sheet(act: Callable[[], Awaitable[None]]) -> Element:
    """The border round blank paper, one sentence, one action."""
    with tag("section", classes="blank") as sheet, tag("div", classes="paper"):
        tag("p", "No room is drawn in this folder yet.")
        button("draw the first one", act, classes="press")
    return sheet


def _on(act: Callable[[_Entry], Awaitable[None]], entry: _Entry) -> Callable[[], Awaitable[None]]:
    return lambda: act(entry)


def _first_line(error: WellheardError) -> str:
    problems: Sequence[Problem] = getattr(error, "problems", ())
    return _in_one_line(problems[0]) if problems else str(error)
