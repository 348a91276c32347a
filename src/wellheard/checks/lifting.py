"""What the rules on lift share: the lift of the document, and where in it a finding stands."""

from __future__ import annotations

from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import Lift

CAUTION = (
    "A howl is as loud as the amplifier can: set a limiter, raise the gain slowly from nothing, "
    "keep a metre from every loudspeaker and warn whoever is in the room."
)
"""Where a lift may howl."""


def in_use(evidence: Evidence) -> Lift | None:
    """The lift that the document has; None where figures are only of what would be possible."""
    found = evidence.lift
    return found if found is not None and found.in_use else None


def at(evidence: Evidence, microphone: str = "", loudspeaker: str = "") -> str:
    """Where a document lifts a microphone to a loudspeaker: the stage, or else the loudspeaker.

    Parameters
    ----------
    evidence : Evidence
        With its signals.
    microphone, loudspeaker : str
        Of a pair, the loudspeaker as placed; of any where they are empty.
    """
    device = loudspeaker.partition(".")[0]
    for way in evidence.signal.lifts():
        if microphone in ("", way.microphone) and device in ("", way.loudspeaker):
            return f"processing.{way.id}" if way.id else f"devices.{way.loudspeaker}"
    return f"devices.{device or microphone}"


def octave(frequency: float) -> str:
    """Name of an octave.

    Examples
    --------
    >>> octave(250.0), octave(4000.0)
    ('250 Hz', '4 kHz')
    """
    return f"{frequency:.0f} Hz" if frequency < 1000.0 else f"{frequency / 1000.0:g} kHz"
