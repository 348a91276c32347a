"""How loud a loudspeaker has to play, and the tap or load that gives it so much.

Only direct sound is counted, on the axis of the loudspeaker nearest to each ear. Reverberation and
the other loudspeakers add to it, and an ear aside of the axis gets less: in a dry room a tap may be
a step too small. What the room does in the end is predicted, and the rules judge that.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from wellheard.acoustics import levels, line
from wellheard.catalog.products import Amplifier, Loudspeaker
from wellheard.predict.listening import far_end_speech_db
from wellheard.room.document import Room
from wellheard.wiring.task import Feed

USUAL_LEVEL_DBA = 70.0
"""Playback that is taken where the document promises none. [dBA]"""

CREST = "speech-crest-db"


def powers(room: Room, products: Mapping[str, Loudspeaker]) -> dict[str, float]:
    """Power that each unit of a product needs, by the one that has farthest to go. [W]

    Parameters
    ----------
    room : Room
        Whose seats are to be reached.
    products : mapping of str to Loudspeaker
        Products of all its loudspeakers, by device.
    """
    placed = {name: room.devices[name].at for name in products}
    heads = [(*seat.at, seat.height) for seat in room.people.seats.values()]
    heads += [
        (*corner, area.height) for area in room.people.standing.values() for corner in area.outline
    ]
    farthest: dict[str, float] = {}
    for head in heads:
        near = [(math.dist(head, at), name) for name, at in placed.items() if at is not None]
        if near:
            distance, name = min(near)
            product = products[name].id
            farthest[product] = max(farthest.get(product, 0.0), distance)
    return {one.id: _power(room, one, farthest.get(one.id, 1.0)) for one in products.values()}


def _power(room: Room, product: Loudspeaker, distance: float) -> float:
    level_dba = room.targets.playback_level_dba or USUAL_LEVEL_DBA
    flat_db = float(levels.sum_levels_db(far_end_speech_db(level_dba)))
    return line.power_for(
        flat_db - 10 * math.log10(product.units),
        crest_db=room.targets.limit_in_force(CREST),
        sensitivity_db=product.sensitivity_db,
        distance=max(distance, 1.0),
    )


def feeds(
    product: Loudspeaker, power: float, amplifier: Amplifier, site: str, *, short: bool = False
) -> Iterator[Feed]:
    """Ways for an amplifier to feed a product: at low impedance, on the least tap that will do.

    The taps of a line together keep the reserve of `line.AMPLIFIER_RESERVE`; loads side by side
    are no less than the amplifier's least. ``short``: nothing gives the power, so the most that
    there is.
    """
    least = amplifier.minimum_impedance
    number = math.floor(product.impedance / least + 1e-9) if least > 0 else 0
    # The amplifier keeps its voltage: a greater impedance takes less of its power.
    if number and (short or amplifier.channel_power_w * least / product.impedance >= power):
        yield Feed(f"{product.id} on {site}", site, product.id, None, number)
    room = (1 - line.AMPLIFIER_RESERVE) * amplifier.channel_power_w
    taps = [tap for tap in product.taps_w if tap <= room and (short or tap >= power)]
    if amplifier.line_voltages and taps:
        tap = max(taps) if short else min(taps)
        yield Feed(
            f"{product.id} on {site}, {tap:g} W",
            site,
            product.id,
            tap,
            math.floor(room / tap + 1e-9),
        )


def load(feed: Feed, product: Loudspeaker, amplifier: Amplifier) -> float:
    """Impedance at the end of one loudspeaker's line, on the lowest voltage there is. [Ω]"""
    if feed.tap_w is None:
        return product.impedance
    return line.tap_impedance(feed.tap_w, voltage=min(amplifier.line_voltages))
