"""How often the 10–90 % range of a prediction holds what another model draws."""

from __future__ import annotations

from typing import Any

import numpy as np

from tests.oracle import complete
from tests.oracle.draws import Unknown, draws
from tests.oracle.rooms import Drawn, random_box
from wellheard.acoustics.indices import indices
from wellheard.acoustics.modulation import noise_and_hearing_factor
from wellheard.arrays import Array
from wellheard.bands import OCTAVES
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Microphone
from wellheard.predict import outbound, scene, spread, tolerances
from wellheard.room.document import Room

QUANTITIES = ("sti", "c50_db", "direct_to_reverberant_db")
WALLS = ("south", "east", "north", "west")
TALKERS, MICROPHONES = 2, 3


def held(scattering: float, seed: int, *, count: int, soft: bool = True) -> dict[str, Array]:
    """Whether each draw of a random box lies in the predicted range, by quantity.

    The prediction is that of a document which says nothing of scattering; what is drawn scatters
    nothing or everything. Shapes (draws, talkers, microphones).
    """
    catalogue = Catalogue.shipped()
    product = catalogue.product("omni-reference")
    assert isinstance(product, Microphone)
    drawn = random_box(
        seed, sources=TALKERS, microphones=MICROPHONES, scattering=scattering, soft=soft
    )
    seen = scene.build(_document(drawn), catalogue)
    paths = outbound.transfer(seen, product, drawn.microphones, np.zeros(MICROPHONES))
    told = spread.quantities(seen, paths, microphones=1)
    heard = outbound.far_end(seen, paths, microphones=1)
    unknown = Unknown(
        log_time=np.asarray(tolerances.decay_log_sigma(seen.room)),
        place=seen.position_sigma(),
        turn_db=tolerances.TALKER_TURN_SIGMA_DB,
    )
    rng = np.random.default_rng(seed + 1)
    louder_db = np.hypot(tolerances.EFFORT_SIGMA_DB, seen.noise_sigma_db())
    same_places = Drawn(drawn.enclosure, np.array(seen.mouths), drawn.microphones)
    within: dict[str, list[Array]] = {name: [] for name in QUANTITIES}
    for echoes in draws(same_places, unknown, count=count, seed=seed):
        left = noise_and_hearing_factor(
            heard.speech_db, noise_db=heard.noise_db + louder_db * rng.normal()
        )
        found = _figures(echoes, left)
        for name in QUANTITIES:
            sigma = getattr(told, name.replace("_db", "") + "_sigma" + ("_db" in name) * "_db")
            off = np.abs(found[name] - getattr(told, name))
            within[name].append(off <= tolerances.NORMAL_90 * sigma)
    return {name: np.array(each) for name, each in within.items()}


def _figures(echoes: list[complete.Echogram], left: Array) -> dict[str, Array]:
    """What is promised, of every pair, shape (talkers, microphones)."""
    shape = (TALKERS, MICROPHONES)
    direct = np.array([echo.direct for echo in echoes])
    reflected = np.array([echo.reflected.sum(axis=0) for echo in echoes])
    modulation = np.array([complete.modulation(echo) for echo in echoes])
    _, sti = indices(direct, reflected, modulation, factor=left.reshape(-1, 7))
    c50_db = np.array([complete.clarity_db(echo) for echo in echoes])
    ratio_db = 10 * np.log10(direct / reflected)
    return {
        "sti": sti.reshape(shape),
        "c50_db": outbound.speech_band_mean(c50_db).reshape(shape),
        "direct_to_reverberant_db": outbound.speech_band_mean(ratio_db).reshape(shape),
    }


def _document(drawn: Drawn) -> Room:
    """A bare room whose finishes were told."""
    room = drawn.enclosure
    finishes = [
        {"absorption": {f"{octave:g}": float(a) for octave, a in zip(OCTAVES, of, strict=True)}}
        for of in room.absorption
    ]
    seats: dict[str, Any] = {
        f"s{n}": {"at": [float(x), float(y)], "height": float(z), "facing": 0}
        for n, (x, y, z) in enumerate(drawn.sources)
    }
    return Room.model_validate(
        {
            "wellheard": 1,
            "units": "m",
            "space": {
                "outline": room.outline.tolist(),
                "walls": list(WALLS),
                "height": float(room.height),
                "climate": {"temperature_c": 20, "humidity": 0.5},
                "finishes": {
                    "floor": finishes[0],
                    "ceiling": finishes[1],
                    "walls": dict(zip(WALLS, finishes[2:], strict=True)),
                },
            },
            "people": {"occupancy": 0, "directivity": "omni", "seats": seats},
            "noise": {"background": {"nc": 15}},
        }
    )
