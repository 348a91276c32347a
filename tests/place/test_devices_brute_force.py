"""Microphones and loudspeakers against every choice there is, judged by ledger and rules.

The rival knows nothing of bounds, programs or cuts. It takes one or two microphones and one or two
loudspeakers in every way, the cheapest first, puts them into the document and asks the ledger and
the rules, until one choice keeps everything.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.effort import some
from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.registry import rules
from wellheard.geometry.points import grid_in_polygon
from wellheard.place.apart import Keeping, Together
from wellheard.place.devices import place_devices
from wellheard.place.loudspeakers import Loudspeakers, question
from wellheard.place.microphones import products_of_choice, task_of
from wellheard.place.proposal import Proposal
from wellheard.place.sounding import loudspeakers, loudspeakers_left
from wellheard.place.spaces import Spaces
from wellheard.predict import inbound, ledger
from wellheard.predict.scene import Scene, build
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.room.edit import with_devices

pytestmark = pytest.mark.usefixtures("few_rays")

APART = {
    "microphone-near-loudspeaker",
    "loudspeaker-nearer-than-talkers",
    "device-overlaps",
    "loudspeaker-headroom",
    "microphone-near-wall",
    "talker-beyond-rated-distance",
}
"""What no proposal may be found to break."""

SOUNDS = ("ceiling-6", "ceiling-4", "ceiling-6-network")
HEADS = ("ceiling-head-2", "ceiling-head-3")

Chosen = tuple[tuple[str, tuple[float, float, float]], ...]


def room_of_seed(seed: int) -> dict[str, Any]:
    """Two to four people under a dozen tiles; hard or soft, wide or narrow promises."""
    rng = np.random.default_rng(seed)
    x, y = float(rng.choice([3.6, 4.8, 6.0])), float(rng.choice([2.4, 3.6]))
    alpha = float(rng.choice([0.15, 0.3, 0.7]))
    soft = {"absorption": {str(f): alpha for f in (125, 250, 500, 1000, 2000, 4000, 8000)}}
    places = rng.uniform([0.6, 0.6], [x - 0.6, y - 0.6], (int(rng.integers(2, 5)), 2))
    return {
        "wellheard": 1,
        "units": "m",
        "space": {
            "outline": [[0, 0], [x, 0], [x, y], [0, y]],
            "height": float(rng.choice([2.5, 2.8])),
            "ceiling": {"kind": "tiles", "module": 1.2, "origin": [0, 0]},
            "finishes": {"floor": soft, "ceiling": soft, "walls": soft},
        },
        "people": {
            "occupancy": 0.5,
            "seats": {
                f"s{i}": {"at": at, "facing": [0, 90, 180, 270][i % 4]}
                for i, at in enumerate(places.tolist())
            },
        },
        "noise": {"background": {"nc": 25}},
        "choices": {
            "allow": [*HEADS[: 1 + seed % 2], *SOUNDS[: 2 + seed % 2]],
            "mounting": ["ceiling"],
            "max_drop": 0,
        },
        "targets": {
            "direct_to_reverberant_db": float(rng.uniform(-9, -4)),
            "sti_outbound": 0.5,
            "sti_inbound": float(rng.choice([0.5, 0.6])),
            "uniformity_db": float(rng.choice([3.0, 4.0, 6.0])),
            "house_rules": {
                "microphone-near-loudspeaker": {
                    "limit": float(rng.choice([1.2, 2.0])),
                    "because": "a small room",
                }
            },
        },
        "basis": {"people.seats": "measured"},
    }


class Rival:
    """All choices of one room, the cheapest first."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        room, catalogue = scene.room, scene.catalogue
        outline = np.asarray(room.space.outline)
        tiles = grid_in_polygon(outline, spacing=1.2, origin=(0.6, 0.6))
        inside = [
            (float(p[0]), float(p[1]), room.space.height)
            for p in tiles
            if 0.5 < p[0] < outline[:, 0].max() - 0.5 and 0.5 < p[1] < outline[:, 1].max() - 0.5
        ]
        self.price = {
            one: round(100 * catalogue.installed_price(one, "ceiling", 0.0, fit="tile").amount)
            for one in room.choices.allow
        }
        # Two loudspeakers of 8 ohms at most: one on each channel of the small amplifier.
        self.amplifier = round(
            100 * catalogue.installed_price("amplifier-2x40", "table-box").amount
        )
        self.microphones = self._sets([n for n in room.choices.allow if n in HEADS], inside)
        self.sounds = self._sets([n for n in room.choices.allow if n in SOUNDS], inside)
        self._hears: dict[Chosen, bool] = {}
        self._plays: dict[Chosen, bool] = {}

    def _sets(
        self, products: Sequence[str], places: Sequence[tuple[float, float, float]]
    ) -> list[tuple[int, Chosen]]:
        every = [(one, at) for one in products for at in places]
        pairs = [p for p in itertools.combinations(every, 2) if p[0][1] != p[1][1]]
        chosen: list[Chosen] = [*((one,) for one in every), *pairs]
        return sorted((self._cents(one), one) for one in chosen)

    def _cents(self, chosen: Chosen) -> int:
        return sum(self.price[name] for name, _ in chosen) + _fed(chosen) * self.amplifier

    def by_price(self) -> Iterator[tuple[int, Chosen, Chosen]]:
        """Pairs of a set of microphones and a set of loudspeakers."""
        heap = [(self.microphones[0][0] + self.sounds[0][0], 0, 0)]
        seen = {(0, 0)}
        while heap:
            cents, i, j = heapq.heappop(heap)
            yield cents, self.microphones[i][1], self.sounds[j][1]
            for a, b in ((i + 1, j), (i, j + 1)):
                if a < len(self.microphones) and b < len(self.sounds) and (a, b) not in seen:
                    seen.add((a, b))
                    heapq.heappush(heap, (self.microphones[a][0] + self.sounds[b][0], a, b))

    def cheapest(self) -> int | None:
        """Price of the cheapest choice that keeps everything [cents]; None where none does."""
        for cents, microphones, sounds in self.by_price():
            if (
                self.hears(microphones)
                and self.plays(sounds)
                and self.together(microphones, sounds)
            ):
                return cents
        return None

    def with_fewer_than(self, number: int) -> bool:
        """Whether any choice of fewer devices keeps everything, whatever it costs."""
        return any(
            len(microphones) + len(sounds) + _fed(sounds) < number
            and self.hears(microphones)
            and self.plays(sounds)
            and self.together(microphones, sounds)
            for _, microphones, sounds in self.by_price()
        )

    def _with(self, microphones: Chosen, sounds: Chosen) -> Scene:
        devices = {
            f"m{i}": Device(kind="microphone", product=name, at=at)
            for i, (name, at) in enumerate(microphones)
        } | {
            f"l{i}": Device(kind="loudspeaker", product=name, at=at)
            for i, (name, at) in enumerate(sounds)
        }
        return replace(self.scene, room=with_devices(self.scene.room, devices))

    def hears(self, microphones: Chosen) -> bool:
        """Whether microphones alone keep the outbound promise and their own rules."""
        if microphones not in self._hears:
            self._hears[microphones] = holds(self._with(microphones, ()), back=False)
        return self._hears[microphones]

    def plays(self, sounds: Chosen) -> bool:
        """Whether loudspeakers alone keep what is promised of the far end."""
        if sounds not in self._plays:
            self._plays[sounds] = plays(self._with((), sounds))
        return self._plays[sounds]

    def together(self, microphones: Chosen, sounds: Chosen) -> bool:
        """Whether both keep everything beside each other."""
        least = self.scene.room.targets.house_limit("microphone-near-loudspeaker")
        assert least is not None
        if any(math.dist(m, s) < least - 1e-9 for _, m in microphones for _, s in sounds):
            return False
        return holds(self._with(microphones, sounds), back=True)


