"""Does that product drop in: aspects by hand from two sheets, at the places of an invented room."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from wellheard.errors import CatalogError, InputError
from wellheard.workflow.load import Loaded, load
from wellheard.workflow.replacement import Replacement, replacement

pytestmark = pytest.mark.usefixtures("few_rays")

ROOM = """\
wellheard: 1
units: m
space:
  outline: [[0, 0], [5, 0], [5, 4], [0, 4]]
  height: 2.7
  ceiling: {{kind: tiles, module: 0.6, origin: [0, 0], void_depth: 0.4, air_return: false}}
people:
  seats:
    a: {{at: [1.6, 2.0], facing: 0}}
    b: {{at: [3.4, 2.0], facing: 180}}
noise: {{background: {{nc: 25}}}}
equipment: {{rack: {{kind: rack, at: [0.3, 0.3, 0.5]}}}}
devices:
  m1: {{kind: microphone, product: {product}, at: [2.7, 2.1, {z}]}}
  box: {{kind: processor, product: bridge-2, equipment: rack}}
links: {{l1: {{from: m1.link, to: box.mic-1, length: {length}}}}}
"""


@pytest.fixture
def loaded(tmp_path: Path) -> Callable[..., Loaded]:
    def made(
        product: str = "ceiling-head-3", z: float = 2.7, length: float = 20, more: str = ""
    ) -> Loaded:
        path = tmp_path / "a.room.yaml"
        path.write_text(ROOM.format(product=product, z=z, length=length) + more, encoding="utf-8")
        return load(path)

    return made


def aspects(found: Replacement) -> dict[str, str]:
    return {a.name: a.answer for a in found.aspects}


def test_a_product_drops_in_for_itself(loaded: Callable[..., Loaded]) -> None:
    found = replacement(loaded(), "m1", "ceiling-head-3")

    assert set(aspects(found).values()) == {"yes"}
    assert found.answer == "yes"
    assert found.before == found.after
    assert found.new_findings == ()


# By the two sheets: hole 89 against 133 mm, weight 0.5 against 0.9 kg, power 1.5 against 2.8 W,
# the same link, drops, firmware and void.
def test_a_larger_head_wants_a_wider_hole_and_more_power(loaded: Callable[..., Loaded]) -> None:
    found = replacement(loaded(), "ceiling-head-3", "ceiling-head-6")

    said = aspects(found)
    assert found.devices == ("m1",)
    assert (said["hole"], said["weight"], said["power"]) == ("with changes",) * 3
    assert (said["link"], said["drop"], said["firmware"], said["pickup"]) == ("yes",) * 4
    assert found.answer == "with changes"


def test_a_smaller_head_in_a_wider_hole_wants_a_trim(loaded: Callable[..., Loaded]) -> None:
    found = replacement(loaded("ceiling-head-6"), "m1", "ceiling-head-3")

    (hole,) = [a for a in found.aspects if a.name == "hole"]
    assert hole.answer == "with changes"
    assert "too wide" in hole.why


def test_what_hangs_needs_no_hole_of_its_size(loaded: Callable[..., Loaded]) -> None:
    found = replacement(loaded(z=2.1), "m1", "ceiling-head-6")

    assert "hole" not in aspects(found)
    assert aspects(found)["drop"] == "yes"


# 60 mm hangs 0.6 m; a drop of 0.55 m is none of the pendant's, the nearest is 0.6 m.
def test_a_drop_that_the_new_one_lacks_is_told_with_the_nearest(
    loaded: Callable[..., Loaded],
) -> None:
    found = replacement(loaded(z=2.7 - 0.35), "m1", "pendant-cardioid")

    (drop,) = [a for a in found.aspects if a.name == "drop"]
    assert drop.answer == "with changes"
    assert (drop.old, drop.new) == ("0.35 m", "0.30 m")


def test_another_kind_of_link_needs_another_processor(loaded: Callable[..., Loaded]) -> None:
    found = replacement(loaded(), "m1", "ceiling-array-16")

    assert aspects(found)["link"] == "no"
    assert found.answer == "no"


# 24 in are 609.6 mm, 9.6 mm more than the tiles of this room.
@pytest.mark.parametrize(
    ("old", "new", "module", "answer"),
    [
        ("ceiling-head-3", "ceiling-array-16", "0.6", "with changes"),
        ("ceiling-head-3", "ceiling-array-16-24in", "0.6", "no"),
        ("ceiling-array-16", "ceiling-array-16-24in", "0.6", "no"),
        ("ceiling-array-16", "ceiling-array-16-24in", "24 in", "with changes"),
        ("ceiling-array-16", "ceiling-array-48", "24 in", "yes"),
        ("ceiling-head-3", "ceiling-array-16", "", "not assessed"),
    ],
)
def test_a_panel_goes_into_its_own_grid_only(
    old: str, new: str, module: str, answer: str, tmp_path: Path
) -> None:
    path = tmp_path / "a.room.yaml"
    text = ROOM.format(product=old, z=2.7, length=20)
    told = f"module: {module}, " if module else ""
    path.write_text(text.replace("module: 0.6, ", told), encoding="utf-8")

    assert aspects(replacement(load(path), "m1", new))["tile"] == answer


def test_a_run_beyond_the_new_limit_is_a_no(loaded: Callable[..., Loaded]) -> None:
    far = replacement(loaded("pendant-cardioid", 2.1, 45), "m1", "ceiling-head-3")

    assert aspects(far)["link length"] == "no"


def test_without_a_stated_run_a_shorter_limit_is_not_assessed(tmp_path: Path) -> None:
    path = tmp_path / "a.room.yaml"
    text = ROOM.format(product="pendant-cardioid", z=2.1, length=10)
    path.write_text("\n".join(text.splitlines()[:-1]) + "\n", encoding="utf-8")

    found = replacement(load(path), "m1", "ceiling-head-3")
    assert aspects(found)["link length"] == "not assessed"
    assert found.answer != "yes"


def test_a_processor_with_fewer_ports_than_are_in_use_is_a_no(
    loaded: Callable[..., Loaded],
) -> None:
    found = replacement(loaded(), "box", "splitter-1")

    said = aspects(found)
    assert said["canceller"] == "no"
    assert said["port usb"] == "with changes"
    assert found.answer == "no"


MORE = """\
furniture: {lectern: {kind: lectern, at: [4.5, 1.0], height: 1.05}}
devices:
  g1: {kind: microphone, product: gooseneck, at: [4.5, 1.0, 1.4]}
  s1: {kind: loudspeaker, product: ceiling-6, at: [1.2, 1.2, 2.7]}
  s2: {kind: loudspeaker, product: pendant-5, at: [1.2, 3.0, 1.5]}
  amp: {kind: amplifier, product: amplifier-4x150, equipment: rack}
  sw: {kind: switch, product: switch-24, equipment: rack}
  t1: {kind: combined, product: table-unit, at: [2.5, 2.0, 0.74]}
