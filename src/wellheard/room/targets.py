"""The promise, and the house limits that placement and checks share.

Two kinds of figure live here. `Targets` is what this document promises; each may be null, and is
then no part of the promise. `HOUSE_LIMITS` are the distances and heights that the trade works
with; a document relaxes one under ``targets.house_rules`` with a reason, and may put its own
``limit`` in its place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from wellheard.forms.fields import Flag, Frozen, Id, Number, Text, refuse, shown
from wellheard.room.assistive import ReceiverSteps

NC_ROUNDING = 0.5
"""NC numbers are whole ones: what rounds to the promised number keeps it. [NC]"""

_Sti = Annotated[Number, Field(ge=0, le=1)]
_Ratio = Annotated[Number, Field(ge=-40, le=60)]
_Speech = Annotated[Number, Field(ge=40, le=100)]


def _span(value: Any) -> Any:
    if not isinstance(value, list | tuple) or len(value) != 2:
        refuse(f"{shown(value)} is no range", "two levels, [lowest, highest]")
    if all(isinstance(v, int | float) for v in value) and not value[0] < value[1]:
        refuse(f"{value[0]:g} to {value[1]:g} is no range", "the lower level first")
    return tuple(value)


class HouseRule(Frozen):
    """What this document does with a rule of the house."""

    relaxed: Flag = False
    because: Text | None = Field(default=None, description="Required where it is relaxed")
    limit: Number | None = Field(default=None, description="In place of the usual limit [SI]")

    @model_validator(mode="after")
    def _with_a_reason(self) -> Self:
        if (self.relaxed or self.limit is not None) and not (self.because or "").strip():
            refuse(
                "a house rule is relaxed without a reason"
                if self.relaxed
                else "a house rule has another limit without a reason",
                "say why under because",
            )
        return self


class Targets(Frozen):
    """What every seat is promised; null is not part of the promise."""

    chance: Annotated[Number, Field(gt=0, lt=1)] | None = Field(
        default=0.8, description="Wanted probability, 0-1; null takes the middle value"
    )
    sti_outbound: _Sti | None = Field(default=0.62, description="STI at the far end")
    direct_to_reverberant_db: _Ratio | None = Field(
        default=-6.0, description="Mean of 500-4000 Hz, microphone pattern included [dB]"
    )
    speech_to_noise_db: _Ratio | None = Field(
        default=15.0, description="Whole speech, importance-weighted [dB]"
    )
    sti_inbound: _Sti | None = Field(default=0.60, description="STI at the seats")
    playback_level_dba: _Speech | None = Field(
        default=70.0, description="Seat mean that playback is set to [dBA]"
    )
    listening_level_dba: Annotated[tuple[_Speech, _Speech], BeforeValidator(_span)] | None = Field(
        default=(65.0, 75.0), description="Lowest and highest at any seat [dBA]"
    )
    uniformity_db: Annotated[Number, Field(gt=0, le=40)] | None = Field(
        default=6.0, description="Loudest minus quietest seat [dB]"
    )
    noise_nc: Annotated[Number, Field(ge=0, le=75)] | None = Field(
        default=30.0, description="Most noise, NC number"
    )
    echo_loss_db: Annotated[Number, Field(ge=0, le=120)] | None = Field(
        default=None, description="[dB]; null is derived from the delay"
    )
    price: Annotated[Number, Field(gt=0)] | None = Field(
        default=None, description="Upper limit, in project.currency"
    )
    reverberation: Annotated[Number, Field(gt=0.05, le=20)] | None = Field(
        default=None, description="Longest mid-frequency decay time [s]"
    )
    assistive_receivers: ReceiverSteps | None = Field(
        default=None,
        description="Receivers by seats as the law of the place asks, rows [seats up to, "
        "receivers, hearing-aid compatible ones]; null takes the table of the region",
    )
    house_rules: dict[Id, HouseRule] = Field(default_factory=dict)

    def house_limit(self, code: str) -> float | None:
        """Limit of a house rule in this document, null where it is relaxed. [SI]"""
        usual = HOUSE_LIMITS[code].limit
        rule = self.house_rules.get(code)
        if rule is None:
            return usual
        if rule.limit is not None:
            return rule.limit
        return None if rule.relaxed else usual


@dataclass(frozen=True, slots=True)
class HouseLimit:
    """One figure that the trade works with.

    Parameters
    ----------
    code : str
        Name under which a document relaxes it.
    limit : float
        [SI]
    sense : {"at least", "at most"}
        Which side of it is right.
    unit : str
        Unit of ``limit``; empty for a ratio or a count.
    means : str
        What is measured.
    source : str
        Where the figure is from, with its trust mark: [L] looked up, [M] from memory,
        [C] common practice, no source.
    """

    code: str
    limit: float
    sense: Literal["at least", "at most"]
    unit: str
    means: str
    source: str


_PRACTICE = "common practice, no source [C]"
_LUMINAIRES = "rule for luminaires in lay-in ceilings (ASTM E580 lineage), via open texts [L]"


def _limits(
    *rows: tuple[str, float, Literal["at least", "at most"], str, str, str],
) -> dict[str, HouseLimit]:
    return {row[0]: HouseLimit(*row) for row in rows}


HOUSE_LIMITS: dict[str, HouseLimit] = _limits(
    (
        "microphone-near-loudspeaker",
        1.2,
        "at least",
        "m",
        "microphone to loudspeaker in another housing",
        _PRACTICE + "; 4 ft",
    ),
    ("microphone-near-air-outlet", 1.0, "at least", "m", "microphone to air outlet", _PRACTICE),
    (
        "microphone-in-air-jet",
        1.5,
        "at least",
        "m",
        "microphone to air outlet within the jet below it",
        _PRACTICE,
    ),
    (
        "air-jet-angle-deg",
        30.0,
        "at most",
        "deg",
        "half angle of the jet about the vertical; a free jet spreads by 10° to 12°, with reserve",
        _PRACTICE,
    ),
    (
        "microphone-near-fan",
        1.5,
        "at least",
        "m",
        "microphone to projector, fan coil or other fan",
        _PRACTICE,
    ),
    (
        "microphone-near-wall",
        0.5,
        "at least",
        "m",
        "ceiling microphone to wall, beam or hard bulkhead",
        _PRACTICE + "; comb filtering",
    ),
    (
        "head-height-under-pendant",
        2.1,
        "at least",
        "m",
        "underside of anything hung, over a walkway",
        _PRACTICE,
    ),
    (
        "head-height-over-table",
        1.8,
        "at least",
        "m",
        "underside of anything hung, over a table",
        _PRACTICE,
    ),
    (
        "sight-line-crossed",
        0.1,
        "at least",
        "m",
        "underside of anything hung, above the top of the highest picture",
        _PRACTICE,
    ),
    ("lectern-microphone", 0.4, "at most", "m", "lectern microphone to mouth", _PRACTICE),
    (
        "table-microphone-far",
        1.1,
        "at most",
        "m",
        "table microphone to mouth, straight: 1.0 m on the plan",
        _PRACTICE + "; 0.6 to 0.9 m along the table, and the mouth 0.45 m above it",
    ),
    ("table-microphone-near", 0.6, "at least", "m", "table microphone to mouth", _PRACTICE),
    ("pickup-clear", 2.0, "at most", "m", "microphone to mouth, clear step", _PRACTICE),
    ("pickup-usual", 3.5, "at most", "m", "microphone to mouth, usual step", _PRACTICE),
    ("pickup-last", 5.0, "at most", "m", "microphone to mouth, last resort", _PRACTICE),
    (
        "loudspeaker-over-talker-db",
        10.0,
        "at most",
        "dB",
        "loudspeaker over talker, both at the microphone",
        _PRACTICE,
    ),
    (
        "microphone-run",
        30.0,
        "at most",
        "m",
        "ceiling microphone to processor on twisted pair, where the product states nothing",
        _PRACTICE + "; 100 ft",
    ),
    ("service-loop", 3.0, "at least", "m", "spare cable at a ceiling device", _PRACTICE),
    ("ceiling-noise-nc", 30.0, "at most", "NC", "background for ceiling pickup", _PRACTICE),
    ("near-noise-nc", 35.0, "at most", "NC", "background for near pickup", _PRACTICE),
    ("floor-per-person", 2.0, "at least", "m²", "floor per person at a table", _PRACTICE),
    (
        "floor-per-person-in-rows",
        1.2,
        "at least",
        "m²",
        "floor per person in rows without a table",
        _PRACTICE,
    ),
    (
        "seats-overlap",
        0.45,
        "at least",
        "m",
        "between two heads",
        "breadth across the shoulders, 0.40 to 0.50 m, from memory [M]",
    ),
    (
        "seat-in-furniture",
        0.15,
        "at most",
        "m",
        "how far a head leans over the edge of a table",
        _PRACTICE,
    ),
    ("chair-in-wall", 0.25, "at least", "m", "head to wall, column or cupboard", _PRACTICE),
    ("seat-unreachable", 0.5, "at least", "m", "width of a way that one person walks", _PRACTICE),
    (
        "furniture-overlaps",
        0.05,
        "at most",
        "m",
        "width that two pieces of furniture share, from a drawing's rounding",
        _PRACTICE,
    ),
    (
        "device-overlaps",
        0.01,
        "at most",
        "m",
        "depth that two housings share, from a drawing's rounding",
        _PRACTICE,
    ),
    (
        "pendant-in-camera-view",
        0.1,
        "at least",
        "m",
        "about a mouth, what a camera must see of a face",
        "half the length of a face, 0.10 to 0.12 m, from memory [M]",
    ),
    (
        "microphone-behind-talker",
        100.0,
        "at most",
        "deg",
        "ceiling microphone off the talker's facing; 0.3 m behind a mouth 1.5 m below is 101°",
        _PRACTICE,
    ),
    (
        "beam-far-aside",
        50.0,
        "at most",
        "deg",
        "steered beam off its rest axis; a flat face seen from 50° aside is 0.64 as wide",
        _PRACTICE,
    ),
    (
        "microphone-near-papers",
        0.3,
        "at least",
        "m",
        "table microphone to a working place with laptop and papers",
        _PRACTICE,
    ),
    (
        "working-place-depth",
        0.45,
        "at least",
        "m",
        "working place of a seat, from the table's edge inwards",
        _PRACTICE,
    ),
    ("working-place-width", 0.6, "at least", "m", "working place of a seat, across", _PRACTICE),
    (
        "table-microphone-seats",
        3.0,
        "at most",
        "",
        "seats that one table microphone serves",
        _PRACTICE,
    ),
    (
        "critical-distance-ratio",
        2.0,
        "at most",
        "",
        "talker's distance over that at which voice and room are equally loud",
        _PRACTICE + "; a ratio of −6 dB",
    ),
    ("seat-pitch", 0.6, "at least", "m", "head to head, neighbours at a table", _PRACTICE),
    (
        "chair-clearance",
        0.9,
        "at least",
        "m",
        "table's edge to wall, column or cupboard behind the chair",
        _PRACTICE,
    ),
    (
        "chair-clearance-in-rows",
        0.75,
        "at least",
        "m",
        "desk's edge to the next desk behind the chair",
        _PRACTICE,
    ),
    (
        "picture-distance",
        6.0,
        "at most",
        "",
        "farthest viewer over picture height, for reading",
        _PRACTICE,
    ),
    (
        "noise-at-microphone",
        3.0,
        "at most",
        "dB",
        "noise at a microphone above that at the seats",
        _PRACTICE,
    ),
    (
        "uneven-absorption",
        0.25,
        "at most",
        "",
        "disagreement of reverberation models at 500 Hz and 1 kHz",
        _PRACTICE,
    ),
    (
        "parallel-hard-walls",
        0.1,
        "at least",
        "",
        "mean absorption 1–4 kHz of one of two walls that face each other",
        _PRACTICE + "; flutter",
    ),
    (
        "parallel-hard-walls-share",
        0.5,
        "at most",
        "",
        "share of the facing length along which both walls are hard",
        _PRACTICE,
    ),
    (
        "parallel-hard-walls-length",
        1.0,
        "at least",
        "m",
        "unbroken length below which two hard walls do not flutter",
        _PRACTICE,
    ),
    (
        "parallel-hard-walls-splay-deg",
        5.0,
        "at least",
        "deg",
        "splay that ends a flutter",
        _PRACTICE,
    ),
    (
        "target-missed-reverberation",
        1.2,
        "at most",
        "",
        "mid-frequency decay time over the recommended one, where none is promised",
        "DIN 18041:2016, tolerance of group A, via open technical texts [L]",
    ),
    (
        "privacy-margin",
        16.0,
        "at least",
        "dB",
        "noise beyond a wall over the speech that comes through it, uniform mean of 250–4000 Hz",
        "Gover and Bradley 2004: measure [L], threshold of intelligibility from memory [M]",
    ),
    (
        "privacy-class",
        45.0,
        "at least",
        "",
        "class (STC or Rw) of a wall between meeting rooms, where the noise beyond is unknown",
        _PRACTICE,
    ),
    (
        "privacy-class-board",
        50.0,
        "at least",
        "",
        "class (STC or Rw) of a wall of a board room, where the noise beyond is unknown",
        _PRACTICE,
    ),
    (
        "tile-load",
        25.0,
        "at most",
        "kg",
        "weight in a lay-in ceiling without hangers from the structure (56 lb)",
        _LUMINAIRES,
    ),
    (
        "tile-load-two-wires",
        4.5,
        "at most",
        "kg",
        "weight in a lay-in ceiling with one wire only (10 lb); from here on two",
        _LUMINAIRES,
    ),
    (
        "safety-bond",
        2.0,
        "at most",
        "kg",
        "weight overhead without a bond of its own to the structure",
        _PRACTICE + "; a few kilograms",
    ),
    (
        "grid-mixed",
        0.003,
        "at most",
        "m",
        "side of a device that replaces a tile, apart from that of the tile",
        _PRACTICE,
    ),
    (
        "speech-crest-db",
        12.0,
        "at least",
        "dB",
        "peaks of far-end speech over its average, unweighted",
        _PRACTICE + "; 12 to 18 dB",
    ),
    (
        "loudspeaker-late-arrival",
        0.030,
        "at most",
        "s",
        "direct sound of a loudspeaker at an ear, after the first that arrives there",
        _PRACTICE + "; an echo of speech begins at 30 to 50 ms (Haas 1951, from memory [M])",
    ),
    (
        "loudspeaker-late-arrival-db",
        10.0,
        "at least",
        "dB",
        "how far below the first such a late direct sound must lie",
        _PRACTICE + "; Haas 1951, from memory [M]",
    ),
    (
        "voice-not-from-picture",
        45.0,
        "at most",
        "deg",
        "angle between the far end's voice and the nearest picture, seen from a seat",
        _PRACTICE,
    ),
    (
        "speech-over-noise-inbound",
        15.0,
        "at least",
        "dB",
        "far-end speech over the room's noise at an ear, importance-weighted",
        _PRACTICE + "; 25 dB wanted",
    ),
    (
        "playback-level-high",
        80.0,
        "at most",
        "dBA",
        "average far-end speech at any ear",
        _PRACTICE + "; 85 dBA for 8 hours is NIOSH's limit for hearing [L]",
    ),
    (
        "canceller-linear-db",
        30.0,
        "at most",
        "dB",
        "echo that a canceller's filter takes away, whatever else allows",
        _PRACTICE + "; 20 to 35 dB",
    ),
    (
        "canceller-suppression-db",
        15.0,
        "at most",
        "dB",
        "echo that suppression of the residue takes away besides",
        _PRACTICE + "; 10 to 25 dB",
    ),
    (
        "canceller-under-noise-db",
        10.0,
        "at most",
        "dB",
        "how far below the noise at its microphone a slow canceller brings an echo",
        _PRACTICE,
    ),
    (
        "loudspeaker-distortion",
        0.01,
        "at most",
        "",
        "harmonic distortion of a loudspeaker whose sheet states none",
        _PRACTICE,
    ),
    (
        "headroom-db",
        15.0,
        "at least",
        "dB",
        "average speech below clipping, at each stage of a microphone's way",
        _PRACTICE + "; peaks of speech are 12 to 18 dB above its average",
    ),
    (
        "noise-of-electronics",
        0.0,
        "at most",
        "dB",
        "noise of the electronics over the microphone's own",
        _PRACTICE,
    ),
    (
        "in-room-delay",
        0.040,
        "at most",
        "s",
        "mouth to computer, or computer to ear",
        _PRACTICE,
    ),
    (
        "lift-delay",
        0.020,
        "at most",
        "s",
        "lifted voice in microphone, processor, amplifier and loudspeaker, without air",
        _PRACTICE,
    ),
    (
        "stability-margin-db",
        6.0,
        "at least",
        "dB",
        "loop gain of a lift, peaks included, below howling",
        _PRACTICE + "; feedback stability margin",
    ),
    (
        "lift-increase-db",
        6.0,
        "at most",
        "dB",
        "lifted and natural voice over the natural one alone, at any seat",
        _PRACTICE,
    ),
    (
        "lift-too-loud",
        65.0,
        "at most",
        "dB",
        "A-weighted level of lifted and natural voice at any seat; 60 to 65 is aimed at",
        _PRACTICE,
    ),
    (
        "lift-hears-itself",
        3.0,
        "at least",
        "m",
        "head to its nearest loudspeaker, where that plays the head's own microphone",
        _PRACTICE + "; zone-minus",
    ),
    (
        "lift-echo",
        0.030,
        "at most",
        "s",
        "lifted voice after the natural one, where it is the louder of the two",
        _PRACTICE + "; a second voice is heard from here on",
    ),
    (
        "acoustic-distance-quiet",
        3.0,
        "at most",
        "m",
        "distance at which a talker is heard well in 30 dB(A) of noise or less",
        _PRACTICE,
    ),
    (
        "acoustic-distance-noisy",
        1.2,
        "at most",
        "m",
        "the same in 50 dB(A) of noise or more; between them it falls evenly with the level",
        _PRACTICE + "; 1.2 to 2.4 m",
    ),
    ("price-old", 366.0, "at most", "d", "age of a list price; twelve months", _PRACTICE),
)
"""Default thresholds by rule code; the one place that placement and checks read them from."""
