"""What each surface might be made of instead, and what a measured decay would settle."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from wellheard.bands import SPEECH_BANDS
from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import tolerances
from wellheard.predict.alternatives import (
    OPEN,
    PRACTICE,
    Alternative,
    Standing,
    Subject,
    Trial,
    changed,
    standing_of,
)
from wellheard.predict.evidence import Bands, Reverberation
from wellheard.predict.surfaces import bands
from wellheard.predict.tolerances import NORMAL_90
from wellheard.room.document import Room
from wellheard.room.finishes import InlineFinish
from wellheard.room.space import CEILING_FINISH, CeilingKind

USUAL: dict[str, tuple[str, ...]] = {
    "floor": ("concrete-floor", "vinyl-floor", "wood-floor", "carpet-tile", "carpet-heavy"),
    "ceiling": (
        "concrete",
        "ceiling-plasterboard",
        "ceiling-perforated-gypsum",
        "ceiling-mineral-tile",
    ),
    "wall": ("glass-front", "concrete", "plasterboard", "wood-panel", "fabric-panel"),
    "window": ("double-glazing", "blinds", "curtain"),
    "door": ("glass-front", "wood-door"),
    "patch": ("glass-front", "plasterboard", "wood-panel", "fabric-panel"),
    "obstacle": ("concrete", "plasterboard", "wood-panel"),
}
"""What a surface of each kind usually is, hardest first (common practice)."""

MOST_SURFACES = 12
"""Walls, patches or obstacles asked for one by one; of more, those alike are asked for together."""

CEILING_WORDS: dict[CeilingKind, str] = {
    "tiles": "lay-in tiles",
    "hard": "plasterboard",
    "open": "no ceiling, bare slab",
}

Finish = str | InlineFinish


def ceiling_kind(subject: Subject) -> Iterator[Trial]:
    """Another kind of ceiling, with the finish that is usual for it."""
    room, path = subject.room, "space.ceiling.kind"
    standing = standing_of(room, path)
    if standing not in OPEN:
        return
    now = room.space.ceiling.kind
    yield Trial(
        "ceiling-kind",
        path,
        CEILING_WORDS[now],
        standing,
        tuple(
            Alternative(
                CEILING_WORDS[kind],
                changed(changed(room, path, kind), "space.finishes.ceiling", CEILING_FINISH[kind]),
            )
            for kind in CEILING_WORDS
            if kind != now
        ),
    )


def finishes(subject: Subject) -> Iterator[Trial]:
    """Every surface by itself: told, its neighbours in hardness; assumed, all that is usual."""
    room, catalogue = subject.room, subject.evidence.catalogue
    space = room.space
    yield from _one(subject, "floor", "floor", space.floor_finish, ("space.finishes.floor",))
    ceiling = space.ceiling_finish
    if space.finishes.ceiling is not None:
        yield from _one(subject, "ceiling", "ceiling", ceiling, ("space.finishes.ceiling",))
    else:
        others = _others(catalogue, "ceiling", ceiling, "left out")
        path = "space.finishes.ceiling"
        yield _trial(room, "ceiling", path, ceiling, "left out", others, (path,))
    yield from _walls(subject)
    patches = [
        (name, kind_of_patch(name, p.finish), p.finish, f"space.finishes.patches.{name}.finish")
        for name, p in space.finishes.patches.items()
    ]
    obstacles = [
        (name, "obstacle", o.finish, f"space.obstacles.{name}.finish")
        for name, o in space.obstacles.items()
    ]
    for group in (patches, obstacles):
        if len(group) <= MOST_SURFACES:
            for name, kind, finish, path in group:
                yield from _one(subject, f"{kind}:{name}", kind, finish, (path,))
            continue
        together: dict[tuple[str, str], list[tuple[str, Finish, str]]] = {}
        for name, kind, finish, path in group:
            together.setdefault((kind, words(finish)), []).append((name, finish, path))
        for (kind, said), alike in together.items():
            paths = tuple(path for _, _, path in alike)
            yield from _one(subject, f"{kind}:all of {said}", kind, alike[0][1], paths)


def _one(
    subject: Subject, topic: str, kind: str, finish: Finish, paths: Sequence[str]
) -> Iterator[Trial]:
    """Trial of one surface, or of several that are alike."""
    room = subject.room
    standing = standing_of(room, paths[0])
    if standing in OPEN:
        others = _others(subject.evidence.catalogue, kind, finish, standing)
        yield _trial(room, topic, paths[0], finish, standing, others, paths)


def _walls(subject: Subject) -> Iterator[Trial]:
    """Walls one by one, also where the document has one finish for all of them."""
    room, space = subject.room, subject.room.space
    mapped = isinstance(space.finishes.walls, dict)
    every: dict[str, Finish] = {name: space.wall_finish(name) for name in space.walls}
    # Spelt out, so that one wall can differ.
    spelt = changed(room, "space.finishes.walls", every)
    groups: dict[str, list[str]] = {}
    for name in space.walls:
        alone = len(space.walls) <= MOST_SURFACES
        groups.setdefault(name if alone else f"all of {words(every[name])}", []).append(name)
    for said, names in groups.items():
        path = f"space.finishes.walls.{names[0]}" if mapped else "space.finishes.walls"
        standing = standing_of(room, path)
        if standing in OPEN:
            finish = every[names[0]]
            others = _others(subject.evidence.catalogue, "wall", finish, standing)
            paths = [f"space.finishes.walls.{name}" for name in names]
            yield _trial(spelt, f"wall:{said}", path, finish, standing, others, paths)


def _trial(
    room: Room,
    topic: str,
    path: str,
    finish: Finish,
    standing: Standing,
    others: Sequence[tuple[str, Finish, str]],
    paths: Sequence[str],
) -> Trial:
    alternatives = []
    for text, other, source in others:
        variant = room
        for one in paths:
            variant = changed(variant, one, other)
        alternatives.append(Alternative(text, variant, source))
    return Trial(f"finish:{topic}", path, words(finish), standing, tuple(alternatives))


def _others(
    catalogue: Catalogue, kind: str, finish: Finish, standing: Standing
) -> list[tuple[str, Finish, str]]:
    """What it might be instead, hardest first, each with text and source."""
    if isinstance(finish, InlineFinish):
        return _scaled(finish)
    hardness = {name: _middle(catalogue, name) for name in {*USUAL[kind], finish}}
    order = sorted(hardness, key=lambda name: (hardness[name], name))
    place = order.index(finish)
    told = [order[i] for i in (place - 1, place + 1) if 0 <= i < len(order)]
    chosen = told if standing == "told" else [name for name in order if name != finish]
    return [(name, name, f"{PRACTICE}; {catalogue.finish(name).source}") for name in chosen]


def _middle(catalogue: Catalogue, name: str) -> float:
    return float(np.mean(catalogue.finish(name).absorption[SPEECH_BANDS]))


def _scaled(finish: InlineFinish) -> list[tuple[str, Finish, str]]:
    """Absorption written in the document, within the spread of published figures."""
    found: list[tuple[str, Finish, str]] = []
    for sign, said in ((-1, "less"), (1, "more")):
        factors = np.exp(sign * NORMAL_90 * np.asarray(tolerances.BLIND_LOG_TIME_SIGMA))
        fresh = np.minimum(np.asarray(finish.absorption) * factors, 1.0)
        share = abs(float(np.mean(factors[SPEECH_BANDS])) - 1)
        found.append(
            (
                f"{100 * share:.0f} % {said} absorption at 500 Hz–4 kHz",
                InlineFinish(absorption=bands(fresh)),
                "spread of published absorption, two measured rooms",
            )
        )
    return found


def kind_of_patch(name: str, finish: Finish) -> str:
    """What a patch of a wall is, from its name and finish.

    Examples
    --------
    >>> kind_of_patch("east-window", "double-glazing"), kind_of_patch("b1", "fabric-panel")
    ('window', 'patch')
    """
    said = f"{name} {finish if isinstance(finish, str) else ''}"
    if "door" in said:
        return "door"
    return "window" if any(w in said for w in ("window", "glaz", "blinds", "curtain")) else "patch"


def words(finish: Finish) -> str:
    """A finish in print: its id, or that its figures stand in the document."""
    return finish if isinstance(finish, str) else "written in the document"


def measured_decay(subject: Subject) -> Iterator[Trial]:
    """The decay as a measurement would find it: as predicted, at either end of its range.

    Not in a room that divides, where a decay holds for one arrangement only.
    """
    if subject.room.arrangements:
        return
    room, path = subject.room, tolerances.MEASURED_TIME
    decay = subject.evidence.reverberation
    standing: Standing = "left out"
    if room.space.measured_reverberation is not None:
        standing = standing_of(room, path)
        if standing not in OPEN:
            return
    ends = (decay.time, decay.high, decay.low)
    said = ("as taken", "long, the 90 % end", "short, the 10 % end")
    yield Trial(
        "reverberation",
        path,
        _seconds(decay) + (", predicted" if standing == "left out" else ""),
        standing,
        tuple(
            Alternative(
                f"measured, {text}: {float(np.mean(times[2:4])):.2f} s",
                with_measured_decay(room, times),
                "10–90 % range of the prediction",
            )
            for text, times in zip(said, ends, strict=True)
        ),
    )


def with_measured_decay(room: Room, times: Bands) -> Room:
    """The same room after a measurement that found these decay times [s]."""
    known = changed(room, "basis", {**room.basis, tolerances.MEASURED_TIME: "measured"})
    return changed(known, tolerances.MEASURED_TIME, times)


def _seconds(decay: Reverberation) -> str:
    low, middle, high = (float(np.mean(t[2:4])) for t in (decay.low, decay.time, decay.high))
    return f"{middle:.2f} s ({low:.2f}–{high:.2f} s) at 500 Hz and 1 kHz"