def _fed(chosen: Chosen) -> bool:
    """Whether it takes an amplifier."""
    return any(name in ("ceiling-6", "ceiling-4") for name, _ in chosen)


def plays(scene: Scene) -> bool:
    found = inbound.playback(scene)
    assert found is not None
    chance = scene.room.targets.chance
    assert chance is not None
    return (
        all(row.state == "kept" for row in found.rows)
        and (found.uniformity.chance or 0.0) >= chance
        and all(one.headroom_db >= 0 for one in found.drives)
    )


def holds(scene: Scene, *, back: bool) -> bool:
    evidence = ledger.evidence(scene, assumptions=False)
    if any(row.state != "kept" for row in evidence.outbound):
        return False
    if any(True for code in APART for _ in rules()[code].check(evidence)):
        return False
    return plays(scene) if back else True


def placed_in(room: Room, proposal: Proposal) -> Room:
    devices = {d.id: Device(kind=d.kind, product=d.product, at=d.at) for d in proposal.devices}
    return with_devices(room, devices)


SEEDS = some((0, 5, 6, 8, 10, 13, 15, 16, 21, 24, 26, 35, 37), (0, 1, 4, 6, 7, 10, 12))
"""Rooms where bounds settle it, where one program must, and where nothing does."""


@pytest.mark.parametrize("seed", SEEDS)
def test_no_choice_of_one_or_two_of_each_is_cheaper(seed: int, catalogue: Catalogue) -> None:
    scene = build(Room.model_validate(room_of_seed(seed)), catalogue)
    proposal = place_devices(scene, time_limit=30.0)
    cheapest = Rival(scene).cheapest()
    if proposal.proof.status == "infeasible":
        assert cheapest is None
        return
    assert proposal.proof.status == "optimal"
    assert holds(replace(scene, room=placed_in(scene.room, proposal)), back=True)
    price = round(100 * (proposal.price or 0.0))
    if cheapest is None:
        assert proposal.count > 2 or proposal.loudspeakers > 2
    else:
        assert price <= cheapest
        if proposal.count <= 2 and proposal.loudspeakers <= 2:
            assert price == cheapest


@pytest.mark.parametrize("seed", some((1, 5, 13), (1,)))
def test_the_program_of_the_fewest_finds_some_where_any_choice_is_fewer(
    seed: int, catalogue: Catalogue
) -> None:
    scene = build(Room.model_validate(room_of_seed(seed)), catalogue)
    spaces = Spaces.of(scene)
    task = task_of(spaces, products_of_choice(scene), by_price=True)
    options = loudspeakers(spaces, loudspeakers_left(scene.room, catalogue))
    search = Loudspeakers(question(spaces, options, 30.0))
    rival = Rival(scene)
    for number in (3, 4):
        program = Together(task, search, Keeping(task, search))
        found = program.fewest(10**8, number, 1)
        assert found.proven
        assert (found.chosen is not None) == rival.with_fewer_than(number)
