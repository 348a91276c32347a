"""What one recording, and a whole session of them, say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from wellheard.measurement.results import (
    Calibration,
    CancellerResult,
    EchoLoss,
    Fault,
    ImpulseResponse,
    NoiseResult,
    ResponseResult,
    SpatialMean,
)
from wellheard.measurement.session import Kind, SessionFolder


@dataclass(frozen=True)
class Taken:
    """What one recording says.

    Attributes
    ----------
    kind : str
    response : ResponseResult or None
        Of kinds sweep and impulse-response.
    impulse : ImpulseResponse or None
        The response itself.
    echo : EchoLoss or None
        The same response as a loss, where what it is taken over is an echo path.
    noise : NoiseResult or None
        Of kinds noise and speech.
    trial : CancellerResult or None
        Of kind echo.
    faults : tuple of Fault
        Everything that it suffers from.
    """

    kind: Kind
    response: ResponseResult | None = None
    impulse: ImpulseResponse | None = field(default=None, repr=False)
    echo: EchoLoss | None = None
    noise: NoiseResult | None = None
    trial: CancellerResult | None = None
    faults: tuple[Fault, ...] = ()

    @property
    def unusable(self) -> Fault | None:
        """The fault after which nothing is given."""
        return next((fault for fault in self.faults if fault.severity == "error"), None)


@dataclass(frozen=True)
class SessionResults:
    """What the recordings of a session say, by their ids.

    Attributes
    ----------
    folder : SessionFolder
    taken : mapping of str to Taken
        Every recording that is there.
    refused : mapping of str to str
        Recordings that could not be read, and why; their files are missing or broken.
    calibrations : mapping of str to Calibration
    t20, t30 : SpatialMean or None
        Over all places whose path was linear.
    """

    folder: SessionFolder
    taken: Mapping[str, Taken]
    refused: Mapping[str, str]
    calibrations: Mapping[str, Calibration]
    t20: SpatialMean | None = None
    t30: SpatialMean | None = None

    @property
    def responses(self) -> dict[str, ResponseResult]:
        """Of sweeps and impulse responses."""
        return {k: t.response for k, t in self.taken.items() if t.response is not None}

    @property
    def impulses(self) -> dict[str, ImpulseResponse]:
        """The responses themselves."""
        return {k: t.impulse for k, t in self.taken.items() if t.impulse is not None}

    @property
    def echoes(self) -> dict[str, EchoLoss]:
        """Responses as losses."""
        return {k: t.echo for k, t in self.taken.items() if t.echo is not None}

    @property
    def noises(self) -> dict[str, NoiseResult]:
        """Of recordings in silence."""
        return self._steady("noise")

    @property
    def speech(self) -> dict[str, NoiseResult]:
        """Of recordings of steady speech-shaped noise."""
        return self._steady("speech")

    @property
    def trials(self) -> dict[str, CancellerResult]:
        """Of pairs of what a canceller was given and what it sent."""
        return {k: t.trial for k, t in self.taken.items() if t.trial is not None}

    @property
    def faults(self) -> dict[str, tuple[Fault, ...]]:
        """What recordings suffer from; those without a fault are not in it."""
        return {k: t.faults for k, t in self.taken.items() if t.faults}

    def _steady(self, kind: Kind) -> dict[str, NoiseResult]:
        return {k: t.noise for k, t in self.taken.items() if t.kind == kind and t.noise is not None}
