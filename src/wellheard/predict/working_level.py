"""At which level a microphone's signal lies, and which gain brings it there.

::

    talkers that it serves ──► mean level at the capsule ──► output ──gain──► −20 dBFS
                                                                └── analogue: of the preamplifier
                                                                    digital: of the device itself
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wellheard.acoustics import gain
from wellheard.acoustics.levels import a_weighted_level_db, energy, energy_level_db
from wellheard.arrays import Array
from wellheard.catalog.products import Processor
from wellheard.predict import outbound
from wellheard.predict.evidence import Outbound, Path, PlacedMicrophone, Point
from wellheard.predict.scene import Scene
from wellheard.signal.graph import Graph
from wellheard.signal.model import Stage
from wellheard.signal.ports import passes_on, split

WORKING_DBFS = -20.0
"""Average speech (common practice, no source [C]): peaks are 12 to 18 dB above it. [dBFS]"""

REFERENCE_DB = 94.0
"""Sound level at which the output of a digital microphone is rated. [dB]"""

ANALOGUE = frozenset({"balanced", "unbalanced"})


@dataclass(frozen=True, eq=False)
class Heard:
    """Talkers that a microphone's gain is set for.

    Attributes
    ----------
    talkers : tuple of str
        Those that it serves; all where it serves nobody.
    at : tuple of Point
        Where they talk. [m]
    serves : bool
        Whether it serves anybody.
    speech_dba : ndarray, shape (n,)
        Of each at the capsule, no other microphone open. [dB(A)]
    """

    talkers: tuple[str, ...]
    at: tuple[Point, ...]
    serves: bool
    speech_dba: Array

    @property
    def mean_dba(self) -> float:
        """What its gain is set for."""
        return float(np.mean(self.speech_dba))


def heard(scene: Scene, placed: PlacedMicrophone, rows: Sequence[Outbound]) -> Heard:
    """Talkers that a microphone's gain is set for, by the ledger.

    Parameters
    ----------
    scene : Scene
        The room.
    placed : PlacedMicrophone
        The microphone.
    rows : sequence of Outbound
        The ledger.
    """
    served = [row for row in rows if row.path.microphone == placed.id]
    if served:
        return Heard(
            talkers=tuple(row.talker.id for row in served),
            at=tuple(row.talker.at for row in served),
            serves=True,
            speech_dba=np.array([open_level_dba(scene, row.path) for row in served]),
        )
    return Heard(
        talkers=tuple(one.id for one in scene.talkers),
        at=tuple(one.at for one in scene.talkers),
        serves=False,
        speech_dba=_of_everybody(scene, placed),
    )


def open_level_dba(scene: Scene, path: Path) -> float:
    """Speech at the capsule with no other microphone open [dB(A)]."""
    parts = energy(np.array([path.direct_db, path.reverberant_db]))
    whole = parts[0] + parts[1] / path.open_microphones
    return float(a_weighted_level_db(scene.speech_db + energy_level_db(whole)))


def _of_everybody(scene: Scene, placed: PlacedMicrophone) -> Array:
    """The same of every talker at a microphone that serves none, looking the worst way."""
    one = outbound.transfer(
        scene, placed.product, np.array([placed.at]), np.array([placed.aim_deg])
    )
    level = a_weighted_level_db(
        scene.speech_db + energy_level_db(one.direct[:, 0] + one.reflected[:, 0])
    )
    owner = np.asarray(scene.row_talker)
    return np.array([level[owner == index].min() for index in range(len(scene.talkers))])


@dataclass(frozen=True)
class InputGain:
    """Gain between a microphone and the converter or processor that takes it.

    Parameters
    ----------
    analogue : bool
        Whether there is a preamplifier to set; a digital microphone sets itself.
    port : str or None
        Where its way ends at an input, ``device.port``; None where no way is known.
    full_scale_dbu : float or None
        What fills the converter there; None: digital, or not stated. [dBu]
    input_noise_dbu : float or None
        Equivalent input noise there. [dBu]
    recommended_db : float or None
        Of the preamplifier, for working level; None: digital, or a figure is missing. [dB]
    stated_db : float or None
        What the document says. [dB]
    """

    analogue: bool
    port: str | None
    full_scale_dbu: float | None
    input_noise_dbu: float | None
    recommended_db: float | None
    stated_db: float | None

    @property
    def shift_db(self) -> float:
        """By how much stated gains lift average speech above working level. [dB]

        A stated gain is the whole gain of a preamplifier, and a trim of what sets itself. 0 where
        nothing is stated, or where a figure is missing that would tell.
        """
        if self.stated_db is None:
            return 0.0
        if not self.analogue:
            return self.stated_db
        return 0.0 if self.recommended_db is None else self.stated_db - self.recommended_db


def input_gain(signal: Graph, placed: PlacedMicrophone, level_dba: float) -> InputGain:
    """Gain that a microphone needs, and what the document says of it.

    Parameters
    ----------
    signal : Graph
        Signals of the room: the stages on the microphone and on the input that it ends at count,
        as far as they come before a canceller.
    placed : PlacedMicrophone
        The microphone.
    level_dba : float
        At the capsule, to be brought to working level. [dB(A)]
    """
    product = placed.product
    analogue = product.sensitivity_mv_pa is not None or product.link.kind in ANALOGUE
    port, takes = _input(signal, placed.id)
    stated = [stage.gain_db or 0.0 for stage in input_stages(signal, placed.id, port)]
    full_scale_dbu = takes.clip_dbu if takes is not None and analogue else None
    recommended = None
    if product.sensitivity_mv_pa is not None and full_scale_dbu is not None:
        recommended = float(
            gain.preamplifier_gain_db(
                level_dba,
                sensitivity_db=gain.sensitivity_db(product.sensitivity_mv_pa),
                full_scale_dbu=full_scale_dbu,
                average_dbfs=WORKING_DBFS,
            )
        )
    return InputGain(
        analogue=analogue,
        port=port,
        full_scale_dbu=full_scale_dbu,
        input_noise_dbu=takes.preamp_noise_dbu if takes is not None and analogue else None,
        recommended_db=recommended,
        stated_db=sum(stated) if stated else None,
    )


def _input(signal: Graph, microphone: str) -> tuple[str | None, Processor | None]:
    """First port of a processor on a microphone's way that is more than a splitter."""
    for way in signal.paths_of(microphone)[:1]:
        for port in way.ports:
            product = signal.product(split(port)[0])
            if isinstance(product, Processor) and not passes_on(product):
                return port, product
    return None, None


def input_stages(signal: Graph, microphone: str, port: str | None) -> tuple[Stage, ...]:
    """Gains that are stated for a microphone and its input, as far as nothing cancels before them.

    Parameters
    ----------
    signal : Graph
        Signals of the room.
    microphone : str
        Its id.
    port : str or None
        Input at which it ends.
    """
    found: list[Stage] = []
    for stage in signal.stages_of(microphone):
        if stage.kind == "canceller":
            break
        here = stage.at == port or split(stage.at)[0] == microphone
        if stage.kind == "gain" and here and stage.gain_db is not None:
            found.append(stage)
    return tuple(found)
