"""What an offer says, as parts of a page: verdict, devices, seats, proof, findings."""

from __future__ import annotations

import base64
from collections.abc import Awaitable, Callable, Sequence

from nicegui import ui

from wellheard.web.elements import tag
from wellheard.web.shell import room_address
from wellheard.web.typed import ticked
from wellheard.workflow.cards import State, state_mark
from wellheard.workflow.choosing import Choices, Design
from wellheard.workflow.offered_devices import OfferedDevice
from wellheard.workflow.offers import Offer, OfferedSeat, Standing
from wellheard.workflow.passages import Passage
from wellheard.workflow.suggestion import Suggestion

WHAT = {
    "new": "new",
    "moved": "moves",
    "changed": "other product",
    "removed": "goes",
    "stays": "stays",
    "locked": "locked, stays",
}


def compare_address(key: str) -> str:
    """Address of the page that sets two versions of a room side by side."""
    return room_address(key, "/compare")


def mark(state: State) -> None:
    """The mark of a state, for the eye; its word stands beside it."""
    with tag("span", classes="ask-mark", aria_hidden="true"):
        ui.html(state_mark(state), sanitize=False)


def verdict(offer: Offer) -> None:
    """Whether the promise is kept, why not fewer, and what would have to give."""
    states = {seat.after.state for seat in offer.seats if seat.after is not None}
    order: tuple[State, ...] = ("broken", "at risk", "not assessed")
    worst: State = next((s for s in order if s in states), "kept")
    if not offer.kept and worst == "kept":
        worst = "broken"
    with tag("div", classes="ask-verdict"):
        mark(worst)
        tag("h2", offer.sentence)
    if offer.status == "gap":
        tag("p", "The time was over before the search was: the best design found so far.")
    tag("p", offer.why)
    if offer.gives:
        tag("h3", "What would have to give for the whole promise")
        with tag("ul", classes="ask-list"):
            for text in offer.gives:
                tag("li", text)


def devices(offer: Offer, take: Callable[[Offer, str, bool], None]) -> None:
    """Microphones, loudspeakers and amplifiers, each with a box to tick."""
    tag("h2", "Devices")
    if not offer.devices:
        tag("p", "None: no place serves anybody.", classes="soft")
        return
    with tag("table", classes="ask-devices"):
        with tag("thead"), tag("tr"):
            for word in ("Take", "", "Product"):
                tag("th", word, scope="col")
            for word in ("East", "North", "Height", "Installed"):
                tag("th", word, scope="col", classes="num")
        with tag("tbody"):
            for one in offer.devices:
                _device(offer, one, take)
        with tag("tfoot"), tag("tr"):
            tag("td", f"All of them as installed: {_price(offer)}", colspan=7)


def _price(offer: Offer) -> str:
    if offer.price_before == "none":
        return offer.price
    return f"{offer.price}, now {offer.price_before}: {offer.price_step}"


def _device(offer: Offer, one: OfferedDevice, take: Callable[[Offer, str, bool], None]) -> None:
    with tag("tr", classes="ask-gone" if one.what == "removed" else "", title=one.words):
        with tag("td"), tag("label", classes="ask-tick"):
            if one.can_be_taken:
                box = tag("input", type="checkbox", value="on", checked=True)
                ticked(box, lambda taken: take(offer, one.id, taken))
            tag("strong", one.id)
        tag("td", WHAT[one.what])
        tag("td", one.product, classes="ask-product")
        if one.is_housed:
            tag("td", one.mounting, colspan=3, classes="soft")
        for words in () if one.is_housed else (one.east, one.north, one.height):
            tag("td", words, classes="num")
        tag("td", one.price, classes="num")


def designs(found: Choices, take: Callable[[Design], Awaitable[None]]) -> None:
    """Designs to choose from: where they stand by price and chance, and a button for each."""
    for theme, drawn in found.charts.items():
        data = base64.b64encode(drawn.encode()).decode("ascii")
        tag(
            "img",
            src=f"data:image/svg+xml;base64,{data}",
            alt="Designs by price and chance, as in the table below",
            classes=f"ask-chart on-{theme}",
        )
    with tag("table", classes="ask-designs"):
        with tag("thead"), tag("tr"):
            for word, classes in (
                ("Design", ""),
                ("What is placed", ""),
                ("Price", "num"),
                ("Chance", "num"),
                ("Done to the building", ""),
            ):
                tag("th", word, scope="col", classes=classes)
        with tag("tbody"):
            for one in found.designs:
                _design(one, take)


