"""What the way back says: loudspeakers, echo, lift, levels and delays, as frozen values.

::

    far end ──► processor ──► amplifier ──► loudspeaker ──► ear        inbound
                                               │
                                               └──► microphone ──► far end       echo
    mouth ──► microphone ──► loudspeaker ──► another ear               lift
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from wellheard.catalog.products import Loudspeaker, Microphone

if TYPE_CHECKING:
    from wellheard.predict.evidence import Bands, Point, Quantity, State, Talker

Unit: TypeAlias = Literal["dB SPL", "dBA", "dBV", "dBu", "dBFS", "W"]


@dataclass(frozen=True)
class PlacedLoudspeaker:
    """One place that sounds: a loudspeaker of the document, one of a pair, or a bar's own."""

    id: str
    """Of the device; of a pair ``l1.left`` and ``l1.right``."""
    device: str
    product: Loudspeaker | Microphone
    """A microphone where the device is combined."""
    at: Point
    axis: tuple[float, float, float]
    """Unit vector that it faces along."""
    mounting: str
    drop: float | None
    """Drop below the ceiling [m]; None where it does not hang."""
    trim_db: float
    """Its level re the common one, from gain stages on its way."""
    delay: float
    """Of delay stages on its way [s]."""
    flush: bool
    """Set into the ceiling, and so radiating into the half space below."""
    locked: bool

    @property
    def max_level_db(self) -> float:
        """Most that it plays 1 m on its axis; of a pair half of what its sheet states."""
        if isinstance(self.product, Microphone):
            assert self.product.built_in is not None  # else it plays nothing
            return self.product.built_in.max_level_db
        return self.product.max_level_db - 10 * math.log10(self.product.units)


@dataclass(frozen=True)
class Arrival:
    """Direct sound of one loudspeaker at an ear."""

    loudspeaker: str
    distance: float
    time: float
    """Since it left the processor: electronic delay and air [s]."""
    level_dba: float
    """Direct sound alone, at playback level."""
    share_dba: float
    """Direct and reflected."""


@dataclass(frozen=True)
class Inbound:
    """What one ear hears of the far end."""

    talker: Talker
    """Whose ear it is."""
    sti: Quantity
    level: Quantity
    """``listening_level_dba``; its target is the nearer end of the promised range, its chance that
    of lying within the range."""
    levels_db: Bands
    noise_db: Bands
    c50_db: Bands
    modulation_transfer_index: Bands
    direct_to_reverberant_db: float
    """Mean of 500 Hz–4 kHz; direct sound of all loudspeakers."""
    speech_to_noise_db: float
    arrivals: tuple[Arrival, ...]
    """Of every loudspeaker, first to arrive first."""
    heard_from: str
    """Loudspeaker that the voice seems to come from: the first to arrive, unless a later one is
    louder by 10 dB or more."""
    direction_deg: float | None
    """Angle between it and the nearest picture, seen from the ear [°]; None without a picture."""
    chance: float
    binds: str
    state: State
    rating: str
    category: str
    arrangement: str = ""

    @property
    def leads(self) -> Arrival:
        """Direct sound of the loudspeaker that the voice seems to come from."""
        return next(one for one in self.arrivals if one.loudspeaker == self.heard_from)


@dataclass(frozen=True)
class Drive:
    """How hard a loudspeaker works at playback level."""

    loudspeaker: str
    level_1m_dba: float
    """Average speech on axis."""
    peak_1m_db: float
    """Unweighted, with the crest of speech."""
    max_level_db: float
    headroom_db: float
    power_w: float | None
    """At the peaks; None where the product is active or combined. [W]"""
    tap_w: float | None
    """Smallest tap that gives it; None without taps or where none is enough. [W]"""


@dataclass(frozen=True)
class Playback:
    """The far end in the room: loudspeakers as set, and every ear's row."""

    loudspeakers: tuple[PlacedLoudspeaker, ...]
    rows: tuple[Inbound, ...]
    target_dba: float
    """What the mean over the ears is set to."""
    mean_dba: float
    level_1m_dba: float
    """Of average speech on the axis of a loudspeaker without trim."""
    speech_1m_db: Bands
    uniformity: Quantity
    """Loudest minus quietest ear, A-weighted [dB]."""
    uniformity_speech_db: float
    """The same of the 2 kHz octave [dB]."""
    drives: tuple[Drive, ...]

    def row(self, talker: str) -> Inbound:
        """The row of a talking point; KeyError where there is none."""
        for one in self.rows:
            if one.talker.id == talker:
                return one
        raise KeyError(talker)


