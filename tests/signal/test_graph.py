"""Ways of signals through a document: hand-drawn, port by port."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.room.document import Room
from wellheard.signal.graph import Graph, graph

CHAIN = {
    "links": "m1.link p.mic-2, p.usb laptop.usb, p.line-out-3 a.in-1, a.out-1 s1.in",
    "equipment": {"laptop": "computer"},
}


def room_with(name: str, kind: str, product: str) -> Room:
    """A room with this device and a bridge."""
    return Room.model_validate(
        {
            "wellheard": 1,
            "space": {"outline": [[0, 0], [9, 0], [9, 5], [0, 5]], "height": 2.7},
            "people": {"seats": {"s1": {"at": [2, 2]}}},
            "devices": {
                name: {"kind": kind, "product": product, "at": [2, 2, 0.8]},
                "p": {"kind": "processor", "product": "bridge-2"},
            },
        }
    )


def _stages(made: Graph, microphone: str) -> list[tuple[str, str]]:
    return [(stage.kind, stage.place) for stage in made.stages_of(microphone)]


def test_stated_cables_lead_from_the_capsule_to_the_far_end(graph_of: Any) -> None:
    made = graph_of("m1 head, p processor, a amplifier, s1 ceiling", **CHAIN)
    (way,) = made.paths_of("m1")
    assert way.ports == ("m1.link", "p.mic-2", "p.send", "p.usb", "laptop.usb", "laptop.send")
    assert way.links == ("l1", "l2")
    assert way.devices == ("m1", "p", "laptop")
    assert way.sink == "far-end"
    assert [s for s in way.assumed if "link" in s] == []


def test_the_far_end_comes_back_through_amplifier_and_loudspeaker(graph_of: Any) -> None:
    made = graph_of("m1 head, p processor, a amplifier, s1 ceiling", **CHAIN)
    (one,) = made.playing()
    assert one.far_end is not None
    assert one.far_end.ports == (
        "laptop.far-end",
        "laptop.usb",
        "p.usb",
        "p.far-end",
        "p.line-out-3",
        "a.in-1",
        "a.out-1",
        "s1.in",
    )
    assert one.amplifier == "a.out-1"
    assert not one.has_own_amplifier
    assert one.lifted == one.programme == ()


def test_a_cable_written_from_its_far_end_is_the_same_cable(graph_of: Any) -> None:
    turned = {
        **CHAIN,
        "links": "p.mic-2 m1.link, laptop.usb p.usb, a.in-1 p.line-out-3, s1.in a.out-1",
    }
    devices = "m1 head, p processor, a amplifier, s1 ceiling"
    assert [w.ports for w in graph_of(devices, **turned).paths_of("m1")] == [
        w.ports for w in graph_of(devices, **CHAIN).paths_of("m1")
    ]


def test_a_processor_that_cancels_does_so_in_front_of_its_mixer(graph_of: Any) -> None:
    made = graph_of("m1 head, m2 head, p bridge")
    assert _stages(made, "m2") == [("canceller", "p.mic-2"), ("mixer", "p.send")]
    assert all(stage.assumed and stage.because for stage in made.stages_of("m2"))
    (canceller,) = made.cancellers("m2")
    assert (canceller.id, canceller.device, canceller.tail) == ("p.mic-2", "p", 0.2)
    assert canceller.microphones == ("m2",)
    assert canceller.reference == "p.far-end"
    assert canceller.reference_assumed
    assert made.reference(canceller).far_end


def test_a_combined_device_cancels_the_echo_of_its_own_loudspeaker(graph_of: Any) -> None:
    made = graph_of("b bar")
    (canceller,) = made.cancellers("b")
    assert canceller.reference == "b.loudspeaker"
    assert [h.source for h in made.reference(canceller).holds] == ["far-end"]
    (one,) = made.playing()
    assert (one.loudspeaker, one.has_own_amplifier) == ("b", True)


def test_stages_on_one_port_keep_the_order_of_the_document(graph_of: Any) -> None:
    made = graph_of(
        "m1 head, p bridge",
        trim={"kind": "gain", "on": "p.mic-1", "gain_db": 6},
        mute={"kind": "mute", "on": "p.mic-1"},
        aec={"kind": "canceller", "on": "p.mic-1", "reference": "p.far-end"},
        level={"kind": "leveller", "on": "p.usb"},
    )
    assert _stages(made, "m1") == [
        ("gain", "processing.trim"),
        ("mute", "processing.mute"),
        ("canceller", "processing.aec"),
        ("mixer", "p.send"),
        ("leveller", "processing.level"),
    ]
    assert made.stages_of("m1")[0].gain_db == 6.0


def test_a_canceller_of_the_device_stands_behind_its_gain_and_before_its_mute(
    graph_of: Any,
) -> None:
    made = graph_of(
        "m1 head, p bridge",
        trim={"kind": "gain", "on": "p.mic-1", "gain_db": 6},
        mute={"kind": "mute", "on": "p.mic-1"},
    )
    assert [kind for kind, _ in _stages(made, "m1")] == ["gain", "canceller", "mute", "mixer"]


def test_what_is_bypassed_is_not_on_the_way(graph_of: Any) -> None:
    made = graph_of(
        "m1 head, p bridge",
        own={"kind": "canceller", "on": "p.mic-1", "bypassed": True},
        level={"kind": "leveller", "on": "p.mic-1", "bypassed": True},
    )
    assert _stages(made, "m1") == [("mixer", "p.send")]


def test_a_canceller_behind_the_mixer_replaces_those_at_the_ports(graph_of: Any) -> None:
    made = graph_of("m1 head, p bridge", aec={"kind": "canceller", "on": "p.usb"})
    assert _stages(made, "m1") == [("mixer", "p.send"), ("canceller", "processing.aec")]


@pytest.mark.parametrize(
    ("port", "holds"),
    [
        ("p.far-end", {"far-end"}),
        ("p.usb", {"far-end"}),
        ("p.line-in-1", {"programme"}),
        ("p.line-out-1", {"far-end", "programme", "m1"}),
        ("p.line-out-2", {"far-end", "programme"}),
        ("p.line-out-3", {"m1", "m2"}),
        ("p.send", {"m1", "m2"}),
        ("m2.link", {"m2"}),
    ],
)
def test_a_reference_holds_what_is_at_its_port(port: str, holds: set[str], graph_of: Any) -> None:
    made = graph_of(
        "m1 head, m2 head, p processor, s1 active",
        "laptop.line-out p.line-in-1, p.line-out-1 s1.in",
        {"laptop": "computer"},
        aec={"kind": "canceller", "on": "p.mic-1", "reference": port},
        lift={"kind": "lift", "on": "p.line-out-1", "sources": ["m1.link"], "gain_db": -6},
        recorder={"kind": "mixer", "on": "p.line-out-3", "sources": ["m1.link", "m2.link"]},
    )
    (canceller,) = made.cancellers("m1")
    reference = made.reference(canceller)
    assert {held.source for held in reference.holds} == holds
    assert {h.source for h in reference.holds if h.lifted} == (
        {"m1"} if port[-1] == "1" and "out" in port else set()
    )
    assert reference.far_end == ("far-end" in holds)
    assert reference.programme == ("programme" in holds)
    assert set(reference.microphones) == holds & {"m1", "m2"}


@pytest.mark.parametrize("port", ["p.line-out-9", "p.nonsense", "s1.out"])
def test_of_a_port_that_is_not_there_nothing_is_known(port: str, graph_of: Any) -> None:
    made = graph_of(
        "m1 head, p processor, s1 active",
        aec={"kind": "canceller", "on": "p.mic-1", "reference": port},
    )
    (canceller,) = made.cancellers("m1")
    assert not made.reference(canceller).known
    assert made.reference(canceller).holds == ()


def test_a_lift_plays_a_local_voice_at_one_loudspeaker_only(graph_of: Any) -> None:
    made = graph_of(
        "m1 head, m2 head, p processor, s1 active, s2 active",
        lift={"kind": "lift", "on": "s1.in", "sources": ["m2.link"], "gain_db": -6},
        trim={"kind": "gain", "on": "s1.in", "gain_db": -3},
    )
    (lift,) = made.lifts()
    assert (lift.id, lift.microphone, lift.loudspeaker, lift.gain_db) == ("lift", "m2", "s1", -6.0)
    assert [s.kind for s in lift.path.stages] == ["canceller", "lift", "gain"]
    near, far = made.playing()
    assert [w.source for w in near.lifted] == ["m2"]
    assert far.lifted == ()
    # A lift adds: the far end is still there, and its trim with it.
    assert near.far_end is not None
    assert far.far_end is not None
    assert [(s.kind, s.gain_db) for s in near.far_end.stages] == [("gain", -3.0)]
    assert far.far_end.stages == ()


def test_a_lift_without_sources_takes_all_microphones_of_its_device(graph_of: Any) -> None:
    made = graph_of(
        "m1 head, m2 head, p bridge, s1 active", lift={"kind": "lift", "on": "p.line-out"}
    )
    assert {lift.microphone for lift in made.lifts()} == {"m1", "m2"}


def test_a_mixer_takes_in_what_it_names_and_nothing_else(graph_of: Any) -> None:
    made = graph_of(
        "m1 head, p processor, s1 active",
        "p.line-out-1 s1.in",
        mix={"kind": "mixer", "on": "p.line-out-1", "sources": ["p.line-in-2", "m1.link"]},
    )
    (one,) = made.playing()
    assert {w.source for w in one.paths} == {"programme", "m1"}
    assert [lift.id for lift in made.lifts()] == ["mix"]


def test_volume_on_a_two_way_port_turns_what_is_played_and_mute_what_is_sent(
    graph_of: Any,
) -> None:
    made = graph_of(
        "m1 head, p processor, s1 active",
        turn={"kind": "volume", "on": "p.usb"},
        mute={"kind": "mute", "on": "p.usb"},
    )
    (one,) = made.playing()
    assert one.far_end is not None
    assert [s.id for s in one.far_end.stages] == ["turn"]
    assert [s.id for s in made.stages_of("m1") if s.id] == ["mute"]


def test_a_splitter_makes_two_ways_each_cancelled_once(graph_of: Any) -> None:
    made = graph_of(
        "m1 head, s splitter, p bridge, q bridge",
        "m1.link s.mic, s.line-out-1 p.mic-1, s.line-out-2 q.mic-1",
    )
    ways = made.paths_of("m1")
    assert [[s.at for s in way.cancellers] for way in ways] == [["p.mic-1"], ["q.mic-1"]]


def test_a_mixer_without_a_computer_reaches_the_device_that_has_one(graph_of: Any) -> None:
    made = graph_of("g1 gooseneck, x mixer, u usb, s1 active")
    (way,) = made.paths_of("g1")
    assert way.ports == (
        "g1.link",
        "x.mic-1",
        "x.send",
        "x.line-out-1",
        "u.line-in-1",
        "u.send",
        "u.usb",
    )
    assert way.cancellers == ()
    (one,) = made.playing()
    assert one.far_end is not None
    assert "u.line-out-1" in one.far_end.ports


def test_a_codec_brings_the_far_end_over_line_level_and_a_laptop_a_film(graph_of: Any) -> None:
    made = graph_of(
        "m1 head, p processor, s1 active",
        "codec.line-out p.line-in-1, p.line-out-1 codec.line-in, laptop.line-out p.line-in-2",
        {"codec": "codec", "laptop": "computer"},
    )
    (way,) = made.paths_of("m1")
    assert way.ports[-3:] == ("p.line-out-1", "codec.line-in", "codec.send")
    (one,) = made.playing()
    assert {w.source: w.ports[-2:] for w in one.paths} == {
        "far-end": ("p.line-out-2", "s1.in"),
        "programme": ("p.line-out-2", "s1.in"),
    }


def test_a_switch_leads_a_microphone_to_a_channel_and_a_loudspeaker_to_what_plays(
    graph_of: Any,
) -> None:
    made = graph_of(
        "m1 array, p processor, w switch, s1 network",
        "m1.link w.network-1, p.network w.network-2, s1.in w.network-3",
    )
    (way,) = made.paths_of("m1")
    assert way.ports[:2] == ("m1.link", "p.mic-1")
    assert "m1 goes to the network" in way.assumed[0]
    (one,) = made.playing()
    assert one.far_end is not None
    assert one.far_end.ports[-2:] == ("p.network", "s1.in")


def test_a_repeater_in_the_run_is_passed(graph_of: Any) -> None:
    made = graph_of("m1 head, r repeater, p bridge", "m1.link r.near, r.far p.mic-2")
    assert made.paths_of("m1")[0].ports[:4] == ("m1.link", "r.near", "r.far", "p.mic-2")


def test_a_repeater_whose_end_hangs_loose_goes_where_the_microphone_would(graph_of: Any) -> None:
    made = graph_of("m1 head, r repeater, p bridge", "m1.link r.far")
    assert made.paths_of("m1")[0].ports[:4] == ("m1.link", "r.far", "r.near", "p.mic-1")
    bar = graph_of("b bar, x usb-extender", "b.usb x.near", {"laptop": "computer"})
    assert bar.paths_of("b")[0].ports[-3:] == ("x.far", "laptop.usb", "laptop.send")
    assert bar.playing()[0].far_end is not None


def test_one_amplifier_input_feeds_the_channels_without_a_cable(graph_of: Any) -> None:
    made = graph_of(
        "p processor, a amplifier, s1 ceiling, s2 ceiling",
        "p.line-out-1 a.in-1, a.out-1 s1.in, a.out-2 s2.in",
    )
    assert [one.far_end is not None for one in made.playing()] == [True, True]
    assert any("a.in-2 has no link" in sentence for sentence in made.assumed)


def test_loudspeakers_without_cables_share_the_channels_of_their_kind_evenly(
    graph_of: Any,
) -> None:
    made = graph_of("p processor, a amplifier, s1 ceiling, s2 ceiling, s3 ceiling, s4 ceiling")
    assert [one.amplifier for one in made.playing()] == ["a.out-1", "a.out-2"] * 2


def test_a_loudspeaker_without_any_amplifier_plays_and_says_what_is_assumed(graph_of: Any) -> None:
    (one,) = graph_of("p processor, s1 ceiling").playing()
    assert one.amplifier is None
    assert one.far_end is not None
    assert any("s1.in has no amplifier in the document" in s for s in one.far_end.assumed)


def test_an_amplifier_of_the_customers_is_taken_to_pass_on(graph_of: Any) -> None:
    made = graph_of(
        "p processor, s1 ceiling", "p.line-out-1 old.left, old.speaker s1.in", {"old": "other"}
    )
    (one,) = made.playing()
    assert one.far_end is not None
    assert one.far_end.ports[-3:] == ("old.left", "old.speaker", "s1.in")
    assert one.programme == ()


def test_a_microphone_with_no_port_left_has_no_way(graph_of: Any) -> None:
    made = graph_of("m1 head, m2 head, m3 head, p bridge")
    assert [len(made.paths_of(m)) for m in ("m1", "m2", "m3")] == [1, 1, 0]
    assert graph_of("m1 head").paths_of("m1") == ()
    assert graph_of("m1 head, p bridge", "m1.link s.mic").paths_of("m1") == ()


def test_microphones_move_over_so_that_as_many_as_possible_have_a_port(graph_of: Any) -> None:
    # Heads fit both processors, goosenecks only the one with balanced inputs.
    made = graph_of(
        "m1 head, m2 head, g1 gooseneck, g2 gooseneck, g3 gooseneck, g4 gooseneck, "
        "p processor, q bridge"
    )
    assert all(made.paths_of(m) for m in made.microphones)
    assert {made.ends[m].partition(".")[0] for m in ("m1", "m2")} == {"q"}


def test_without_a_device_there_is_nothing(graph_of: Any) -> None:
    made = graph_of()
    assert made.playing() == made.lifts() == made.assumed == made.microphones == ()


def test_cables_in_a_ring_end(graph_of: Any) -> None:
    made = graph_of(
        "g1 gooseneck, p processor, q processor",
        "p.line-out-1 q.line-in-1, q.line-out-1 p.line-in-1, g1.link p.mic-1",
    )
    assert all(len(way.ports) == len(set(way.ports)) for way in made.paths_of("g1"))


def test_many_ways_between_the_same_ends_are_not_followed_without_end(graph_of: Any) -> None:
    names = [f"p{i}" for i in range(12)]
    links = [
        f"{a}.line-out-{1 + (i + j) % 4} {b}.line-in-{1 + (i + j) % 2}"
        for i, a in enumerate(names)
        for j, b in enumerate(names)
        if i != j
    ]
    devices = ", ".join(["g1 gooseneck", *(f"{name} processor" for name in names)])
    made = graph_of(devices, ", ".join(links))
    assert len(made.paths_of("g1")) <= 6


def test_a_microphone_that_cancels_hears_what_arrives_at_the_processor_behind_its_splitter(
    graph_of: Any,
) -> None:
    made = graph_of(
        "m1 head, s splitter, p bridge",
        "m1.link s.mic, s.line-out-1 p.mic-1",
        aec={"kind": "canceller", "on": "m1.link"},
    )
    canceller = made.cancellers("m1")[0]
    assert (canceller.id, canceller.reference) == ("aec", "p.far-end")
    assert canceller.tail is None
    assert made.reference(canceller).far_end


def test_a_combined_device_on_a_processor_gets_the_far_end_over_its_link() -> None:
    shipped = Catalogue.shipped()
    unit = shipped.microphone("table-unit")
    assert unit.built_in is not None
    wired = replace(
        unit,
        id="table-unit-wired",
        link=replace(unit.link, kind="twisted-pair"),
        built_in=replace(unit.built_in, usb=False),
    )
    room = room_with("t1", "combined", "table-unit-wired")
    made = graph(room, shipped.with_entries(microphones=[wired]))
    assert [s.at for s in made.paths_of("t1")[0].cancellers] == ["t1.microphone", "p.mic-1"]
    (one,) = made.playing()
    assert one.far_end is not None
    assert one.far_end.ports[-3:] == ("p.far-end", "t1.far-end", "t1.loudspeaker")


def test_the_tail_of_a_combined_device_is_that_of_its_sheet(graph_of: Any) -> None:
    (canceller,) = graph_of("b bar").cancellers("b")
    built_in = Catalogue.shipped().microphone("front-bar").built_in
    assert built_in is not None
    assert canceller.tail == built_in.canceller_tail
    assert canceller.tail is not None
