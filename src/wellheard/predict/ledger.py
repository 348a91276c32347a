"""The seat ledger: evidence for a room document with the devices it has."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from wellheard.acoustics import intelligibility, levels
from wellheard.arrays import Array
from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import noise, outbound, promises, sensitivity, spread
from wellheard.predict.back import way_back
from wellheard.predict.devices import (
    loudspeaker_places,
    nearest_loudspeaker,
    other_devices,
    placed_microphones,
)
from wellheard.predict.evidence import (
    Evidence,
    Outbound,
    Path,
    PlacedMicrophone,
)
from wellheard.predict.outbound import FarEnd, Index, Transfer
from wellheard.predict.scene import Scene, build
from wellheard.predict.spread import Quantities
from wellheard.predict.surfaces import bands
from wellheard.room.document import Room

BEYOND_REACH = 1e3
"""Margin that a microphone loses, when one is chosen, beyond its usual rated distance or where a
loudspeaker is nearer to it than the talker."""

DECIDED = 6
"""Decimals of a margin that decide; of equals the first is taken, whatever rounding errors say."""


def predict(room: Room, catalogue: Catalogue, *, assumptions: bool = True) -> Evidence:
    """Predict everything that the documents need, for the devices in the document.

    Parameters
    ----------
    room : Room
        The document.
    catalogue : Catalogue
        Where its finishes and products are looked up.
    assumptions : bool
        Also predict how far each assumed input moves the worst seat.

    Raises
    ------
    CatalogError
        A finish or product of the document is not in the catalogue.
    """
    return evidence(build(room, catalogue), assumptions=assumptions)


def evidence(scene: Scene, *, assumptions: bool = True) -> Evidence:
    """The same for a scene that is built already."""
    room = scene.room
    microphones = placed_microphones(room, scene.catalogue, scene.talkers)
    rows, paths = _ledger(scene, microphones)
    back = way_back(scene, microphones, rows, paths)
    found = Evidence(
        room=room,
        catalogue=scene.catalogue,
        reverberation=scene.reverberation,
        noise=scene.noise,
        talkers=scene.talkers,
        microphones=microphones,
        others=other_devices(room, scene.catalogue),
        outbound=rows,
        paths=paths,
        open_microphones=max((row.path.open_microphones for row in rows), default=1.0),
        assumptions=(),
        microphone_noise_dba=_noise_at(scene, microphones),
        playback=back.playback,
        echo=back.echo,
        lift=back.lift,
        levels=back.levels,
        delays=back.delays,
    )
    if not assumptions:
        return found
    from dataclasses import replace

    return replace(found, assumptions=sensitivity.assumed_inputs(scene, found))


class Columns:
    """Transfers of several placed microphones side by side, each of its own product."""

    def __init__(self, scene: Scene, microphones: Sequence[PlacedMicrophone]) -> None:
        count = len(microphones)
        self.transfers: list[Transfer] = []
        self.found: list[Quantities] = []
        self.heard: list[FarEnd] = []
        margins: list[Array] = []
        for placed in microphones:
            one = outbound.transfer(
                scene, placed.product, np.asarray([placed.at]), np.asarray([placed.aim_deg])
            )
            found = spread.quantities(scene, one, microphones=count)
            self.transfers.append(one)
            self.found.append(found)
            self.heard.append(outbound.far_end(scene, one, microphones=count))
            margins.append(least_margin(scene, found)[:, 0])
        self.margin = np.stack(margins, axis=1)
        distance = np.concatenate([one.distance for one in self.transfers], axis=1)
        self.best = best_microphone(scene, microphones, self.margin, distance)


def best_microphone(
    scene: Scene, microphones: Sequence[PlacedMicrophone], margin: Array, distance: Array
) -> Index:
    """Which microphone serves each row: that of the greatest margin, of equals the first.

    One that the rules of reach let serve goes before one that they do not.

    Parameters
    ----------
    scene : Scene
        Whose room holds the loudspeakers.
    microphones : sequence of PlacedMicrophone
        M of them.
    margin, distance : ndarray, shape (R, M)
        Of :func:`least_margin`; [m].

    Returns
    -------
    ndarray of int, shape (R,)
    """
    return np.argmax(preference(scene, microphones, margin, distance), axis=1)


def preference(
    scene: Scene, microphones: Sequence[PlacedMicrophone], margin: Array, distance: Array
) -> Array:
    """What is greatest for the microphone that serves, shape (R, M), rounded to what decides."""
    rated = np.array([m.product.usual_distance for m in microphones], dtype=np.float64)
    usual = np.minimum(rated, _nearest_loudspeaker(scene, microphones))
    preferred: Array = np.where(distance <= usual + 1e-9, margin, margin - BEYOND_REACH)
    return preferred.round(DECIDED)


def worst_rows(scene: Scene, margin: Array) -> tuple[int, ...]:
    """For every talker the row that counts, by the margin of the microphone that serves it.

    Parameters
    ----------
    scene : Scene
        Its rows are those of its talkers.
    margin : ndarray, shape (R,)
        Of each row at its own microphone.
    """
    owner = np.asarray(scene.row_talker)
    found = []
    for index in range(len(scene.talkers)):
        own = np.flatnonzero(owner == index)
        found.append(int(own[int(np.argmin(np.round(margin[own], DECIDED)))]))
    return tuple(found)


def _nearest_loudspeaker(scene: Scene, microphones: Sequence[PlacedMicrophone]) -> Array:
    rule = scene.room.targets.house_rules.get("loudspeaker-nearer-than-talkers")
    places = (
        {} if rule is not None and rule.relaxed else loudspeaker_places(scene.room, scene.catalogue)
    )
    return nearest_loudspeaker(
        np.array([m.at for m in microphones]).reshape(-1, 3), [m.id for m in microphones], places
    )


def least_margin(scene: Scene, found: Quantities) -> Array:
    """Smallest margin of all promised targets, shape (R, M).

    Where nothing is promised for a seat, the direct-to-reverberant ratio stands in, so that a
    best microphone still exists.
    """
    promised = spread.margins(scene, found)
    if not promised:
        return found.direct_to_reverberant_db
    return np.min(np.stack(list(promised.values())), axis=0)


def _ledger(
    scene: Scene, microphones: tuple[PlacedMicrophone, ...]
) -> tuple[tuple[Outbound, ...], tuple[Path, ...]]:
    if not microphones or not scene.talkers:
        return (), ()
    columns = Columns(scene, microphones)
    best = columns.best
    rows: list[Outbound] = []
    paths: list[Path] = []
    for worst in worst_rows(scene, columns.margin[np.arange(len(best)), best]):
        mine = [_path(scene, columns, worst, m, microphones[m]) for m in range(len(microphones))]
        paths += mine
        rows.append(_outbound(scene, columns, worst, int(best[worst]), mine))
    return tuple(rows), tuple(paths)


def _outbound(scene: Scene, columns: Columns, row: int, best: int, paths: list[Path]) -> Outbound:
    found = columns.found[best]
    values = {
        "sti_outbound": (found.sti, found.sti_sigma),
        "direct_to_reverberant_db": (
            found.direct_to_reverberant_db,
            found.direct_to_reverberant_sigma_db,
        ),
        "speech_to_noise_db": (found.speech_to_noise_db, found.speech_to_noise_sigma_db),
    }
    kept = promises.promise(
        scene.room,
        {
            name: (float(value[row, 0]), float(sigma[row, 0]))
            for name, (value, sigma) in values.items()
        },
    )
    each = kept.quantities
    path = paths[best]
    return Outbound(
        talker=scene.talkers[scene.row_talker[row]],
        path=path,
        sti=each["sti_outbound"],
        direct_to_reverberant=each["direct_to_reverberant_db"],
        speech_to_noise=each["speech_to_noise_db"],
        chance=kept.chance,
        binds=kept.binds,
        state=kept.state,
        rating=intelligibility.rating_word(path.sti),
        category=intelligibility.category_letter(path.sti),
    )


def _path(scene: Scene, columns: Columns, row: int, column: int, placed: PlacedMicrophone) -> Path:
    one = columns.transfers[column]
    heard = columns.heard[column]
    found = columns.found[column]
    opened = float(heard.opened[row, 0, 0])
    ratio = heard.ratio[row, 0]
    speech_db = heard.speech_capsule_db[row, 0]
    return Path(
        talker=scene.talkers[scene.row_talker[row]].id,
        microphone=placed.id,
        element=int(one.element[row, 0]),
        facing_deg=scene.row_facing_deg[row],
        distance=float(one.distance[row, 0]),
        off_axis_deg=math.degrees(float(one.off_axis[row, 0])),
        pattern_db=float(np.mean(10 * np.log10(np.maximum(one.pattern[row, 0, 2:6], 1e-12)))),
        talker_pattern_db=bands(one.talker_db[row, 0]),
        direct_db=bands(levels.energy_level_db(one.direct[row, 0])),
        early_db=bands(levels.energy_level_db(opened * one.early[row, 0])),
        late_db=bands(levels.energy_level_db(opened * one.late[row, 0])),
        reverberant_db=bands(levels.energy_level_db(opened * one.reflected[row, 0])),
        screened=bool(one.screened[row, 0]),
        speech_db=bands(speech_db),
        noise_db=bands(heard.noise_capsule_db[row, 0]),
        noise_parts_db={
            origin: bands(levels.energy_level_db(np.maximum(energy[row, 0], 1e-12)))
            for origin, energy in one.noise.items()
        },
        direct_to_reverberant_bands_db=bands(levels.energy_level_db(ratio)),
        c50_db=bands(outbound.c50_db(one, heard)[row, 0]),
        sti=float(found.sti[row, 0]),
        direct_to_reverberant_db=float(found.direct_to_reverberant_db[row, 0]),
        speech_to_noise_db=float(found.speech_to_noise_db[row, 0]),
        speech_level_dba=float(levels.a_weighted_level_db(speech_db)),
        noise_level_dba=float(levels.a_weighted_level_db(heard.noise_capsule_db[row, 0])),
        far_end_speech_db=bands(heard.speech_db[row, 0]),
        far_end_noise_db=bands(heard.noise_db[row, 0]),
        far_end_gain_db=float(heard.gain_db[row, 0]),
        modulation_transfer_index=bands(found.modulation_transfer_index[row, 0]),
        room_transfer=_room_transfer(one, row, opened),
        open_microphones=opened,
    )


def _room_transfer(one: Transfer, row: int, opened: float) -> tuple[tuple[float, ...], ...]:
    """Modulation transfer of the room alone, seven octaves by fourteen frequencies."""
    direct, reflected = one.direct[row, 0], opened * one.reflected[row, 0]
    whole = np.abs(direct + opened * one.modulation[row, 0]) / (direct + reflected)
    return tuple(tuple(float(m) for m in octave) for octave in whole.T)


def _noise_at(scene: Scene, microphones: tuple[PlacedMicrophone, ...]) -> dict[str, float]:
    """Noise at each microphone's place [dBA]."""
    places = np.array([m.at for m in microphones]).reshape(-1, 3)
    found = noise.levels_dba_at(places, scene.room, scene.reverberation, scene.sources)
    return {m.id: float(level) for m, level in zip(microphones, found, strict=False)}