@dataclass(frozen=True)
class Echo:
    """What a microphone sends back of the far end, and what a canceller must do about it.

    Levels and losses are of the weighting of ITU-T G.122 where nothing else is said.
    """

    microphone: str
    talker: str
    """Whose element or beam hears most of it."""
    return_loss_bands_db: Bands
    return_loss_db: float
    by_loudspeaker_db: tuple[tuple[str, float], ...]
    """Return loss of every loudspeaker alone."""
    echo_dba: float
    """At the capsule, at playback level."""
    speech_dba: float
    """Of the talker, there."""
    noise_dba: float
    needed_db: float
    needed_from: str
    """Where that is from: the delay, or the document's promise."""
    must_add_db: float
    canceller: str | None
    """Place of the canceller: device.port, or the device that cancels by itself."""
    tail: float | None
    """Longest echo that it cancels [s]."""
    tail_needed: float
    bound_tail_db: float | None
    bound_distortion_db: float
    bound_noise_db: float
    bound_practice_db: float
    """Of the filter: what the sheet states less suppression, else what practice reaches."""
    bound_practice_from: str
    """``rated``: the sheet; ``practice``: the limit of the house or the document."""
    suppression_db: float
    """Of the residue, on top of what the filter takes away."""
    can_add_db: float | None
    """What the bounds leave the filter together, with suppression; None where nothing cancels."""
    state: State
    stated_db: float | None = None
    """What the sheet says that its canceller adds, filter and suppression; None if nothing."""

    @property
    def echo_to_speech_db(self) -> float:
        """Echo over speech at the capsule [dB]."""
        return self.echo_dba - self.speech_dba


@dataclass(frozen=True)
class LevelStage:
    """One stage of a level diagram; ``noise`` and ``clip`` are in the unit of ``level``."""

    name: str
    at: str
    """Path in the document, or device.port."""
    unit: Unit
    level: float | None
    """Average speech; None where a figure is missing that it needs: then it is not assessed, and
    ``formula`` says what is missing."""
    noise: float | None
    clip: float | None
    gain_db: float | None
    """Of this stage; None at a change of unit."""
    formula: str
    source: str

    @property
    def headroom_db(self) -> float | None:
        """From average speech to clipping."""
        return None if self.clip is None or self.level is None else self.clip - self.level

    @property
    def over_noise_db(self) -> float | None:
        """From the noise to average speech."""
        return None if self.noise is None or self.level is None else self.level - self.noise


@dataclass(frozen=True)
class LevelDiagram:
    """Levels of one path, stage by stage, from pascal to full scale or back."""

    path: Literal["outbound", "inbound"]
    device: str
    stages: tuple[LevelStage, ...]
    recommended_gain_db: float | None
    """Of the preamplifier, or of the amplifier's input; None where the device sets it itself."""
    stated_gain_db: float | None
    """What the document says instead."""


@dataclass(frozen=True)
class DelayPart:
    """One contribution to a delay."""

    name: str
    at: str
    ms: float
    source: str


@dataclass(frozen=True)
class Delays:
    """Delays of the paths in the room, and of the call."""

    outbound: tuple[DelayPart, ...]
    inbound: tuple[DelayPart, ...]
    lift: tuple[DelayPart, ...]
    """Empty where there is no lift."""
    one_way_ms: float
    lip_sync_ms: float | None
    """Sound after picture, positive where the sound is late; None where the picture's delay is
    unknown."""

    @property
    def outbound_ms(self) -> float | None:
        """Longest mouth to computer; None without microphones."""
        return sum(p.ms for p in self.outbound) if self.outbound else None

    @property
    def inbound_ms(self) -> float | None:
        """Longest computer to ear; None without loudspeakers."""
        return sum(p.ms for p in self.inbound) if self.inbound else None

    @property
    def lift_ms(self) -> float | None:
        """Mouth to the other ear through the loudspeaker; None without lift."""
        return sum(p.ms for p in self.lift) if self.lift else None


