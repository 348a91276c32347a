"""The way back: what the loudspeakers do, what returns as echo, and what to set for it."""

from __future__ import annotations

from wellheard.dossier.model import Section
from wellheard.dossier.sections.delays import delay_blocks
from wellheard.dossier.sections.echo import echo_blocks
from wellheard.dossier.sections.levels import level_blocks
from wellheard.dossier.sections.lift import lift_blocks
from wellheard.dossier.sections.loudspeakers import loudspeaker_blocks
from wellheard.dossier.sections.processing import processing_blocks
from wellheard.dossier.sections.settings import settings_blocks
from wellheard.dossier.sections.sound_cautions import caution_blocks
from wellheard.predict.evidence import Evidence
from wellheard.signal.graph import graph

TITLE, SETTINGS = "The way back", "Levels and settings"


def way_back_sections(evidence: Evidence) -> tuple[Section, ...]:
    """Return what is predicted of the way back; none where no loudspeaker is placed."""
    found = evidence.playback
    if found is None:
        return ()
    signal = graph(evidence.room, evidence.catalogue)
    return (
        Section(
            TITLE,
            "engineer",
            (
                *loudspeaker_blocks(evidence, found, signal),
                *echo_blocks(evidence),
                *delay_blocks(evidence),
                *lift_blocks(evidence),
            ),
        ),
    )


def settings_sections(evidence: Evidence) -> tuple[Section, ...]:
    """Return what installer and commissioner set; none where nothing listens or plays."""
    found = evidence.playback
    if found is None and not evidence.levels:
        return ()
    signal = graph(evidence.room, evidence.catalogue)
    return (
        Section(
            SETTINGS,
            "installer",
            (
                *settings_blocks(evidence, signal),
                *level_blocks(evidence),
                *processing_blocks(signal),
                *(() if found is None else caution_blocks(evidence, found)),
            ),
            new_page=False,
        ),
    )
