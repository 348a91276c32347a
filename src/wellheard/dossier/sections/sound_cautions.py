"""What can hurt where loudspeakers are put up, fed and tried out."""

from __future__ import annotations

from wellheard.acoustics.hearing import allowed_hours_niosh
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Amplifier
from wellheard.dossier.model import Block, Facts, Heading, Line, Run
from wellheard.dossier.words import figure, fixed_spaces
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import Playback
from wellheard.room.document import Room

WORKING_DAY = 8.0
"""Hours."""


def caution_blocks(evidence: Evidence, found: Playback) -> list[Block]:
    """Return the cautions of a room that plays sound, worst first."""
    lines_there = has_lines(evidence.room, evidence.catalogue)
    rows: list[tuple[str, str]] = [
        ("Amplifiers and mains", MAINS),
        *((("Constant-voltage lines", LINES),) if lines_there else ()),
        ("Loud signals", exposure_words(found)),
        ("Howl", HOWL),
    ]
    lines: tuple[tuple[str, Line], ...] = tuple(
        (label, (Run(fixed_spaces(text)),)) for label, text in rows
    )
    return [Heading("Cautions"), Facts(lines)]


MAINS = (
    "Mains is for qualified people. Keep air round amplifiers, switch them on last and off first, "
    "never lift a safety earth."
)
LINES = (
    "Lines of 70.7 or 100 V can give a shock and may exceed class 2: where the local code says so "
    "they need wiring methods of class 1 or 3. Licensed practice decides."
)
HOWL = (
    "Open microphones and loudspeakers can howl loudly and at once. Begin with the volume down, "
    "open one microphone at a time, keep a hand on the mute, and nobody’s ear at a loudspeaker."
)


def has_lines(room: Room, catalogue: Catalogue) -> bool:
    """Return whether some amplifier of the document feeds constant-voltage lines."""
    products = (catalogue.product(device.product) for device in room.devices.values())
    return any(isinstance(one, Amplifier) and one.line_voltages for one in products)


def exposure_words(found: Playback) -> str:
    """Return how long the loudest ear may listen, and how long anybody may stand at full level."""
    loudest = max(row.level.value for row in found.rows)
    most = max(drive.max_level_db for drive in found.drives)
    return (
        f"At the loudest place average speech has {figure(loudest, 0)} dBA: "
        f"{time_words(float(allowed_hours_niosh(loudest)))} by NIOSH, who recommend 85 dBA for "
        "eight hours and half the time for every 3 dB more. Test signals can be far louder: "
        f"{figure(most, 0)} dB 1 m in front, the most a loudspeaker plays, is allowed for "
        f"{time_words(float(allowed_hours_niosh(most)))}. Warn people, begin quietly, wear "
        "protection. What binds is the law of the place."
    )


def time_words(hours: float) -> str:
    """Return a time of exposure in a day.

    Examples
    --------
    >>> time_words(160.0), time_words(8.0), time_words(0.25), time_words(0.001)
    ('no limit in a working day', '8 hours a day', '15 minutes a day', '4 seconds a day')
    """
    if hours > WORKING_DAY + 1e-9:
        return "no limit in a working day"
    if hours >= 2.0:
        return f"{hours:.0f} hours a day"
    minutes = 60 * hours
    if minutes >= 2.0:
        return f"{minutes:.0f} minutes a day"
    return f"{60 * minutes:.0f} seconds a day"