"""


@pytest.fixture
def full(tmp_path: Path) -> Callable[..., Loaded]:
    """The room with one device of each kind, and a ceiling as it is told."""

    def made(
        ceiling: str = "void_depth: 0.4, air_return: false", overhead: str = "ceiling-6"
    ) -> Loaded:
        text = ROOM.format(product="ceiling-head-3", z=2.7, length=20)
        text = text.replace("void_depth: 0.4, air_return: false", ceiling)
        path = tmp_path / "full.room.yaml"
        path.write_text(
            text.replace("devices:\n", MORE).replace("ceiling-6,", f"{overhead},"), encoding="utf-8"
        )
        return load(path)

    return made


# Each figure by hand from the two sheets; what an installer would have to look at.
@pytest.mark.parametrize(
    ("old", "new", "aspect", "answer"),
    [
        ("g1", "table-boundary", "mounting", "no"),  # it stands on a lectern, not on a table
        ("box", "bridge-1", "mounting", "no"),  # in the rack; the small bridge goes under tables
        ("box", "bridge-1", "canceller tail", "with changes"),  # 200 and 128 ms
        ("box", "bridge-1", "canceller loss", "with changes"),  # 52 and 46 dB
        ("box", "bridge-1", "automatic mixer", "with changes"),
        ("box", "processor-12", "latency", "with changes"),  # 12 and 16 ms
        ("box", "processor-12", "rack space", "with changes"),  # none and 1 U
        ("t1", "table-boundary", "housing", "no"),  # no loudspeaker, no canceller
        ("s1", "ceiling-4", "highest level", "with changes"),  # 105 and 98 dB
        ("s1", "ceiling-4", "sensitivity", "with changes"),  # 88 and 85 dB
        ("s1", "ceiling-4", "taps", "with changes"),  # 25 W is not among 1 to 16 W
        ("s2", "ceiling-6", "drop", "with changes"),  # hangs 1.2 m; the new one is flush only
        ("s2", "ceiling-6", "coverage", "with changes"),  # 120 and 100 degrees
        ("amp", "amplifier-2x40", "channel power", "with changes"),  # 150 and 40 W
        ("amp", "amplifier-2x40", "line voltages", "with changes"),
        ("amp", "line-amplifier-1x120", "smallest load", "with changes"),  # line output only
        ("sw", "switch-8", "power for all ports", "with changes"),  # 380 and 65 W
        ("sw", "switch-8", "power class", "with changes"),  # 6 and 4
        ("m1", "ceiling-array-16", "colour", "not assessed"),  # white or black, and white only
    ],
)
def test_what_the_new_one_cannot_do_is_told(
    full: Callable[..., Loaded], old: str, new: str, aspect: str, answer: str
) -> None:
    found = replacement(full(), old, new)
    assert aspects(found)[aspect] == answer
    assert found.answer != "yes"


def test_what_the_new_one_does_better_is_no_aspect(full: Callable[..., Loaded]) -> None:
    said = aspects(replacement(full(), "box", "bridge-2"))
    no_worse = {"canceller tail", "canceller loss", "automatic mixer", "latency", "rack space"}
    assert not {*no_worse, "colour"} & set(said)
    room = full()
    louder = aspects(replacement(room, "s2", "pendant-5"))
    assert not {"highest level", "sensitivity", "coverage", "taps"} & set(louder)


# By the sheets' sizes 0.20 m of loudspeaker where 0.15 m was.
@pytest.mark.parametrize(
    ("void", "answer"),
    [("void_depth: 0.15", "no"), ("void_depth: 0.4", "with changes"), ("", "not assessed")],
)
def test_a_deeper_body_is_held_against_the_void(
    full: Callable[..., Loaded], void: str, answer: str
) -> None:
    ceiling = ", ".join(filter(None, (void, "air_return: false")))
    assert "void" not in aspects(replacement(full(ceiling), "s1", "ceiling-4"))  # is less deep
    found = replacement(full(ceiling, "ceiling-4"), "s1", "ceiling-6")
    assert aspects(found)["void"] == answer


def test_what_will_hang_needs_no_room_above_the_ceiling(full: Callable[..., Loaded]) -> None:
    """The pendant's shortest drop is 0.3 m, so its 0.28 m are below."""
    found = replacement(full("void_depth: 0.1, air_return: true"), "s1", "pendant-5")
    assert not {"void", "plenum"} & set(aspects(found))


