"""The registry: every rule listed, documented, unique; the page equal to the rules."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

import wellheard.checks
from wellheard.checks import registry
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.predict.evidence import Evidence
from wellheard.room.house_limits import HOUSE_LIMITS

PACKAGE = Path(wellheard.checks.__file__).parent
PAGE = Path(__file__).parents[2] / "docs" / "rules.md"

CODES = {
    "arrangements-not-assessed",
    "furniture-across-partition",
    "space-without-microphone",
    "assistive-listening",
    "assumed-inputs",
    "beam-far-aside",
    "below-schroeder",
    "chair-clearance",
    "chair-in-wall",
    "device-overlaps",
    "floor-per-person",
    "furniture-overlaps",
    "microphone-behind-talker",
    "microphone-near-papers",
    "pendant-in-camera-view",
    "pendant-in-projector-beam",
    "picture-distance",
    "seat-in-furniture",
    "seat-pitch",
    "seat-unreachable",
    "seats-overlap",
    "table-microphone-distance",
    "table-or-ceiling",
    "cable-too-long",
    "grid-mixed",
    "head-height-under-pendant",
    "house-rule-relaxed",
    "loudspeaker-nearer-than-talkers",
    "microphone-in-keep-out",
    "microphone-near-air-outlet",
    "microphone-near-fan",
    "microphone-near-loudspeaker",
    "microphone-near-wall",
    "noise-at-microphone",
    "not-used-yet",
    "parallel-hard-walls",
    "ports-exceeded",
    "price-old",
    "privacy-margin",
    "product-discontinued",
    "region-unknown",
    "safety-bond",
    "sight-line-crossed",
    "talker-beyond-rated-distance",
    "target-missed-direct-to-reverberant",
    "target-missed-noise",
    "target-missed-reverberation",
    "target-missed-speech-to-noise",
    "target-missed-sti",
    "tile-load",
    "uneven-absorption",
    "decay-not-reproduced",
    "converter-clips",
    "echo-loss-missed",
    "in-room-delay",
    "lip-sync",
    "loudspeaker-over-talker",
    "noise-of-electronics",
    "one-way-delay",
    "preamplifier-clips",
    "tail-too-short",
    "loudspeaker-headroom",
    "loudspeaker-late-arrival",
    "loudspeaker-without-place",
    "playback-level-high",
    "space-without-loudspeaker",
    "speech-over-noise-inbound",
    "target-missed-listening-level",
    "target-missed-sti-inbound",
    "target-missed-uniformity",
    "voice-not-from-picture",
    "loudspeaker-in-keep-out",
    "canceller-missing",
    "canceller-of-computer",
    "canceller-twice",
    "gain-changes-before-canceller",
    "link-ports-mismatch",
    "loudspeaker-without-amplifier",
    "mixer-before-canceller",
    "mute-before-canceller",
    "port-unknown",
    "reference-holds-microphone",
    "reference-lacks-far-end",
    "reference-lacks-programme",
    "volume-after-reference",
    "lift-delay",
    "lift-hears-itself",
    "lift-host-processing",
    "lift-howls",
    "lift-not-enough",
    "lift-too-loud",
    "void-air-return",
    "amplifier-load-too-low",
    "bundle-heating",
    "cable-too-thin",
    "cord-too-short",
    "circuit-overloaded",
    "jacket-too-low",
    "line-overloaded",
    "network-ports-exceeded",
    "poe-budget-exceeded",
    "poe-class-exceeded",
    "rack-full",
    "rack-heat",
    "switch-unmanaged",
}
"""Codes that documents and outsiders rely on. One may be added; none may vanish or change."""


def _quiet(evidence: Evidence) -> Iterator[Draft]:
    """Nothing is ever wrong."""
    yield from ()


def test_codes_that_outsiders_rely_on_are_all_there() -> None:
    assert set(registry.rules()) == CODES
    assert not CODES & registry.RETIRED


def test_every_file_of_the_topic_folders_is_listed() -> None:
    there = {
        f"{path.parent.name}.{path.stem}"
        for path in PACKAGE.glob("*/*.py")
        if path.stem != "__init__"
    }
    assert there == set(registry.MODULES)
    assert len(registry.MODULES) == len(set(registry.MODULES))


def test_every_module_holds_one_rule_named_like_it() -> None:
    for module in registry.MODULES:
        topic, _, name = module.partition(".")
        one = registry.rules()[name.replace("_", "-")]
        assert one.topic == topic
        assert one.topic in registry.TOPICS
        assert one.check.__name__ == name


def test_topics_are_the_folders() -> None:
    folders = {path.parent.name for path in PACKAGE.glob("*/__init__.py")}
    assert folders == set(registry.TOPICS)


def test_page_of_rules_is_what_the_rules_say() -> None:
    assert PAGE.read_text("utf-8") == registry.documentation(), (
        "write registry.documentation() to docs/rules.md"
    )


def test_page_holds_every_code_and_every_threshold() -> None:
    page = registry.documentation()
    for code, one in registry.rules().items():
        assert f"### `{code}`" in page
        assert one.documentation in page
        for key in one.thresholds:
            assert f"| `{key}` |" in page


def test_only_house_rules_can_be_relaxed() -> None:
    for one in registry.rules().values():
        assert one.strength == "house" or not one.relaxable


def test_promise_of_a_seat_cannot_be_relaxed() -> None:
    for code in CODES:
        if code.startswith("target-missed") and code != "target-missed-reverberation":
            assert not registry.rules()[code].relaxable


def test_taken_code_is_refused() -> None:
    registry.rules()
    with pytest.raises(ValueError, match="taken"):
        rule("below-schroeder", "note", strength="house", cites="x")(_quiet)


@pytest.mark.parametrize("code", ["Upper-case", "under_score", "-dash", "", "two--dashes"])
def test_malformed_code_is_refused(code: str) -> None:
    with pytest.raises(ValueError, match="lower-case"):
        rule(code, "note", strength="house", cites="x")


def test_retired_code_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(registry, "RETIRED", frozenset({"old-rule"}))
    with pytest.raises(ValueError, match="retired"):
        rule("old-rule", "note", strength="house", cites="x")


def test_threshold_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match="not in HOUSE_LIMITS"):
        rule("new-rule", "note", strength="house", cites="x", thresholds=("no-such-limit",))


def test_rule_without_a_source_is_refused() -> None:
    with pytest.raises(ValueError, match="where it comes from"):
        rule("new-rule", "note", strength="house", cites="")


def test_rule_without_a_docstring_is_refused() -> None:
    def mute(evidence: Evidence) -> Iterator[Draft]:
        yield from ()

    with pytest.raises(ValueError, match="docstring"):
        rule("new-rule", "note", strength="house", cites="x")(mute)
    assert "new-rule" not in registry.rules()


def test_threshold_named_like_a_rule_belongs_to_it() -> None:
    for code in set(HOUSE_LIMITS) & CODES:
        assert code in registry.rules()[code].thresholds
        assert registry.rules()[code].strength == "house"
