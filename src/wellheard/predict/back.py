"""The way back of a room: playback, echo, lift, levels and delays, in the order they need."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.predict.delays import delays
from wellheard.predict.diagram import level_diagrams
from wellheard.predict.echo import echoes
from wellheard.predict.evidence import Outbound, Path, PlacedMicrophone
from wellheard.predict.inbound import playback
from wellheard.predict.lift import lift
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import Delays, Echo, LevelDiagram, Lift, Playback


@dataclass(frozen=True)
class WayBack:
    """As the fields of `wellheard.predict.evidence.Evidence` with these names."""

    playback: Playback | None
    echo: tuple[Echo, ...]
    lift: Lift | None
    levels: tuple[LevelDiagram, ...]
    delays: Delays | None


def way_back(
    scene: Scene,
    microphones: tuple[PlacedMicrophone, ...],
    rows: tuple[Outbound, ...],
    paths: tuple[Path, ...],
) -> WayBack:
    """What comes back from the far end, and what of it is heard there again.

    Parameters
    ----------
    scene : Scene
        The room.
    microphones : tuple of PlacedMicrophone
        Of the document.
    rows : tuple of Outbound
        The seat ledger: which microphone serves whom.
    paths : tuple of Path
        Every talker by every microphone.
    """
    heard = playback(scene)
    return WayBack(
        playback=heard,
        echo=echoes(scene, microphones, rows, paths, heard),
        lift=lift(scene, microphones, rows, paths, heard),
        levels=level_diagrams(scene, microphones, rows, paths, heard),
        delays=delays(scene, microphones, rows, heard),
    )