# The network loudspeaker's sheet says nothing of return air, the other's says yes.
@pytest.mark.parametrize(
    ("air", "answer"),
    [("true", "not assessed"), ("null", "not assessed"), ("false", None)],
)
def test_a_rating_that_is_lost_is_never_a_yes_above_a_ceiling(
    full: Callable[..., Loaded], air: str, answer: str | None
) -> None:
    room = full(f"void_depth: 0.4, air_return: {air}")
    assert aspects(replacement(room, "s1", "ceiling-6-network")).get("plenum") == answer


def test_what_the_checks_find_with_the_new_one_only_is_part_of_the_answer(
    full: Callable[..., Loaded],
) -> None:
    found = replacement(full(), "box", "processor-8")
    # A warning, and an error: it hears the lectern, which the bridge has no port for, and the room
    # echoes there for longer than its tail.
    assert {"product-discontinued", "tail-too-short"} <= set(dict(found.new_findings))
    assert aspects(found)["checks"] == "no"


def test_one_run_without_a_length_leaves_the_shorter_limit_open(tmp_path: Path) -> None:
    path = tmp_path / "a.room.yaml"
    text = ROOM.format(product="pendant-cardioid", z=2.1, length=10)
    second = "  m2: {kind: microphone, product: pendant-cardioid, at: [2.0, 2.1, 2.1]}\n  box:"
    path.write_text(text.replace("  box:", second), encoding="utf-8")

    found = replacement(load(path), "pendant-cardioid", "ceiling-head-3")
    assert aspects(found)["link length"] == "not assessed"


