"""Cables, racks, bill and network in the order of the dossier."""

from __future__ import annotations

from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.model import Section
from wellheard.dossier.sections.bill import bill_section
from wellheard.dossier.sections.cables import cables_section
from wellheard.dossier.sections.network import network_sections
from wellheard.dossier.sections.racks import rack_sections
from wellheard.schedules.whole import Schedules


def schedule_sections(found: Schedules | None, catalogue: Catalogue) -> tuple[Section, ...]:
    """Return what installer, buyer and IT department read; nothing where there are no devices."""
    if found is None:
        return ()
    return (
        cables_section(found, catalogue),
        *rack_sections(found),
        bill_section(found),
        *network_sections(found),
    )
