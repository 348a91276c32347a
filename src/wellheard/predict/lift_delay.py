"""What microphones, processors, amplifiers and loudspeakers delay a lifted voice by."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wellheard.arrays import Array
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Amplifier, Loudspeaker, Microphone, Processor
from wellheard.predict.evidence import PlacedMicrophone
from wellheard.predict.lift_feeds import Feeds
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import PlacedLoudspeaker
from wellheard.room.document import Room
from wellheard.signal.graph import Graph
from wellheard.signal.model import Path


def electronics(
    scene: Scene,
    graph: Graph,
    microphones: Sequence[PlacedMicrophone],
    loudspeakers: Sequence[PlacedLoudspeaker],
    feeds: Feeds,
) -> Array:
    """Delay without air from every microphone to every loudspeaker, shape (L, M) [s].

    Along the lift's own way; without one, what the microphone passes on its way to the far end
    and what the far end passes on its way to the loudspeaker, each device once. A device whose
    sheet states no delay adds none.
    """
    ways = {(way.loudspeaker, way.microphone): way.path for way in feeds.ways}
    playing = {one.loudspeaker: one for one in graph.playing()}
    found = np.zeros((len(loudspeakers), len(microphones)))
    for column, mic in enumerate(microphones):
        out = graph.paths_of(mic.id)[:1]
        for row, loud in enumerate(loudspeakers):
            own = ways.get((loud.device, mic.id))
            back = playing[loud.device].far_end if loud.device in playing else None
            along = (own,) if own is not None else (*out, *filter(None, (back,)))
            found[row, column] = _along(scene.room, scene.catalogue, along, (mic.id, loud.device))
    return found / 1000.0


def _along(room: Room, catalogue: Catalogue, paths: Sequence[Path], ends: tuple[str, str]) -> float:
    """Of all devices on some paths, each once, and of their delay stages [ms]."""
    names = dict.fromkeys([ends[0], *(n for path in paths for n in path.devices), ends[1]])
    total = sum(path.delay_ms for path in paths)
    for name in names:
        device = room.devices.get(name)
        if device is not None:
            total += latency_ms(catalogue, device.product, plays=name == ends[1])
    return total


def latency_ms(catalogue: Catalogue, product: str, *, plays: bool) -> float:
    """Delay that a product adds to what passes it [ms].

    Parameters
    ----------
    catalogue : Catalogue
        Where it is looked up.
    product : str
        Its id.
    plays : bool
        Whether it is what plays the voice: a combined device then adds that of its loudspeaker.
    """
    found = catalogue.product(product)
    if isinstance(found, Microphone) and plays and found.built_in is not None:
        return found.latency_ms + found.built_in.latency_ms
    if isinstance(found, Microphone | Processor | Amplifier | Loudspeaker):
        return found.latency_ms
    return 0.0