def test_a_discontinued_product_is_a_no_that_names_what_follows(
    loaded: Callable[..., Loaded],
) -> None:
    room = loaded()
    old = next(m for m in room.catalogue.microphones if m.status == "discontinued")

    found = replacement(room, "m1", old.id)
    (bought,) = [a for a in found.aspects if a.name == "availability"]
    assert bought.answer == "no"
    assert old.successor in bought.why


def test_a_microphone_that_no_longer_hears_a_seat_is_a_no(loaded: Callable[..., Loaded]) -> None:
    """An omnidirectional capsule takes 4.8 dB more of the room than a cardioid, DI 10 lg 3 [L]."""
    near = loaded(more="targets: {direct_to_reverberant_db: -4}\n")
    found = replacement(near, "m1", "omni-reference")

    (pickup,) = [a for a in found.aspects if a.name == "pickup"]
    assert (found.before.kept, found.after.kept) == (2, 0)
    assert (pickup.answer, pickup.why) == ("no", "no longer kept: a, b")
    assert found.answer == "no"


@pytest.mark.parametrize(
    ("old", "new", "error", "message"),
    [
        ("m9", "ceiling-head-6", InputError, "no device 'm9'.*m1 \\(ceiling-head-3\\)"),
        ("m1", "bridge-2", InputError, "bridge-2 is a processor, ceiling-head-3 a microphone"),
        ("m1", "ceiling-hed-6", CatalogError, "did you mean"),
    ],
)
def test_what_cannot_be_compared_is_refused(
    loaded: Callable[..., Loaded],
    old: str,
    new: str,
    error: type[Exception],
    message: str,
) -> None:
    with pytest.raises(error, match=message):
        replacement(loaded(), old, new)


def test_no_worse_is_not_yes_where_nothing_is_kept(tmp_path: Path) -> None:
    """Nobody is understood over NC-60, by whichever microphone: common practice [C]."""
    path = tmp_path / "loud.room.yaml"
    text = ROOM.format(product="ceiling-head-3", z=2.7, length=10)
    path.write_text(text.replace("nc: 25", "nc: 60"), encoding="utf-8")

    found = replacement(load(path), "m1", "ceiling-head-3")
    (pickup,) = [a for a in found.aspects if a.name == "pickup"]
    assert found.before.kept == found.after.kept == 0
    assert pickup.answer == "with changes"
    assert "neither before nor after" in pickup.why


def test_links_are_not_assessed_without_a_processor(
    loaded: Callable[..., Loaded], tmp_path: Path
) -> None:
    path = tmp_path / "b.room.yaml"
    text = ROOM.format(product="ceiling-head-3", z=2.7, length=10)
    kept = [line for line in text.splitlines() if not line.startswith(("  box:", "links:"))]
    path.write_text("\n".join(kept) + "\n", encoding="utf-8")

    found = replacement(load(path), "m1", "ceiling-array-16")
    assert aspects(found)["link"] == "not assessed"
