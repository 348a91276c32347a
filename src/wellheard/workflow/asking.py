"""What a design is asked for: products, mountings, the promise; as a form and as operations."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias, get_args

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Loudspeaker, Microphone
from wellheard.dossier.words import NBSP, brief, full_stop, sentence
from wellheard.errors import InputError
from wellheard.place.devices import why_no_loudspeakers
from wellheard.place.microphones import TIME_LIMIT, products_left
from wellheard.place.sounding import loudspeakers_left
from wellheard.room.choices import MOUNTINGS
from wellheard.room.document import Room
from wellheard.room.operations import apply
from wellheard.room.refused import OperationError
from wellheard.room.targets import Targets
from wellheard.units import Unit, format_length, money
from wellheard.workflow.load import Loaded

Operation: TypeAlias = dict[str, Any]

MOST_TIME, LEAST_TIME = 600.0, 1.0
"""Limits of what may be asked for. [s]"""

SOUNDING = "loudspeaker"

KINDS = {
    "ceiling": "On or below the ceiling",
    "table": "On the table",
    "lectern": "On the lectern",
    "wall": "On the wall",
    "front": "In front, with a loudspeaker",
    SOUNDING: "Loudspeakers",
}
"""Products by the way they are usually mounted."""

MOUNTING_WORDS = {
    "ceiling": "ceiling",
    "table": "table",
    "lectern": "lectern",
    "wall": "wall",
    "front": "front",
}

PROMISES = (
    ("sti_outbound", "STI at the far end", ""),
    ("direct_to_reverberant_db", "Direct to reverberant", "dB"),
    ("speech_to_noise_db", "Speech over noise", "dB"),
    ("sti_inbound", "STI in the room", ""),
    ("uniformity_db", "Loudest over quietest seat", "dB"),
    ("chance", "Wanted chance of each", "%"),
    ("price", "Price of what is placed", ""),
)
"""Targets that placement works to: name, words, unit as it is typed."""


@dataclass(frozen=True)
class Product:
    """One microphone or loudspeaker that may be chosen."""

    id: str
    name: str
    kind: str
    """A key of ``KINDS``."""
    price: str
    reach: str
    mountings: str
    note: str
    """Why it is not among the usual ones; '' where it is."""
    ticked: bool
    preferred: bool


@dataclass(frozen=True)
class Promise:
    """One target as it is typed."""

    name: str
    words: str
    value: str
    """Empty where it is not promised."""
    unit: str
    allowed: str


@dataclass(frozen=True)
class Form:
    """What may be asked for, as the document has it."""

    products: tuple[Product, ...]
    mountings: tuple[tuple[str, str, bool], ...]
    """Key, word, and whether it is allowed."""
    promises: tuple[Promise, ...]
    time_limit: str
    microphones_only: str
    """Why no loudspeakers are placed with them, as a sentence; '' where they are."""


@dataclass(frozen=True)
class Asked:
    """What somebody asked for.

    Attributes
    ----------
    operations : tuple of dict
        Changes of the document's choices and promise; empty where it is asked as it stands.
    time_limit : float
        [s]
    """

    operations: tuple[Operation, ...]
    time_limit: float = TIME_LIMIT


class FieldErrors(InputError):
    """What is wrong with a form, by the name of the field."""

    def __init__(self, fields: Mapping[str, str]) -> None:
        super().__init__("; ".join(f"{name}: {text}" for name, text in fields.items()))
        self.fields = dict(fields)


def form(loaded: Loaded, *, unit: Unit) -> Form:
    """The form for a document, filled with its choices and its promise."""
    room, choices = loaded.room, loaded.room.choices
    ticked = _ticked(room, loaded.catalogue)
    shown = [one for one in _known(loaded) if one.chosen_by_name or one.id in ticked]
    order = list(KINDS)
    return Form(
        products=tuple(
            sorted(
                (
                    Product(
                        id=one.id,
                        name=one.name,
                        kind=SOUNDING if isinstance(one, Loudspeaker) else one.mountings[0],
                        price=money(one.price, one.currency, cents=False),
                        reach=_reach(one, unit),
                        mountings=" or ".join(MOUNTING_WORDS[m] for m in one.mountings),
                        note=_note(one),
                        ticked=one.id in ticked,
                        preferred=one.id in choices.prefer,
                    )
                    for one in shown
                ),
                key=lambda p: (order.index(p.kind), p.note != "", p.id),
            )
        ),
        mountings=tuple((m, MOUNTING_WORDS[m], m in choices.mounting) for m in MOUNTINGS),
        promises=tuple(
            Promise(
                name,
                words,
                _typed(name, getattr(room.targets, name)),
                unit_ if name != "price" else room.project.currency,
                allowed(name),
            )
            for name, words, unit_ in PROMISES
        ),
        time_limit=f"{TIME_LIMIT:g}",
        microphones_only=_microphones_only(loaded),
    )


def _microphones_only(loaded: Loaded) -> str:
    why = why_no_loudspeakers(loaded.room, loaded.catalogue)
    if why == "":
        return "Microphones only: nothing is promised of the far end in the room."
    return "" if why is None else full_stop(sentence(why))


def _known(loaded: Loaded) -> list[Microphone | Loudspeaker]:
    """Everything that placement may be asked to choose from."""
    return [*loaded.catalogue.microphones, *loaded.catalogue.loudspeakers]


def _ticked(room: Room, catalogue: Catalogue) -> frozenset[str]:
    """Products that placement would choose from, whatever their mounting."""
    anywhere = room.choices.model_copy(update={"mounting": MOUNTINGS})
    asked_for = room.model_copy(update={"choices": anywhere})
    sounding = {product.id for product in loudspeakers_left(asked_for, catalogue)}
    try:
        hearing = {product.id for product in products_left(asked_for, catalogue)}
    except InputError:
        hearing = set()
    return frozenset(hearing | sounding)


def _reach(product: Microphone | Loudspeaker, unit: Unit) -> str:
    if isinstance(product, Loudspeaker):
        return f"{product.angle_deg:g}° wide"
    if not product.rated_distances:
        return "no rated distance"
    return f"to {format_length(product.usual_distance, unit=unit)}".replace(" ", NBSP)


def _note(product: Microphone | Loudspeaker) -> str:
    if product.status != "current":
        return product.status
    if product.by_name:
        return "only by name"
    measuring = isinstance(product, Microphone) and not product.selectable
    return "for measuring only" if measuring else ""


def _typed(name: str, value: float | None) -> str:
    if value is None:
        return ""
    return brief(100 * value, 1) if name == "chance" else brief(value, 2)


def allowed(name: str) -> str:
    """Range of a target in words, from the document's own rules.

    Examples
    --------
    >>> allowed("sti_outbound"), allowed("chance"), allowed("price")
    ('0 to 1', 'between 0 and 100', 'more than 0')
    """
    found: dict[str, float] = {}
    _bounds(Targets.model_fields[name].annotation, found)
    for rule in Targets.model_fields[name].metadata:
        _bound(rule, found)
    scale = 100 if name == "chance" else 1
    said = {key: brief(scale * value, 2) for key, value in found.items()}
    if "ge" in said and "le" in said:
        return f"{said['ge']} to {said['le']}"
    if "gt" in said and "lt" in said:
        return f"between {said['gt']} and {said['lt']}"
    return f"more than {said['gt']}" if "gt" in said else "any number"


def _bounds(annotation: Any, found: dict[str, float]) -> None:
    for one in (*get_args(annotation), *getattr(annotation, "__metadata__", ())):
        _bound(one, found)
        _bounds(one, found)


def _bound(rule: Any, found: dict[str, float]) -> None:
    for part in (rule, *getattr(rule, "metadata", ())):
        for name in ("ge", "gt", "le", "lt"):
            value = getattr(part, name, None)
            if isinstance(value, int | float):
                found[name] = float(value)


# What was filled in ------------------------------------------------------------------------------


def asked(
    loaded: Loaded,
    *,
    products: Sequence[str],
    preferred: Sequence[str],
    mountings: Sequence[str],
    promises: Mapping[str, str],
    time_limit: str = "",
) -> Asked:
    """What a filled form asks for; only what differs from the document becomes an operation.

    Parameters
    ----------
    loaded : Loaded
        The document that the form was made for.
    products, preferred, mountings : sequence of str
        What is ticked.
    promises : mapping of str to str
        What was typed, by the names of ``PROMISES``; empty for what is not to be promised.
    time_limit : str
        What was typed. [s]

    Raises
    ------
    FieldErrors
        Something cannot be meant; by field: a name of ``PROMISES``, ``products``, ``mountings``
        or ``time_limit``.
    """
    wrong: dict[str, str] = {}
    operations = [
        *_products(loaded, products, preferred, wrong),
        *_mountings(loaded, mountings, wrong),
        *(
            found
            for name, _, _ in PROMISES
            if name in promises and (found := _promise(loaded, name, promises[name], wrong))
        ),
    ]
    limit = TIME_LIMIT
    if time_limit.strip():
        limit = _number(time_limit.lower().removesuffix("s")) or math.nan
    if not LEAST_TIME <= limit <= MOST_TIME:
        wrong["time_limit"] = (
            f"“{_short(time_limit)}” is no time limit; {LEAST_TIME:g} to {MOST_TIME:g} seconds"
        )
    if wrong:
        raise FieldErrors(wrong)
    return Asked(tuple(operations), limit)


def _products(
    loaded: Loaded, ticked: Sequence[str], preferred: Sequence[str], wrong: dict[str, str]
) -> list[Operation]:
    room, choices = loaded.room, loaded.room.choices
    known = {one.id: one for one in _known(loaded)}
    wanted = [name for name in known if name in set(ticked)]
    unknown = [name for name in ticked if name not in known]
    if unknown:
        wrong["products"] = f"no product “{_short(unknown[0])}” in the catalogue"
    elif not any(isinstance(known[name], Microphone) for name in wanted):
        wrong["products"] = "tick at least one microphone"
    made: list[Operation] = []
    if frozenset(wanted) != _ticked(room, loaded.catalogue):
        others = [name for name in choices.allow if name not in known]
        free = choices.model_copy(update={"allow": (), "exclude": ()})
        usual = _ticked(room.model_copy(update={"choices": free}), loaded.catalogue)
        allow = [] if frozenset(wanted) == usual and not others else [*others, *wanted]
        made.append({"path": "choices.allow", "set": allow})
        kept = [name for name in choices.exclude if name not in wanted]
        if tuple(kept) != choices.exclude:
            made.append({"path": "choices.exclude", "set": kept})
    first = [name for name in choices.prefer if name in preferred or name not in known]
    first += [name for name in known if name in preferred and name not in first]
    if tuple(first) != room.choices.prefer:
        made.append({"path": "choices.prefer", "set": first})
    return made


def _mountings(loaded: Loaded, ticked: Sequence[str], wrong: dict[str, str]) -> list[Operation]:
    wanted = tuple(m for m in MOUNTINGS if m in ticked)
    if not wanted:
        wrong["mountings"] = "tick at least one mounting"
        return []
    if set(wanted) == set(loaded.room.choices.mounting):
        return []
    return [{"path": "choices.mounting", "set": list(wanted)}]


def _promise(loaded: Loaded, name: str, text: str, wrong: dict[str, str]) -> Operation | None:
    """The change that a typed target asks for; None for none."""
    now = getattr(loaded.room.targets, name)
    path = f"targets.{name}"
    if not text.strip() or text.strip() in ("–", "-", "none"):
        return None if now is None else {"path": path, "set": None}
    if text.strip() == _typed(name, now):
        return None
    unit = {n: u for n, _, u in PROMISES}[name] or loaded.room.project.currency
    bare = re.sub(rf"(?i)\s*{re.escape(unit)}\s*$", "", text.replace(NBSP, " ").strip())
    number = _number(bare)
    if number is None:
        wrong[name] = f"“{_short(text)}” is no number; {allowed(name)}, or empty for no promise"
        return None
    value = number / 100 if name == "chance" else number
    operation = {"path": path, "set": value}
    try:
        apply(loaded.room, [operation], unit="m")
    except OperationError:
        said = _short(bare).replace("-", "−")
        wrong[name] = f"{said} is out of range; {allowed(name)}"
        return None
    return None if now is not None and math.isclose(now, value, abs_tol=1e-9) else operation


def _number(text: str) -> float | None:
    plain = text.strip().replace("−", "-").replace(NBSP, "").replace(" ", "")
    if re.fullmatch(r"[+-]?\d{1,9}(,\d{1,2})?", plain) and plain.count(",") == 1:
        plain = plain.replace(",", ".")
    if not re.fullmatch(r"[+-]?(\d{1,9}(\.\d{0,9})?|\.\d{1,9})", plain):
        return None
    return float(plain)


def _short(text: str) -> str:
    text = text.strip()
    return text if len(text) <= 40 else text[:39] + "…"
