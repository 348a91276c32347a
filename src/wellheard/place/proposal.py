"""What placement proposes: devices, figures, and a proof with a named scope."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from wellheard.place.certificate import Certificate

ProofStatus = Literal["optimal", "infeasible", "gap"]


@dataclass(frozen=True)
class Proof:
    """Why this is the answer: status, what it ranges over, and the certificate."""

    status: ProofStatus
    scope: str
    """These products, this grid, these rules, this model: one sentence."""
    fewer_is_impossible: bool
    certificate: Certificate | None
    gap: float
    binding: tuple[str, ...]
    """Targets that demanded the last device, or that cannot be met; worst first."""
    fewer: FewerDevices | None
    """What the best design with one microphone fewer would reach; None for one microphone."""
    together: str = ""
    """Why no microphones and loudspeakers together cost less; empty without loudspeakers."""


@dataclass(frozen=True)
class FewerDevices:
    """The best that one microphone fewer can do, for the customer's question."""

    count: int
    missed: tuple[str, ...]
    """Talkers that miss the promise, with the arrangement where ids meet: ``s3 (split)``."""
    target: str
    """The target that fails first, ``rated-distance`` where no microphone reaches, or
    ``no-microphone-in-space`` where one side of a partition has none."""
    worst_sti: float
    """0 where a talker has no microphone on the same side; the ratios are of all others."""
    worst_direct_to_reverberant_db: float
    worst_speech_to_noise_db: float
    worst_chance: float


@dataclass(frozen=True)
class Shortfall:
    """A talker that no candidate can serve, and by how much it falls short."""

    talker: str
    """With the arrangement where ids meet: ``s3 (split)``."""
    target: str
    best_value: float
    target_value: float
    unit: str
    best_chance: float
    at: tuple[float, float, float]
    """Where the best candidate stands [m]."""
    product: str
    lacking: float = 0.0
    """How much is missing for the target to hold at the wanted chance, in ``unit``."""
    aim_deg: float = 0.0
    seat: str = ""
    """Id of the talker in the document."""
    part: str = ""
    """Space of an arrangement, as `wellheard.room.divide` names it; empty in an ordinary room."""


@dataclass(frozen=True)
class PlacedAt:
    """A proposed microphone or loudspeaker."""

    id: str
    product: str
    at: tuple[float, float, float]
    aim_deg: float
    mounting: str
    drop: float | None
    locked: bool
    price: float | None
    kind: Literal["microphone", "loudspeaker"] = "microphone"


@dataclass(frozen=True)
class FedChannel:
    """What one channel of an amplifier feeds."""

    number: int
    loudspeakers: tuple[str, ...]
    """Ids of devices; of a pair ``l1.left`` and ``l1.right``."""
    tap_w: float | None
    """Of each of them; None at low impedance. [W]"""


@dataclass(frozen=True)
class PlacedAmplifier:
    """A proposed amplifier, or one of the document that stays."""

    id: str
    product: str
    equipment: str | None
    """Rack that it goes into; None where the document has none."""
    locked: bool
    price: float
    channels: tuple[FedChannel, ...]


@dataclass(frozen=True)
class Proposal:
    """Devices to add, the figures they reach and the proof; the room is unchanged."""

    devices: tuple[PlacedAt, ...]
    """Microphones, then loudspeakers."""
    count: int
    """Of microphones."""
    price: float | None
    currency: str
    worst: dict[str, float]
    """Of every talker who has a microphone in the same space, over all arrangements."""
    mean: dict[str, float]
    proof: Proof
    shortfalls: tuple[Shortfall, ...]
    would_have_to_give: tuple[str, ...]
    """Sentences: what would make an impossible promise possible."""
    candidates: int
    rejected: dict[str, int]
    """Candidate places refused, by house rule."""
    seconds: float = field(compare=False)
    amplifiers: tuple[PlacedAmplifier, ...] = ()

    @property
    def loudspeakers(self) -> int:
        """How many of its devices are loudspeakers; a pair is one."""
        return sum(one.kind == "loudspeaker" for one in self.devices)