@dataclass(frozen=True)
class LoopPair:
    """The loop of one microphone and one loudspeaker, at the lift's gain."""

    microphone: str
    loudspeaker: str
    gain_bands_db: Bands
    margin_db: float
    """Of this pair alone."""
    octave: float
    """Where it howls first [Hz]."""
    lift_db: float = 0.0
    """Gain of the lift from this microphone to this loudspeaker."""


@dataclass(frozen=True)
class Lifted:
    """What lift does for one ear, of the talker that it hears worst."""

    talker: Talker
    """Whose ear it is."""
    speaker: str
    """Talking point that is heard worst there without lift, of those that are lifted."""
    natural_dba: float
    lifted_dba: float
    """With lift, all together."""
    loudspeaker: str | None
    """What brings most of it; None where its group is left out."""
    brought_dba: float | None = None
    """What the loudspeakers bring; None where nothing is sent there."""
    after: float | None = None
    """How long after the natural voice the lifted one arrives, at that loudspeaker's [s]."""
    natural_db: Bands = (0.0,) * 7
    """Octave levels of the natural voice."""
    brought_db: Bands | None = None
    """Octave levels of what the loudspeakers bring."""

    @property
    def gain_db(self) -> float:
        """How much louder it is."""
        return self.lifted_dba - self.natural_dba


@dataclass(frozen=True)
class OverHead:
    """A talking point above whose head its own microphone is played."""

    talker: str
    microphone: str
    loudspeaker: str
    distance: float
    """From the loudspeaker to the head [m]."""


@dataclass(frozen=True)
class FarthestPair:
    """The talker and the listener that are farthest apart, and the four ways that decide.

    Levels are A-weighted speech re that 1 m away, in this room and with what directs sound.
    """

    speaker: str
    listener: str
    microphone: str
    loudspeaker: str
    """That is nearest to the listener."""
    talker_to_listener: float
    """D0 [m]."""
    talker_to_microphone: float
    """Ds [m]."""
    loudspeaker_to_listener: float
    """D2, of the nearest loudspeaker that plays this talker [m]."""
    loudspeaker_to_microphone: float
    """D1, of the one nearest to the microphone [m]."""
    talker_to_listener_db: float
    talker_to_microphone_db: float
    loudspeaker_to_listener_db: float
    """Of all loudspeakers that play this talker."""
    loudspeaker_to_microphone_db: float
    needed_db: float
    """What is missing at the listener to a talker at the equivalent acoustic distance."""
    direct_potential_db: float
    """Potential gain by the distances alone, as in the free field."""
    direct_needed_db: float
    """Needed gain by the distances alone."""


@dataclass(frozen=True)
class Lift:
    """Local voices through the loudspeakers: as the document has it, or what would be possible.

    What a computer or codec does to the voices by itself is not in it.
    """

    in_use: bool
    """Whether the document has a lift; otherwise the figures are those of the most that the wanted
    margin leaves."""
    gain_db: float
    """Of the lift, the most of all pairs: 0 plays local voices as loud as the far end."""
    loop_gain_db: float
    """Of all pairs, in the octave that decides."""
    margin_db: float
    """Left before it howls."""
    wanted_margin_db: float
    octave: float
    microphone: str
    loudspeaker: str
    open_microphones: float
    potential_gain_db: float
    """Potential acoustic gain of the farthest pair, with the level changes of the room [dB]."""
    needed_gain_db: float
    equivalent_distance: float
    pairs: tuple[LoopPair, ...]
    """Those in use, the least margin first."""
    rows: tuple[Lifted, ...]
    left_out: tuple[tuple[str, str], ...]
    """(microphone, loudspeaker) pairs that are not sent: no seat hears its own lift."""
    excess_db: float = 0.0
    """By how much the peaks of the loop exceed its mean, in the octave that decides."""
    advised_gain_db: float = 0.0
    """The most that the wanted margin, the wanted increase and the wanted level leave."""
    stated: bool = False
    """Whether the document states the gains of its lift."""
    over_head: tuple[OverHead, ...] = ()
    """Talking points that hear their own lift from overhead."""
    farthest: FarthestPair | None = None
    electronics: float = 0.0
    """Delay of microphone, processor, amplifier and loudspeaker, the longest way [s]."""

    def row(self, talker: str) -> Lifted:
        """The row of an ear; KeyError where there is none."""
        for one in self.rows:
            if one.talker.id == talker:
                return one
        raise KeyError(talker)
