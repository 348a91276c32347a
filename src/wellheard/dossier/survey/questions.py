"""Open questions: whom to ask, in which words, and why it matters."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from wellheard.dossier.survey.model import Question
from wellheard.dossier.survey.wordings import SUBJECTS, WORDINGS, Wording
from wellheard.predict.alternatives import standing_of
from wellheard.predict.sensitivity import Sensitivity
from wellheard.predict.tolerances import is_given
from wellheard.room.document import Room


def ranked(sensitivities: Sequence[Sensitivity], room: Room) -> tuple[Question, ...]:
    """Questions that the outbound prediction depends on, in the order given: most first."""
    return tuple(_of(s, room) for s in sensitivities)


def _of(found: Sensitivity, room: Room) -> Question:
    stem, wording, name = _wording(found.topic, room)
    asked = _named(wording.sentence, name)
    if found.standing == "told":
        noted = found.value.partition(", spectrum")[0]
        if found.topic.startswith("finish:"):
            noted = noted.replace("-", " ")  # an id, as people say it
        asked = f"We have noted: {noted}. {asked}"
        if found.topic == "positions":  # how far that is from a microphone tells nobody anything
            asked = f"So far the places are as you told us. {wording.sentence}"
    return Question(
        topic=found.topic,
        part=wording.part,
        path=found.path,
        taken=found.value,
        standing=found.standing,
        moved=found.moved,
        weight=found.weight,
        who=wording.who,
        sentence=asked,
        why=wording.why,
        subject=_named(SUBJECTS[stem], name),
    )


def _wording(topic: str, room: Room) -> tuple[str, Wording, str]:
    """Which sentence a topic is asked with, and the name that it takes."""
    stem, _, name = topic.rpartition(":")
    if stem == "noise-source":  # before all else: a source may be called as its kind is
        stem = f"noise-source:{room.noise.sources[name].kind}"
        return stem, WORDINGS[stem], name
    if topic in WORDINGS:
        return topic, WORDINGS[topic], ""
    if stem == "finish:wall" and name in room.space.walls:
        name = wall_name(room, name)
    return stem, WORDINGS[stem], name


def _named(words: str, name: str) -> str:
    """Words with the name in them; a door called door, or a projector so called, is named once.

    Examples
    --------
    >>> _named("Is the door “{}” wood?", "north-door"), _named("Is the door “{}” wood?", "door")
    ('Is the door “north door” wood?', 'Is the door wood?')
    """
    return re.sub(r"\b(\w[\w ]*) “\1”", r"\1", words.format(name.replace("-", " ")))


_COMPASS = (
    "east",
    "north-east",
    "north",
    "north-west",
    "west",
    "south-west",
    "south",
    "south-east",
)


def wall_name(room: Room, name: str) -> str:
    """A wall as people call it: its own name, or for w0, w1, … the side it stands on.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [1, 1]}}},
    ...     }
    ... )
    >>> [wall_name(room, w) for w in room.space.walls]
    ['south (w0)', 'east (w1)', 'north (w2)', 'west (w3)']
    """
    if not re.fullmatch(r"w\d+", name):
        return name
    (x0, y0), (x1, y1) = room.space.wall_ends(name)
    # The room is on its left, so it stands on the side to its right.
    outwards = math.degrees(math.atan2(-(x1 - x0), y1 - y0))
    return f"{_COMPASS[round(outwards / 45) % 8]} ({name})"


@dataclass(frozen=True)
class Needed:
    """Something that the job needs though no outbound prediction depends on it."""

    topic: str
    wording: Wording
    path: str
    known: Callable[[Room], bool]


def _never(room: Room) -> bool:
    return False


def _has(path: str) -> Callable[[Room], bool]:
    return lambda room: standing_of(room, path) in ("told", "drawing", "measured")


NEEDED: tuple[Needed, ...] = (
    Needed(
        "people-to-ask",
        Wording(
            1,
            "customer",
            "Whom may we call about the building, the ventilation and the network, and who "
            "decides in the end?",
            "Most answers below are theirs.",
        ),
        "project.client",
        _never,
    ),
    Needed(
        "region",
        Wording(
            1,
            "customer",
            "In which country and town is the building?",
            "It decides mains, cable jackets and the rules that hold.",
        ),
        "site.region",
        lambda room: room.site.region != "unknown",
    ),
    Needed(
        "seismic",
        Wording(
            1,
            "architect",
            "Do earthquake rules hold for what hangs from the ceiling?",
            "It decides bracing and safety bonds.",
        ),
        "site.seismic",
        lambda room: room.site.seismic != "unknown",
    ),
    Needed(
        "ceiling-module",
        Wording(
            3,
            "architect",
            "How large is one ceiling tile, and where does the grid begin? A ceiling plan or a "
            "photo from one corner helps.",
            "Microphones and loudspeakers take the middle of a tile.",
        ),
        "space.ceiling.module",
        lambda room: room.space.ceiling.kind != "tiles" or is_given(room, "space.ceiling.module"),
    ),
    Needed(
        "void-depth",
        Wording(
            3,
            "architect",
            "How much room is there above the ceiling, from the tiles to the slab?",
            "Housings and cable loops must fit above it.",
        ),
        "space.ceiling.void_depth",
        lambda room: room.space.ceiling.void_depth is not None or room.space.ceiling.kind == "open",
    ),
    Needed(
        "air-return",
        Wording(
            3,
            "facility",
            "Does the space above the ceiling carry return air?",
            "Then cables and devices in it must be listed for that.",
        ),
        "space.ceiling.air_return",
        lambda room: room.space.ceiling.air_return is not None or room.space.ceiling.kind == "open",
    ),
    Needed(
        "ceiling-age",
        Wording(
            3,
            "facility",
            "From which year are the ceiling and its boards, and have they been tested for "
            "asbestos?",
            "Nobody lifts or drills a board of unknown stuff.",
        ),
        "space.ceiling",
        _never,
    ),
    Needed(
        "new-holes",
        Wording(
            3,
            "customer",
            "May we drill new holes in ceiling, walls and table?",
            "It decides which mountings can be proposed.",
        ),
        "choices.new_holes",
        lambda room: is_given(room, "choices.new_holes"),
    ),
    Needed(
        "overhead",
        Wording(
            7,
            "architect",
            "What is already on the ceiling – lights, sprinklers, detectors, beams, projector, "
            "camera? A photo from each corner helps.",
            "Nothing may be mounted there or block it.",
        ),
        "overhead",
        lambda room: bool(room.overhead),
    ),
    Needed(
        "equipment-place",
        Wording(
            8,
            "customer",
            "Where does the equipment live – a rack, a cupboard, behind the picture – and is "
            "there mains and a network outlet?",
            "Cable lengths and ports follow from it.",
        ),
        "equipment",
        lambda room: any(
            e.kind in ("rack", "wall-plate", "entry") for e in room.equipment.values()
        ),
    ),
    Needed(
        "owned",
        Wording(
            8,
            "customer",
            "Which microphones, loudspeakers, processors and cameras do you own and want to "
            "keep? A photo of each type plate helps.",
            "What stays need not be bought, and must fit.",
        ),
        "devices",
        lambda room: any(d.owned for d in room.devices.values()),
    ),
    Needed(
        "connection",
        Wording(
            8,
            "customer",
            "What makes the call – a room computer, a laptop that people bring, a codec – and by "
            "which plug does sound get in and out of it?",
            "It decides the last device of the chain and who cancels the echo.",
        ),
        "equipment",
        lambda room: any(e.kind in ("computer", "codec") for e in room.equipment.values()),
    ),
    Needed(
        "network",
        Wording(
            8,
            "IT",
            "Is there a network outlet with power in the room, may audio devices have their own "
            "network, and who approves a new device?",
            "Approval often takes longer than the installation.",
        ),
        "equipment",
        _never,
    ),
    Needed(
        "call-delay",
        Wording(
            9,
            "IT",
            "Which way do the calls go – within the house, over the internet, to other "
            "continents – and what delay do you see?",
            "The longer the way, the more echo must be taken out.",
        ),
        "far_end.one_way_delay_ms",
        _has("far_end.one_way_delay_ms"),
    ),
    Needed(
        "assistive",
        Wording(
            9,
            "customer",
            "Does the room have, or need, a system for hearing aids, captions or interpreters?",
            "It may be a legal duty.",
        ),
        "people",
        _never,
    ),
    Needed(
        "recording",
        Wording(
            9,
            "customer",
            "Are meetings recorded, and does everybody who comes in know that microphones are on?",
            "Notice and consent are law in most places.",
        ),
        "people",
        _never,
    ),
    Needed(
        "promise",
        Wording(
            10,
            "customer",
            "What must work for you to be content – that every seat is understood at the far end, "
            "or the front row only? How sure must it be?",
            "It is what the finished room is measured against.",
        ),
        "targets.sti_outbound",
        lambda room: all(
            is_given(room, f"targets.{name}")
            for name in ("chance", "sti_outbound", "direct_to_reverberant_db", "speech_to_noise_db")
        ),
    ),
    Needed(
        "budget",
        Wording(
            10,
            "customer",
            "What may it cost, with installation, and does that include work on the room itself?",
            "It decides between few good devices and panels on a wall.",
        ),
        "targets.price",
        lambda room: room.targets.price is not None,
    ),
    Needed(
        "date",
        Wording(
            10,
            "customer",
            "By when must it work, and at which hours may people work in the room?",
            "Deliveries and night work change the price.",
        ),
        "project",
        _never,
    ),
)
"""In the order of work."""


def needed(room: Room | None) -> tuple[Question, ...]:
    """Questions that the job needs answered and the document leaves open, in the order of work.

    Examples
    --------
    >>> [q.topic for q in needed(None)][:3]
    ['people-to-ask', 'region', 'seismic']
    """
    return tuple(
        _open(n.topic, n.wording, n.path) for n in NEEDED if room is None or not n.known(room)
    )


_ANY = {
    "finish:wall": ("the {} wall", "each wall"),
    "finish:window": ("“{}”", "the windows"),
    "finish:door": ("the door “{}”", "the door"),
}
"""What a sentence speaks of where no surface has a name yet."""


def general() -> tuple[Question, ...]:
    """Every question there is, for a room of which nothing is known yet, in the order of work."""
    asked = []
    for topic, wording in WORDINGS.items():
        named, anyone = _ANY.get(topic, ("", ""))
        sentence = wording.sentence.replace(named, anyone) if named else wording.sentence
        if "{}" not in sentence:
            asked.append(_open(topic, replace(wording, sentence=sentence), ""))
    return tuple(sorted([*needed(None), *asked], key=lambda q: q.part))


def _open(topic: str, wording: Wording, path: str) -> Question:
    return Question(
        topic=topic,
        part=wording.part,
        path=path,
        taken="",
        standing="left out",
        moved=(),
        weight=None,
        who=wording.who,
        sentence=wording.sentence,
        why=wording.why,
        subject="",
    )
