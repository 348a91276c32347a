"""What a prediction says: frozen values that every reader shares."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Loudspeaker, Microphone, Processor
from wellheard.predict.wayback import Delays, Echo, LevelDiagram, Lift, Playback
from wellheard.room.document import Room
from wellheard.signal.graph import Graph, graph

State = Literal["kept", "at risk", "broken", "not assessed"]
STATES: tuple[State, ...] = ("kept", "at risk", "broken")
"""Those that are judged, the best first."""

Bands = tuple[float, float, float, float, float, float, float]
"""Seven octaves, 125 Hz to 8 kHz."""

Point = tuple[float, float, float]

SEAT_TARGETS = ("sti_outbound", "direct_to_reverberant_db", "speech_to_noise_db")
"""Targets decided seat by seat on the outbound path."""


@dataclass(frozen=True)
class Quantity:
    """One predicted quantity with its 10–90 % range and what was promised.

    ``chance`` is the probability that the target is reached; it is None where
    nothing was promised.
    """

    name: str
    value: float
    low: float
    high: float
    sigma: float
    unit: str
    target: float | None
    chance: float | None

    @property
    def margin(self) -> float | None:
        """Value minus target, in the quantity's own unit."""
        return None if self.target is None else self.value - self.target


@dataclass(frozen=True)
class Surface:
    """One absorbing surface of the room, for the working of a reverberation time."""

    name: str
    finish: str
    area: float
    absorption: Bands
    axis: tuple[float, float, float]
    """Shares of the area that face x, y and z; they add up to 1."""
    source: str
    extrapolated: bool


@dataclass(frozen=True)
class AbsorbingObjects:
    """People, chairs and tables that absorb: ``count`` of them, ``each`` [m²]."""

    name: str
    finish: str
    count: float
    each: Bands
    source: str


@dataclass(frozen=True)
class Reverberation:
    """Reverberation times [s] per octave, by the chosen model and by its rivals."""

    time: Bands
    model: str
    low: Bands
    high: Bands
    smooth: Bands
    """As predicted where little is scattered, at the low end of the interval of scattering."""
    rough: Bands
    """As predicted where much is, at its high end."""
    scattering: float
    """What ``time`` is predicted with, 0–1."""
    sabine: Bands
    eyring: Bands
    arau_puchades: Bands
    fitzroy: Bands
    kuttruff: Bands
    unoccupied: Bands
    level_time: Bands
    """Decay time of an exponential decay with as much energy: it sets the reverberant level."""
    volume: float
    surface: float
    floor_area: float
    mean_absorption: Bands
    air_power_attenuation: Bands
    """Power attenuation of the air [1/m]."""
    schroeder_frequency: float
    mean_free_path: float
    critical_distance: float
    """Mid-band (500 Hz–1 kHz) critical distance of an omnidirectional source [m]."""
    speed_of_sound: float
    surfaces: tuple[Surface, ...]
    objects: tuple[AbsorbingObjects, ...]
    log_sigma: Bands
    """Standard deviation of ln T per octave."""
    level_log_sigma: Bands
    """The same of the reverberant energy, as far as it follows the decay."""
    measured: bool
    exponent: Bands
    """Factor on −ln(1 − α) of all surfaces that reproduces a measured decay; else 1."""
    reproduced: bool
    """Whether it does so in every octave."""


@dataclass(frozen=True)
class RoomNoise:
    """Steady noise of the room without the talkers, energy mean over all talking points."""

    levels_db: dict[float, float]
    """Octave level by nominal frequency, 31.5 Hz or 63 Hz to 8 kHz."""
    nc: float | None
    """By tangency; None outside NC-15 to NC-70."""
    label: str
    """In words, with the two-step rating where it differs."""
    governing: float | None
    """Octave that touches the curve [Hz]."""
    dba: float
    told_as: str


@dataclass(frozen=True)
class Talker:
    """A talking point: a seat, or one sample of a standing area."""

    id: str
    kind: Literal["seat", "standing"]
    owner: str
    """Path of the seat or standing area in the document."""
    at: Point
    facings_deg: tuple[float, ...]


@dataclass(frozen=True)
class PlacedMicrophone:
    """A microphone of the document with its resolved product."""

    id: str
    product: Microphone
    at: Point
    aim_deg: float
    mounting: str
    drop: float | None
    """Drop below the ceiling [m]; None where it does not hang."""
    locked: bool


@dataclass(frozen=True)
class PlacedDevice:
    """A loudspeaker or processor of the document with its resolved product."""

    id: str
    kind: str
    product: Loudspeaker | Processor
    at: Point | None
    equipment: str | None


