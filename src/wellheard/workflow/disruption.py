"""What a design costs the building: openings, tiles, finishes, cables in walls and floor."""

from __future__ import annotations

from dataclasses import dataclass, replace

from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.sections.room import area_text
from wellheard.dossier.words import counted, fixed_spaces
from wellheard.room.document import Room
from wellheard.schedules.cables import CableSchedule
from wellheard.signal.mounted import as_mounted
from wellheard.units import Unit, format_length

UNCUT = "without openings"
"""Said of a design that cuts none in the ceiling; tiles, and cables in walls, it may take."""


@dataclass(frozen=True)
class Disruption:
    """What is done to ceiling, walls and floor. Only the first and the third are weighed.

    Parameters
    ----------
    openings : int
        Cut in the ceiling for devices. What devices on walls are fixed with is not counted, nor
        what cables need: where they go through is not known of every surface.
    tiles : int
        Taken out or drilled for a device.
    treatment_area : float
        Of new finishes [m²].
    hidden_cable : float
        Drawn into walls and the floor [m].
    """

    openings: int
    tiles: int
    treatment_area: float
    hidden_cable: float

    def weighed(self, unit: Unit) -> str:
        """What designs are weighed by, in a few words.

        Examples
        --------
        >>> Disruption(0, 3, 0.0, 6.5).weighed("m")
        'without openings'
        """
        said = replace(self, tiles=0, hidden_cable=0.0).words(unit)
        return UNCUT if said == "nothing" else said

    def words(self, unit: Unit) -> str:
        """All of it in a line; what there is nothing of is left out.

        Examples
        --------
        >>> Disruption(2, 0, 3.04, 6.5).words("m")
        'two openings, 3.0\\xa0m² of finishes, 6.50\\xa0m of cable in walls and floor'
        >>> Disruption(0, 0, 0.0, 0.0).words("m")
        'nothing'
        """
        said = [
            counted(count, noun)
            for count, noun in ((self.openings, "opening"), (self.tiles, "tile"))
            if count
        ]
        if self.treatment_area:
            said.append(f"{area_text(self.treatment_area, unit)} of finishes")
        if self.hidden_cable >= 0.05:
            length = format_length(self.hidden_cable, unit=unit)
            said.append(fixed_spaces(f"{length} of cable in walls and floor"))
        return ", ".join(said) or "nothing"


def disruption(
    room: Room, catalogue: Catalogue, cables: CableSchedule, treatment_area: float = 0.0
) -> Disruption:
    """What a document does to its room.

    Parameters
    ----------
    room : Room
        With devices; what is locked is there already.
    catalogue : Catalogue
        With their products.
    cables : CableSchedule
        Of the same document.
    treatment_area : float
        Of finishes that are new in it [m²].
    """
    fits = [
        as_mounted(room, catalogue.product(device.product), device).fit
        for device in room.devices.values()
        if not device.locked
    ]
    runs = [row.run for row in cables.rows if row.run.route]
    return Disruption(
        openings=fits.count("hole"),
        tiles=fits.count("tile"),
        treatment_area=treatment_area,
        hidden_cable=sum(run.in_wall + run.in_floor for run in runs),
    )
