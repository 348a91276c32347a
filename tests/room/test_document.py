"""The frozen room: defaults, units, references, assumptions, edits, house limits."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from wellheard.room import Room, codec
from wellheard.room.assumptions import assumed
from wellheard.room.devices import Device
from wellheard.room.document import SCHEMA
from wellheard.room.edit import (
    free_id,
    replacing_devices,
    with_devices,
    with_links,
    with_targets,
    without_devices,
)
from wellheard.room.house_limits import HOUSE_LIMITS
from wellheard.room.links import Link
from wellheard.room.migrate import MIGRATIONS

BANDS = ("125", "250", "500", "1000", "2000", "4000", "8000")


def document(**extra: Any) -> dict[str, Any]:
    return {
        "wellheard": 1,
        "space": {"outline": [[0, 0], [6, 0], [6, 4], [0, 4]], "height": 2.7},
        "people": {"seats": {"s1": {"at": [2, 2]}}},
        **extra,
    }


def room(**extra: Any) -> Room:
    return codec.from_data(document(**extra))


def test_the_stated_defaults_are_taken() -> None:
    made = room()
    assert made.space.walls == ("w0", "w1", "w2", "w3")
    assert made.space.ceiling.module == (0.6, 0.6)
    assert made.space.ceiling_finish == "ceiling-mineral-tile"
    assert made.space.wall_finish("w2") == "plasterboard"
    assert made.space.floor_finish == "carpet-tile"
    assert made.people.occupancy == 0.7
    assert made.people.seats["s1"].height == 1.2
    assert made.people.seats["s1"].facing == ("across",)
    assert made.far_end.noise.nc == 30
    assert made.far_end.one_way_delay_ms == 150
    assert made.targets.sti_outbound == 0.62
    assert made.targets.listening_level_dba == (65, 75)
    assert made.choices.mounting == ("ceiling", "table", "lectern", "wall", "front")


def test_bare_lengths_are_in_the_units_of_the_document_and_text_in_its_own() -> None:
    made = room(
        units="ft",
        space={"outline": [[0, 0], [20, 0], [20, "4 m"], [0, "4 m"]], "height": "9'-0\""},
        devices={"m1": {"kind": "microphone", "product": "p", "at": [10, "1 m", 8]}},
    )
    assert made.space.outline[2] == (6.096, 4.0)
    assert made.space.height == 2.7432
    assert made.devices["m1"].at == (3.048, 1.0, 2.4384)
    assert made.people.seats["s1"].at == (0.6096, 0.6096)
    # Defaults are metres in either document, but a ceiling grid goes with the units.
    assert made.people.seats["s1"].height == 1.2
    assert made.space.ceiling.module == (0.6096, 0.6096)


def test_a_feet_document_does_not_leak_its_unit_into_the_next() -> None:
    assert room(units="ft", space={"outline": [[0, 0], [9, 0], [0, 9]], "height": 9}).units == "ft"
    with pytest.raises(ValidationError):
        Room.model_validate(document(units="ft", space={"outline": [], "height": 9}))
    assert room().space.height == 2.7


def test_json_of_a_room_is_si_and_reads_as_the_same_room() -> None:
    import json

    made = room(noise={"background": {"levels_db": {b: 30.0 for b in (*BANDS, "31.5")}}})
    data = json.loads(made.model_dump_json(by_alias=True))
    assert data["noise"]["background"]["levels_db"]["31.5"] == 30.0
    assert Room.model_validate(data) == made


@pytest.mark.parametrize(
    ("kind", "finish"), [("hard", "ceiling-plasterboard"), ("open", "concrete")]
)
def test_a_ceiling_without_a_finish_has_the_one_of_its_kind(kind: str, finish: str) -> None:
    made = room(space={**document()["space"], "ceiling": {"kind": kind}})
    assert made.space.ceiling_finish == finish


def test_walls_that_a_map_leaves_out_are_plasterboard() -> None:
    space = {
        **document()["space"],
        "walls": ["s", "e", "n", "w"],
        "finishes": {"walls": {"e": "glass-front"}},
    }
    made = room(space=space)
    assert made.space.wall_finish("e") == "glass-front"
    assert made.space.wall_finish("n") == "plasterboard"
    assert made.space.wall_ends("w") == ((0.0, 4.0), (0.0, 0.0))
    with pytest.raises(KeyError, match="walls are s, e, n, w"):
        made.space.wall_finish("w0")


def test_every_catalogue_id_is_among_the_references() -> None:
    made = room(
        space={
            **document()["space"],
            "finishes": {
                "walls": {"w0": "concrete", "w1": {"absorption": [0.1] * 7}},
                "patches": {"p": {"wall": "w2", "from": 1, "to": 2, "top": 2, "finish": "curtain"}},
            },
            "obstacles": {"c": {"outline": [[3, 3], [3.3, 3], [3.3, 3.3]], "finish": "wood-panel"}},
        },
        devices={"m1": {"kind": "microphone", "product": "omni-reference", "at": [1, 1, 2]}},
        links={"l": {"from": "m1.a", "to": "m1.b", "cable": "twisted-pair"}},
        choices={"allow": ["front-bar"]},
        partitions={"f": {"from": [3, 0], "to": [3, 4]}},
    )
    assert list(made.references()) == [
        ("space.finishes.floor", "finish", "carpet-tile"),
        ("space.finishes.ceiling", "finish", "ceiling-mineral-tile"),
        ("space.finishes.walls.w0", "finish", "concrete"),
        ("space.finishes.patches.p.finish", "finish", "curtain"),
        ("space.obstacles.c.finish", "finish", "wood-panel"),
        ("partitions.f.finish", "finish", "wood-panel"),
        ("choices.allow.0", "product", "front-bar"),
        ("devices.m1.product", "product", "omni-reference"),
        ("links.l.cable", "cable", "twisted-pair"),
    ]


def test_fields_of_others_are_kept() -> None:
    made = room(**{"x-tool": {"a": [1, "b"]}})
    assert made.model_extra == {"x-tool": {"a": [1, "b"]}}
    assert codec.parse_data(codec.dump(made)).model_extra == made.model_extra


def test_a_room_cannot_be_changed_in_place() -> None:
    with pytest.raises(ValidationError, match="frozen"):
        room().title = "Other"


def test_every_default_is_an_assumption_until_it_is_written() -> None:
    bare = {a.path: a for a in assumed(room())}
    assert bare["noise.background"].value_text == "NC 30"
    assert bare["noise.background"].sentence == "No background noise is given: NC 30 is taken."
    assert bare["space.ceiling.air_return"].value_text == "not assessed"
    assert bare["people.seats.s1.height"].value_text == "1.20 m"
    assert bare["space.finishes.ceiling"].value_text == "ceiling-mineral-tile"
    told = {a.path for a in assumed(room(noise={"background": {"nc": 30}}))}
    assert set(bare) - told == {"noise.background"}


def test_assumptions_are_printed_in_the_units_of_the_document() -> None:
    made = room(units="ft", space={"outline": [[0, 0], [20, 0], [20, 14], [0, 14]], "height": 9})
    texts = {a.path: a.value_text for a in assumed(made)}
    assert texts["space.ceiling.module"] == "2'-0\" × 2'-0\""
    assert texts["people.seats.s1.height"] == "3'-11¼\""


def test_what_the_document_calls_assumed_is_listed_too() -> None:
    made = room(basis={"space.height": "assumed", "people.seats.s1.at": "told"})
    assert "space.height" in [a.path for a in assumed(made)]
    assert "people.seats.s1.at" not in [a.path for a in assumed(made)]


def test_the_room_beyond_a_wall_is_assumed_where_the_wall_is_told() -> None:
    told = room(
        space={
            "outline": [[0, 0], [6, 0], [6, 4], [0, 4]],
            "height": 2.7,
            "isolation": {"w0": {"stc": 45, "outside": {"nc": 30}}, "w1": {"stc": 40}},
        }
    )
    (beyond,) = [a.sentence for a in assumed(told) if a.path == "space.isolation"]
    assert "beyond w0:" in beyond
    assert "w1" not in beyond
    assert "space.isolation" not in [a.path for a in assumed(room())]


MICROPHONE = Device(kind="microphone", product="ceiling-head-3", at=(3.0, 2.0, 2.7))


def test_a_device_goes_with_its_links_processing_and_basis() -> None:
    made = room(
        devices={
            "m1": MICROPHONE.model_dump(),
            "p1": {"kind": "processor", "product": "bridge-2"},
        },
        links={
            "l1": {"from": "m1.link", "to": "p1.mic-1"},
            "l2": {"from": "p1.a", "to": "p1.b"},
        },
        processing={"aec": {"kind": "canceller", "on": "p1.mic-1", "reference": "m1.link"}},
        basis={"devices.m1.at": "told", "space.height": "told"},
    )
    rest = without_devices(made, ["m1"])
    assert list(rest.devices) == ["p1"]
    assert list(rest.links) == ["l2"]
    assert rest.processing == {}
    assert rest.basis == {"space.height": "told"}
    assert list(made.devices) == ["m1", "p1"]
    assert codec.parse(codec.dump(rest)) == rest
    with pytest.raises(KeyError, match="no device 'm9'"):
        without_devices(made, ["m9"])


def test_replacing_keeps_what_is_locked() -> None:
    locked = MICROPHONE.model_copy(update={"locked": True})
    made = with_devices(room(), {"m1": locked, "m2": MICROPHONE})
    assert free_id(made, "m") == "m3"
    after = replacing_devices(made, ["microphone"], {"m3": MICROPHONE})
    assert list(after.devices) == ["m1", "m3"]


def test_links_and_targets_are_replaced_by_checked_ones() -> None:
    link = Link.model_validate({"from": "a.b", "to": "c.d"})
    assert with_links(room(), {"l1": link}).links == {"l1": link}
    assert with_targets(room(), sti_outbound=None).targets.sti_outbound is None
    with pytest.raises(ValidationError):
        with_targets(room(), sti_outbound=7)


def test_there_is_a_migration_from_every_older_version() -> None:
    assert sorted(MIGRATIONS) == list(range(1, SCHEMA))


def test_a_house_limit_can_be_replaced_or_relaxed_with_a_reason_only() -> None:
    code = next(iter(HOUSE_LIMITS))
    usual = HOUSE_LIMITS[code].limit
    assert room().targets.house_limit(code) == usual
    for rule, limit in (
        ({"relaxed": True, "because": "told to"}, None),
        ({"limit": 0.25, "because": "told to"}, 0.25),
    ):
        made = room(targets={"house_rules": {code: rule}})
        assert made.targets.house_limit(code) == limit


def test_every_house_limit_says_what_it_measures_and_where_it_is_from() -> None:
    for code, limit in HOUSE_LIMITS.items():
        assert limit.code == code
        assert limit.means
        assert limit.source.endswith(("[C]", "[L]", "[M]")) or "[C]" in limit.source
        assert limit.sense in ("at least", "at most")