@dataclass(frozen=True)
class Path:
    """One talker heard by one microphone, at its worst stated facing.

    Levels are octave levels at the capsule [dB re 20 µPa]; ``direct_db``, ``early_db``,
    ``late_db`` and ``reverberant_db`` are gains re the free-field level 1 m in front of the lips.
    """

    talker: str
    microphone: str
    element: int
    facing_deg: float
    distance: float
    off_axis_deg: float
    """Angle between the talker's facing and the direction to the microphone [°]."""
    pattern_db: float
    """Microphone pattern towards the talker, mean of 500 Hz–4 kHz [dB]."""
    talker_pattern_db: Bands
    direct_db: Bands
    early_db: Bands
    """Reflections up to 50 ms after the direct sound."""
    late_db: Bands
    """Reflections after that."""
    reverberant_db: Bands
    """All reflections."""
    screened: bool
    """Whether something solid is in the direct sound's way."""
    speech_db: Bands
    noise_db: Bands
    """Noise at the capsule after the mixer, all sources and open microphones."""
    noise_parts_db: dict[str, Bands]
    """Noise of one open microphone by origin: ``background``, each located source,
    ``self-noise``."""
    direct_to_reverberant_bands_db: Bands
    c50_db: Bands
    sti: float
    direct_to_reverberant_db: float
    speech_to_noise_db: float
    speech_level_dba: float
    noise_level_dba: float
    far_end_speech_db: Bands
    far_end_noise_db: Bands
    far_end_gain_db: float
    modulation_transfer_index: Bands
    room_transfer: tuple[tuple[float, ...], ...] = field(repr=False)
    """Modulation transfer before noise and hearing: seven octaves by fourteen frequencies."""
    open_microphones: float = 1.0
    """Equivalent number behind the automatic mixer while this talker is heard."""


@dataclass(frozen=True)
class Outbound:
    """What the far end hears of one talker: the ledger's row."""

    talker: Talker
    path: Path
    """By the microphone that serves this talker best."""
    sti: Quantity
    direct_to_reverberant: Quantity
    speech_to_noise: Quantity
    chance: float
    """Least chance of the promised quantities; the chance that all of them hold is no greater."""
    binds: str
    """The target with the least chance: a name of ``SEAT_TARGETS`` or ''."""
    state: State
    rating: str
    """Word of ISO 9921 for the middle STI."""
    category: str
    """Letter band of IEC 60268-16."""
    arrangement: str = ""
    """Part of a divided room that the row is of, in a ledger of several; else ''."""

    @property
    def quantities(self) -> tuple[Quantity, Quantity, Quantity]:
        """The three promised quantities, in the order of ``SEAT_TARGETS``."""
        return (self.sti, self.direct_to_reverberant, self.speech_to_noise)


@dataclass(frozen=True)
class Assumed:
    """An input that was assumed and how far it moves the worst seat."""

    path: str
    text: str
    effect_db: float | None
    """Shift of the worst seat's direct-to-reverberant ratio within its tolerance [dB]."""
    effect_sti: float | None


@dataclass(frozen=True)
class Evidence:
    """Everything that was predicted for one room document."""

    room: Room
    catalogue: Catalogue = field(repr=False)
    reverberation: Reverberation
    noise: RoomNoise
    talkers: tuple[Talker, ...]
    microphones: tuple[PlacedMicrophone, ...]
    others: tuple[PlacedDevice, ...]
    outbound: tuple[Outbound, ...]
    """One row per talker, in the document's order; empty without microphones."""
    paths: tuple[Path, ...] = field(repr=False)
    """Every talker by every microphone."""
    open_microphones: float
    """Equivalent number of open microphones after the automatic mixer, the most of all talkers."""
    assumptions: tuple[Assumed, ...]
    microphone_noise_dba: dict[str, float]
    """Noise at each microphone's place, without its self-noise [dBA]."""
    playback: Playback | None = None
    """The far end in the room; None without loudspeakers."""
    echo: tuple[Echo, ...] = ()
    """Of every microphone, worst first; empty without loudspeakers."""
    lift: Lift | None = None
    """Local voices through the loudspeakers; None without microphones or loudspeakers."""
    levels: tuple[LevelDiagram, ...] = ()
    """Of every microphone's path and of every loudspeaker's."""
    delays: Delays | None = None

    @cached_property
    def signal(self) -> Graph:
        """What comes where in the document, through what; of an undivided room's whole document."""
        return graph(self.room, self.catalogue)

    def worst(self) -> Outbound | None:
        """The row with the least chance, then the least STI; None without microphones."""
        return min(self.outbound, key=_badness, default=None)

    def worst_first(self) -> tuple[Outbound, ...]:
        """The ledger as it is read: worst first."""
        return tuple(sorted(self.outbound, key=_badness))

    def state_of(self, talker: str) -> State:
        """State of a talking point: the worse of what it is promised out of the room and in it.

        The way in does not count where no loudspeaker is placed. One that no microphone hears
        is broken where the way in is, and otherwise not assessed.
        """
        out = [row.state for row in self.outbound if row.talker.id == talker]
        back = self.playback.rows if self.playback is not None else ()
        each = out + [row.state for row in back if row.talker.id == talker]
        if not out and "broken" not in each:
            return "not assessed"
        judged = [state for state in each if state != "not assessed"]
        return max(judged, key=STATES.index, default="not assessed")

    def path(self, talker: str, microphone: str) -> Path:
        """The path from ``talker`` to ``microphone``; KeyError where there is none."""
        for path in self.paths:
            if path.talker == talker and path.microphone == microphone:
                return path
        raise KeyError((talker, microphone))


def _badness(row: Outbound) -> tuple[float, float, str]:
    # Rounding errors must not order seats that mirror each other.
    return (round(row.chance, 9), round(row.sti.value, 9), row.talker.id)
