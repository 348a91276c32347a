"""Microphones and loudspeakers together: what is proposed keeps the promise and its distances."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.place.devices import place_devices, why_no_loudspeakers
from wellheard.place.loudspeakers import Loudspeakers, question
from wellheard.place.microphones import place_microphones
from wellheard.place.proposal import Proposal
from wellheard.place.sounding import loudspeakers as loudspeakers_of_room
from wellheard.place.sounding import loudspeakers_left
from wellheard.place.spaces import Spaces
from wellheard.predict.inbound import playback
from wellheard.predict.parts import build_parts
from wellheard.predict.scene import Scene, build
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.room.edit import with_devices

FOUR: dict[str, Any] = {
    "s1": {"at": [1.2, 1.3], "facing": [0, 90]},
    "s2": {"at": [4.7, 1.3], "facing": [180, 90]},
    "s3": {"at": [4.7, 3.2], "facing": [180, 270]},
    "s4": {"at": [1.2, 3.2], "facing": [0, 270]},
}
BASE: dict[str, Any] = {
    "space": {"ceiling": {"kind": "tiles", "module": 0.9, "origin": [0, 0]}},
    "people": {"seats": FOUR},
    "furniture": {
        "picture": {"kind": "display", "wall": "west", "centre": [2.25, 1.4], "size": [1.4, 0.8]}
    },
    "choices": {
        "allow": ["ceiling-head-3", "display-pair", "ceiling-6"],
        "max_drop": 0,
    },
}


@pytest.fixture(scope="session")
def together(scene_of: Callable[..., Scene]) -> Callable[..., Proposal]:
    def made(**over: Any) -> Proposal:
        return place_devices(scene_of({**BASE, **over}))

    return made


def loudspeakers(proposal: Proposal) -> list[str]:
    return [d.product for d in proposal.devices if d.kind == "loudspeaker"]


def test_microphones_alone_are_proposed_as_before_where_no_loudspeaker_is_allowed(
    scene_of: Callable[..., Scene],
) -> None:
    scene = scene_of({**BASE, "choices": {"allow": ["ceiling-head-3"], "max_drop": 0}})
    found, alone = place_devices(scene), place_microphones(scene)
    assert found.devices == alone.devices
    assert found.price == alone.price
    assert "choices.allow names no loudspeaker" in found.proof.scope


def test_an_allowed_loudspeaker_of_a_mounting_that_is_not_is_told_as_such(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    """The document is not told that it names none: the mounting is what it has to change."""
    choices = {"allow": ["ceiling-head-3", "wall-8"], "mounting": ["ceiling", "front"]}
    why = why_no_loudspeakers(room_of({**BASE, "choices": choices}), catalogue)
    assert why is not None
    assert "choices.allow" not in why
    assert "mounting among ceiling, front" in why


def test_nothing_promised_of_the_far_end_asks_for_no_loudspeaker(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    nothing = {"sti_inbound": None, "listening_level_dba": None, "uniformity_db": None}
    assert why_no_loudspeakers(room_of({**BASE, "targets": nothing}), catalogue) == ""
    assert why_no_loudspeakers(room_of(BASE), catalogue) is None


def test_every_microphone_keeps_its_distance_from_every_loudspeaker(
    together: Callable[..., Proposal],
) -> None:
    """4 ft, 1.2 m, between a microphone and a loudspeaker (common practice, no source [C])."""
    found = together()
    assert found.proof.status == "optimal"
    assert found.loudspeakers >= 1
    for one in found.devices:
        for other in found.devices:
            if one.kind == "microphone" and other.kind == "loudspeaker":
                assert math.dist(one.at, other.at) >= 1.2 - 1e-9


def test_a_locked_loudspeaker_stays_and_plays(together: Callable[..., Proposal]) -> None:
    old = {"kind": "loudspeaker", "product": "ceiling-6", "at": [5.6, 0.4, 2.7], "locked": True}
    free = together(devices={"old": {**old, "owned": True}})
    paid = together(devices={"old": old})
    stays = next(d for d in free.devices if d.id == "old")
    assert stays.locked
    assert stays.price == 0
    assert paid.price is not None
    assert free.price is not None
    assert paid.price - free.price == pytest.approx(248.0)
    assert [one for a in free.amplifiers for c in a.channels for one in c.loudspeakers].count(
        "old"
    ) == 1


def test_a_loudspeaker_that_is_not_locked_gives_way(together: Callable[..., Proposal]) -> None:
    old = {"kind": "loudspeaker", "product": "ceiling-6", "at": [3.0, 2.2, 2.7]}
    assert together(devices={"l1": old}).devices == together().devices


def test_an_amplifier_that_stays_is_used_and_costs_nothing_more(
    together: Callable[..., Proposal],
) -> None:
    there = {"kind": "amplifier", "product": "amplifier-2x40", "locked": True, "owned": True}
    found, bought = together(devices={"amp": there}), together()
    assert [a.id for a in found.amplifiers] == ["amp"]
    assert [a.id for a in bought.amplifiers] == ["a1"]
    assert bought.price is not None
    assert found.price is not None
    assert bought.price - found.price == pytest.approx(bought.amplifiers[0].price)


def test_a_pair_takes_a_channel_for_each_of_its_two(together: Callable[..., Proposal]) -> None:
    """Two of 6 ohms side by side are 3, less than the 4 ohms of the small amplifier."""
    found = together(
        choices={"allow": ["ceiling-head-3", "display-pair"], "max_drop": 0},
        devices={},
    )
    assert loudspeakers(found) == ["display-pair"]
    channels = [c.loudspeakers for a in found.amplifiers for c in a.channels]
    assert channels == [("l1.left",), ("l1.right",)]


def test_an_even_level_that_cannot_be_had_is_said_with_the_one_that_can(
    together: Callable[..., Proposal],
) -> None:
    found = together(targets={"uniformity_db": 1.0})
    assert found.proof.status == "infeasible"
    said = [s for s in found.would_have_to_give if "uniformity of 1 dB" in s]
    assert len(said) == 1


def test_a_range_of_levels_round_another_playback_level_says_which_it_would_be(
    together: Callable[..., Proposal],
) -> None:
    found = together(targets={"listening_level_dba": [50, 60]})
    assert found.proof.status == "infeasible"
    assert any("range of 50 to 60 dBA" in s for s in found.would_have_to_give)


def test_both_that_only_fit_alone_are_told_to_be_in_each_others_way(
    together: Callable[..., Proposal],
) -> None:
    """12 ft from every loudspeaker leaves no place in a room of 6 by 4.5 m."""
    wide = {"limit": 6.0, "because": "nobody would ask for that much"}
    found = together(targets={"house_rules": {"microphone-near-loudspeaker": wide}})
    assert found.proof.status == "infeasible"
    assert any("not together" in s for s in found.would_have_to_give)


def test_a_bar_is_weighed_as_a_whole_design(together: Callable[..., Proposal]) -> None:
    """The cheaper of a bar alone and of everything in separate housings."""
    near = {
        "s1": {"at": [1.5, 1.7], "facing": [180]},
        "s2": {"at": [1.5, 2.8], "facing": [180]},
    }
    over = {"people": {"seats": {**near, "s3": "absent", "s4": "absent"}}}
    separate = together(**over)
    bar = together(**over, choices={"allow": ["front-bar"], "max_drop": 0})
    both = together(
        **over, choices={"allow": [*BASE["choices"]["allow"], "front-bar"], "max_drop": 0}
    )
    cheaper = min((separate, bar), key=lambda one: one.price or math.inf)
    assert both.price == cheaper.price
    assert [d.product for d in both.devices] == [d.product for d in cheaper.devices]


def test_a_room_that_divides_hears_the_far_end_in_every_space(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    """A closed partition lets no loudspeaker through, so that each side has one of its own."""
    room = room_of(
        {
            **BASE,
            "partitions": {"fold": {"from": [3.0, 0], "to": [3.0, 4.5]}},
            "arrangements": {"joined": {"open": ["fold"]}, "split": {"closed": ["fold"]}},
        }
    )
    parts = build_parts(room, catalogue)
    found = place_devices(build(room, catalogue), parts=parts)
    assert found.proof.status == "optimal"
    at = [d.at[0] for d in found.devices if d.kind == "loudspeaker"]
    assert min(at) < 3.0 < max(at)
    placed = with_devices(
        room, {d.id: Device(kind=d.kind, product=d.product, at=d.at) for d in found.devices}
    )
    for part in build_parts(placed, catalogue):
        heard = playback(part.scene)
        assert heard is not None
        assert {row.state for row in heard.rows} == {"kept"}


DEAD = {"absorption": {str(f): 0.85 for f in (125, 250, 500, 1000, 2000, 4000, 8000)}}
LONG_AND_DEAD: dict[str, Any] = {
    "space": {
        "outline": [[0, 0], [14.4, 0], [14.4, 3.6], [0, 3.6]],
        "height": 2.5,
        "ceiling": {"kind": "tiles", "module": 1.2, "origin": [0, 0]},
        "finishes": {"floor": DEAD, "ceiling": DEAD, "walls": DEAD},
    },
    "people": {
        "seats": {f"s{i}": {"at": [1.5 * i - 0.3, 1.8], "facing": 0} for i in range(1, 10)},
    },
    "choices": {"allow": ["ceiling-head-3", "ceiling-4"], "mounting": ["ceiling"], "max_drop": 0},
}


@pytest.mark.usefixtures("few_rays_here")
def test_a_long_dead_room_takes_as_many_as_every_smaller_choice_fails_for(
    scene_of: Callable[..., Scene],
) -> None:
    """All choices of fewer loudspeakers, each by the full prediction."""
    scene = scene_of(LONG_AND_DEAD)
    spaces = Spaces.of(scene)
    products = loudspeakers_left(scene.room, scene.catalogue)
    options = loudspeakers_of_room(spaces, products)
    # Along the middle and one side, so that every choice can be tried.
    kept = [i for i, one in enumerate(options.allowed) if one.at[1] > 1.2]
    narrow = replace(
        options,
        allowed=tuple(options.allowed[i] for i in kept),
        holding=options.holding[:, kept],
    )
    search = Loudspeakers(question(spaces, narrow, 60.0))
    found = search.best()
    assert found.status == "optimal"
    assert found.choice is not None
    count = len(found.choice.chosen)
    assert count > 2
    audience = search.audiences[0]
    for fewer in range(1, count):
        for chosen in itertools.combinations(range(len(kept)), fewer):
            assert not audience.judge(chosen).kept
