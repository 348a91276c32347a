"""What the signal graph answers with: stages, ways, cancellers and what they listen to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from wellheard.room.processing import ProcessKind

FAR_END: Final = "far-end"
"""The voice of the other side: as a source, as a sink, and as a virtual port that it arrives at."""
PROGRAMME: Final = "programme"
"""What line inputs bring: films, music, whatever is played besides the far end."""


@dataclass(frozen=True)
class Stage:
    """One stage of processing on a way.

    Parameters
    ----------
    kind : str
        As in the document.
    at : str
        Port whose signal it works on, ``device.port``.
    id : str
        Of its entry under ``processing``; empty where the device does it by itself.
    gain_db, delay_ms : float or None
        As stated. [dB], [ms]
    reference : str or None
        Port that a canceller listens to.
    sources : tuple of str
        Ports that a mixer or lift takes in.
    automatic : bool
        A mixer that opens and closes channels by itself.
    assumed : bool
        The document does not state it; ``because`` says why it is taken to be there.
    """

    kind: ProcessKind
    at: str
    id: str = ""
    gain_db: float | None = None
    delay_ms: float | None = None
    reference: str | None = None
    sources: tuple[str, ...] = ()
    automatic: bool = False
    assumed: bool = False
    because: str = ""

    @property
    def place(self) -> str:
        """Where in the document: its entry, or the port of the device that has it by itself.

        Examples
        --------
        >>> Stage("canceller", "mixer.mic-1", id="aec").place, Stage("mute", "m1.link").place
        ('processing.aec', 'm1.link')
        """
        return f"processing.{self.id}" if self.id else self.at

    @property
    def name(self) -> str:
        """For sentences: its id and its port, or the port alone.

        Examples
        --------
        >>> Stage("canceller", "mixer.mic-1", id="aec").name
        'aec (on mixer.mic-1)'
        """
        return f"{self.id} (on {self.at})" if self.id else f"the one of {self.at}"


@dataclass(frozen=True)
class Path:
    """One way of a signal, from where it arises to where it is heard.

    Parameters
    ----------
    source : str
        Id of a microphone, ``far-end`` or ``programme``.
    sink : str
        ``far-end``, or the port where the way ends.
    ports : tuple of str
        Every port on the way, ``device.port``, in order.
    stages : tuple of Stage
        In order.
    links : tuple of str
        Ids of the cables that the document states.
    assumed : tuple of str
        A sentence for each step that the document leaves out.
    """

    source: str
    sink: str
    ports: tuple[str, ...]
    stages: tuple[Stage, ...]
    links: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()

    @property
    def devices(self) -> tuple[str, ...]:
        """Devices and equipment on the way, each once, in order."""
        return tuple(dict.fromkeys(port.partition(".")[0] for port in self.ports))

    @property
    def cancellers(self) -> tuple[Stage, ...]:
        """Its cancellers in order."""
        return tuple(stage for stage in self.stages if stage.kind == "canceller")


@dataclass(frozen=True)
class Canceller:
    """An echo canceller on the way of one or several microphones.

    Parameters
    ----------
    stage : Stage
    device : str
        That has it.
    tail : float or None
        Longest echo it cancels; None where its product does not say. [s]
    reference : str or None
        Port that it listens to; None where it has none.
    reference_assumed : bool
        The document does not state the reference.
    microphones : tuple of str
        Whose signals it works on.
    loss_db : float or None
        Echo loss that it adds in single talk, linear cancelling and suppression together; None
        where its product does not say. [dB]
    """

    stage: Stage
    device: str
    tail: float | None
    reference: str | None
    reference_assumed: bool
    microphones: tuple[str, ...]
    loss_db: float | None = None

    @property
    def id(self) -> str:
        """Id of its entry under ``processing``, else the port of the device that has it."""
        return self.stage.id or self.stage.at


@dataclass(frozen=True)
class Held:
    """One signal in a reference, and how it came there."""

    source: str
    path: Path

    @property
    def lifted(self) -> bool:
        """Whether it came there through a lift."""
        return any(stage.kind == "lift" for stage in self.path.stages)


@dataclass(frozen=True)
class Reference:
    """What a canceller listens to.

    Parameters
    ----------
    port : str or None
    known : bool
        False where there is no such port, or none at all: then nothing is known of it.
    holds : tuple of Held
    """

    port: str | None
    known: bool
    holds: tuple[Held, ...] = ()

    @property
    def far_end(self) -> bool:
        """Whether the far end is in it."""
        return any(held.source == FAR_END for held in self.holds)

    @property
    def programme(self) -> bool:
        """Whether line inputs are in it."""
        return any(held.source == PROGRAMME for held in self.holds)

    @property
    def microphones(self) -> tuple[str, ...]:
        """Local microphones in it, each once."""
        names = (held.source for held in self.holds)
        return tuple(dict.fromkeys(n for n in names if n not in (FAR_END, PROGRAMME)))


@dataclass(frozen=True)
class Playing:
    """A loudspeaker and what it plays.

    Parameters
    ----------
    loudspeaker : str
        Device: a loudspeaker, or a combined one.
    paths : tuple of Path
        Every way that a signal comes to it.
    amplifier : str or None
        Output that feeds it, ``device.port``; None where it has its own, or where none is in the
        document.
    has_own_amplifier : bool
    """

    loudspeaker: str
    paths: tuple[Path, ...]
    amplifier: str | None
    has_own_amplifier: bool

    @property
    def far_end(self) -> Path | None:
        """First way of the far end to it; None where it does not play the far end."""
        return next((path for path in self.paths if path.source == FAR_END), None)

    @property
    def programme(self) -> tuple[Path, ...]:
        """Ways of line inputs to it."""
        return tuple(path for path in self.paths if path.source == PROGRAMME)

    @property
    def lifted(self) -> tuple[Path, ...]:
        """Ways of local microphones to it."""
        return tuple(path for path in self.paths if path.source not in (FAR_END, PROGRAMME))


@dataclass(frozen=True)
class Lift:
    """A local voice that a loudspeaker plays.

    Parameters
    ----------
    id : str
        Of the lift, or of the mixer that lets the voice through, under ``processing``; empty where
        a cable does it.
    microphone, loudspeaker : str
    gain_db : float
        Stated gain of the lift stage, 0 where it states none. [dB]
    path : Path
        From the microphone to the loudspeaker.
    """

    id: str
    microphone: str
    loudspeaker: str
    gain_db: float
    path: Path