def _design(one: Design, take: Callable[[Design], Awaitable[None]]) -> None:
    async def taken() -> None:
        await take(one)

    with tag("tr", classes="ask-design"):
        tag("td", one.name, classes="strong ask-words")
        tag("td", one.products, classes="ask-words")
        tag("td", one.price, classes="num")
        tag("td", one.chance, classes="num")
        tag("td", one.done, classes="ask-words soft")
    with tag("tr", classes="ask-why"), tag("td", colspan=5, classes="ask-words"):
        button = tag("button", "Take this one", type="button", classes="word")
        button.props["aria-label"] = f"Take this one: {one.name}"
        button.on("click", taken)
        tag("span", one.why, classes="soft")


def seats(rows: Sequence[OfferedSeat], left: str, right: str, alike: int = 0) -> None:
    """Every seat before and after; those that are told alike only counted."""
    tag("h2", "Seats")
    if not rows:
        tag("p", "Every seat is told as before.", classes="soft")
        return
    with tag("table", classes="ask-seats"):
        with tag("thead"):
            with tag("tr"):
                tag("th", "")
                tag("th", left, colspan=3, scope="colgroup", classes="ask-state")
                tag("th", right, colspan=4, scope="colgroup", classes="ask-state")
            with tag("tr"):
                tag("th", "Seat", scope="col")
                for _ in range(2):
                    tag("th", "State", scope="col", classes="ask-state")
                    tag("th", "STI", scope="col", classes="num")
                    tag("th", "Chance", scope="col", classes="num")
                tag("th", "Binds", scope="col")
        with tag("tbody"):
            for row in rows:
                with tag("tr", classes="ask-lost" if row.lost else "ask-won" if row.won else ""):
                    tag("td", row.id, classes="strong")
                    _standing(row.before)
                    _standing(row.after)
                    tag("td", row.after.binds if row.after else "–")
    if alike:
        tag("p", f"Told alike in both: {alike}.", classes="note")


def _standing(one: Standing | None) -> None:
    if one is None:
        tag("td", "not there", colspan=3, classes="soft")
        return
    with tag("td", classes="ask-state"):
        mark(one.state)
        tag("span", one.state)
    tag("td", one.sti, classes="num")
    tag("td", one.chance, classes="num")


def proof(offer: Offer) -> None:
    """The proof as the dossier says it."""
    with tag("details", classes="ask-proof", open=True):
        tag("summary", "The proof")
        passages(offer.proof)


def wiring(suggestion: Suggestion) -> None:
    """The wiring that comes with the whole of it: what it comes to, and all of it."""
    tag("h2", "Wiring")
    tag("p", suggestion.sentence)
    with tag("details", classes="ask-proof"):
        tag("summary", "Cables, what is bought for them, and the proof")
        passages(suggestion.passages)


def passages(rows: Sequence[Passage]) -> None:
    """Pieces of the dossier, one under the other."""
    for one in rows:
        _passage(one)


def _passage(one: Passage) -> None:
    if one.kind == "heading":
        with tag("h3", one.rows[0][0]):
            if one.aside:
                tag("span", one.aside, classes="note ask-aside")
    elif one.kind == "paragraph":
        tag("p", one.rows[0][0], classes="note" if one.small else "")
    elif one.kind == "list":
        with tag("ul", classes="ask-list"):
            for lead, text in one.rows:
                with tag("li"):
                    if lead:
                        tag("strong", f"{lead}. ")
                    tag("span", text)
    elif one.kind == "facts":
        with tag("dl", classes="ask-facts"):
            for label, text in one.rows:
                tag("dt", label)
                tag("dd", text)
    else:
        _table(one)


def _table(one: Passage) -> None:
    sides = ["num" if right else "ask-words" for right in one.right]
    with tag("div", classes="ask-wide"), tag("table"):
        with tag("thead"), tag("tr"):
            for word, side in zip(one.head, sides, strict=True):
                tag("th", word, scope="col", classes=side)
        with tag("tbody"):
            for row in one.rows:
                with tag("tr"):
                    for text, side in zip(row, sides, strict=True):
                        tag("td", text, classes=side)


def findings(offer: Offer) -> None:
    """What the rules say of the room with the offer in it, new ones first."""
    with tag("details", classes="ask-findings", open=any(f.new for f in offer.findings)):
        new = sum(one.new for one in offer.findings)
        tag(
            "summary", f"Findings: {offer.findings_words}{f'; {new} only with this' if new else ''}"
        )
        for one in sorted(offer.findings, key=lambda f: not f.new):
            with tag("div", classes="ask-finding"):
                mark(one.state)
                with tag("div"):
                    if one.new:
                        tag("strong", "Only with this offer. ")
                    tag("span", one.message)
                    if one.remedy:
                        tag("p", one.remedy, classes="soft")
