"""What the ears of one space hear of loudspeakers that may be chosen, and when that is enough.

The level at an ear re the mean of all ears follows from energies that add, and so is linear in the
choice: with the mean set to the playback level, an ear is loud enough where
``E_s ≥ 10^((L − mean)/10) · mean(E)``.

Speech transmission is not. No modulation of a sum is greater than the greatest of its parts, so
that the index of several is at most that of the greatest modulations among them: that is what can
be ruled out beforehand. What is chosen is judged by the full prediction.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from wellheard.acoustics import levels
from wellheard.acoustics.intelligibility import speech_transmission_index
from wellheard.arrays import Array, Mask
from wellheard.place.objective import Index
from wellheard.predict import listening, promises, tolerances
from wellheard.predict.inbound import USUAL_PLAYBACK_DBA, level_quantity
from wellheard.predict.listening_spread import CALIBRATION_SIGMA_DB, MODEL_LEVEL_SIGMA_DB, sigmas
from wellheard.predict.loudspeakers import Played, ears, placed_loudspeakers, played
from wellheard.predict.scene import Scene
from wellheard.predict.spread import MODEL_STI
from wellheard.predict.wayback import PlacedLoudspeaker
from wellheard.room.devices import Device
from wellheard.room.edit import with_devices
from wellheard.room.targets import Targets

LEAST_LEVEL_SIGMA_DB = float(np.hypot(MODEL_LEVEL_SIGMA_DB, CALIBRATION_SIGMA_DB))
LEAST_APART_SIGMA_DB = float(np.hypot(MODEL_LEVEL_SIGMA_DB, MODEL_LEVEL_SIGMA_DB))
"""No σ of a level at an ear, and of the difference of two, is below these [dB]."""

HAIR_DB = 1e-6
"""What a level may miss by rounding [dB]."""

_NEW = "new-"
"""Before the number of a candidate, where it stands in a room to see what it does."""


@dataclass(frozen=True)
class Wanted:
    """What is promised of the far end in the room, as the linear program takes it."""

    mean_dba: float
    lowest_dba: float | None
    highest_dba: float | None
    """Ends of the range that leave the wanted chance; lowest above highest where none do."""
    apart_db: float | None
    sti: float | None

    @classmethod
    def of(cls, targets: Targets) -> Wanted:
        """Promises with the least reserve that any design needs."""
        mean = targets.playback_level_dba
        beyond = _beyond(targets)
        lowest = highest = apart = sti = None
        if targets.listening_level_dba is not None:
            lowest, highest = _within(*targets.listening_level_dba, targets.chance)
        if targets.uniformity_db is not None:
            apart = targets.uniformity_db - beyond * LEAST_APART_SIGMA_DB
        if targets.sti_inbound is not None:
            sti = targets.sti_inbound + beyond * MODEL_STI
        return cls(USUAL_PLAYBACK_DBA if mean is None else mean, lowest, highest, apart, sti)

    def loosened(self, db: float) -> Wanted:
        """The same with levels that may be so much farther off, and no index."""
        return replace(
            self,
            lowest_dba=None if self.lowest_dba is None else self.lowest_dba - db,
            highest_dba=None if self.highest_dba is None else self.highest_dba + db,
            apart_db=None if self.apart_db is None else self.apart_db + 2 * db,
            sti=None,
        )

    @property
    def loudest_dba(self) -> float | None:
        """No ear hears more; None where nothing says so."""
        found = [] if self.highest_dba is None else [self.highest_dba]
        if self.apart_db is not None:
            found.append(self.mean_dba + max(self.apart_db, 0.0))
        return min(found, default=None)


def _beyond(targets: Targets) -> float:
    chance = targets.chance
    return 0.0 if chance is None else max(0.0, tolerances.deviations_for(chance))


def _within(low: float, high: float, chance: float | None) -> tuple[float, float]:
    """Levels within a range at a chance, at the least σ; symmetric about its middle."""
    if chance is None:
        return low, high
    middle, half = (low + high) / 2, (high - low) / 2

    def keeps(off: float) -> bool:
        near, far = half - off, half + off
        sigma = LEAST_LEVEL_SIGMA_DB
        return tolerances.chance_of(near, sigma) + tolerances.chance_of(far, sigma) - 1 >= chance

    if not keeps(0.0):
        return middle + HAIR_DB, middle - HAIR_DB
    under, over = 0.0, half
    if keeps(half):
        return low, high
    while over - under > HAIR_DB / 2:
        half_way = (under + over) / 2
        under, over = (half_way, over) if keeps(half_way) else (under, half_way)
    return middle - over, middle + over


@dataclass(frozen=True)
class Verdict:
    """The full prediction of one choice in one space."""

    kept: bool
    targets: tuple[str, ...]
    """Those that are missed, at the wanted chance."""
    worst_sti: float
    mean_sti: float
    uniformity_db: float
    lowest_dba: float
    highest_dba: float
    level_1m_dba: float
    deaf: tuple[int, ...]
    """Ears whose index is short."""


@dataclass(frozen=True, eq=False)
class Audience:
    """The ears of one space and what each candidate brings them.

    Attributes
    ----------
    scene : Scene
        The space.
    sources : tuple of PlacedLoudspeaker
        A pair is two.
    owner : ndarray of int, shape (sources,)
        Candidate of each; −1 plays whatever is chosen.
    heard : Played
        Of all of them.
    count : int
        Candidates, of this space and others.
    """

    scene: Scene
    sources: tuple[PlacedLoudspeaker, ...]
    owner: Index
    heard: Played
    count: int

    @classmethod
    def of(cls, scene: Scene, devices: Mapping[int, Device], stays: Mapping[str, int]) -> Audience:
        """Put every candidate that stands in a space into it, and listen.

        Parameters
        ----------
        scene : Scene
            The space, with the devices that stay.
        devices : mapping of int to Device
            New ones by the number of their candidate.
        stays : mapping of str to int
            Number of the candidate that a device of the document is.
        """
        new = {f"{_NEW}{i}": device for i, device in devices.items()}
        room = with_devices(scene.room, new)
        sources = placed_loudspeakers(room, scene.catalogue, scene.talkers)
        owner = [
            int(one.device.removeprefix(_NEW)) if one.device in new else stays.get(one.device, -1)
            for one in sources
        ]
        at = np.array([one.at for one in scene.talkers]).reshape(-1, 3)
        return cls(
            scene=scene,
            sources=sources,
            owner=np.array(owner, dtype=np.intp),
            heard=played(scene, sources, ears(at)),
            count=max([*devices, *stays.values()], default=-1) + 1,
        )

    @cached_property
    def _trims(self) -> Array:
        return levels.energy([one.trim_db for one in self.sources])

    @cached_property
    def _weighted(self) -> Array:
        """A-weighted energy of every source, shape (sources, ears)."""
        weights = levels.energy(listening.far_end_speech_db() + levels.a_weights_db())
        return np.asarray(self._trims[:, None] * (self.heard.total @ weights))

    @cached_property
    def energy(self) -> Array:
        """A-weighted energy of every candidate, re 1 m before it; shape (ears, candidates)."""
        found = np.zeros((self._weighted.shape[1], self.count))
        mine = self.owner >= 0
        np.add.at(found.T, self.owner[mine], self._weighted[mine])
        return found

    @cached_property
    def always(self) -> Array:
        """The same of what plays whatever is chosen, shape (ears,)."""
        return np.asarray(self._weighted[self.owner < 0].sum(axis=0))

    def judge(self, chosen: Sequence[int]) -> Verdict:
        """Predict a choice as the ledger does, with every range and chance."""
        which = np.flatnonzero(np.isin(self.owner, [-1, *chosen]))
        placed = [self.sources[i] for i in which]
        part = Played(
            distance=self.heard.distance[which],
            direct=self.heard.direct[which],
            early=self.heard.early[which],
            late=self.heard.late[which],
            modulation=self.heard.modulation[which],
            screened=self.heard.screened[which],
        )
        room, wanted = self.scene.room, Wanted.of(self.scene.room.targets)
        heard = listening.together(self.scene, placed, part)
        level = listening.level_for_mean(heard, wanted.mean_dba)
        speech_db = listening.far_end_speech_db(level)
        found = listening.middle(heard, speech_1m_db=speech_db, noise_db=self._noise_db)
        spread = sigmas(self.scene, heard, found, speech_1m_db=speech_db)
        least = 0.0 if room.targets.chance is None else room.targets.chance
        promised = room.targets.listening_level_dba
        missed = []
        if promised is not None:
            kept = [
                promised[0] - HAIR_DB <= value <= promised[1] + HAIR_DB
                and (level_quantity(room, value, sigma).chance or 0.0) >= least - 1e-9
                for value, sigma in zip(found.level_dba, spread.level_db, strict=True)
            ]
            missed += [] if all(kept) else ["listening_level_dba"]
        if room.targets.uniformity_db is not None:
            loud, quiet = int(np.argmax(found.level_dba)), int(np.argmin(found.level_dba))
            left = room.targets.uniformity_db - float(np.ptp(found.level_dba))
            sigma = float(np.hypot(spread.apart_db[loud], spread.apart_db[quiet]))
            sigma = 0.0 if loud == quiet else sigma
            if left < -HAIR_DB or tolerances.chance_of(left, sigma) < least - 1e-9:
                missed.append("uniformity_db")
        deaf: list[int] = []
        if room.targets.sti_inbound is not None:
            for ear, (value, sigma) in enumerate(zip(found.sti, spread.sti, strict=True)):
                one = promises.quantity("sti_inbound", value, sigma, room.targets.sti_inbound)
                if (one.margin or 0.0) < 0 or (one.chance or 0.0) < least - 1e-9:
                    deaf.append(ear)
            missed += ["sti_inbound"] if deaf else []
        return Verdict(
            kept=not missed,
            targets=tuple(missed),
            worst_sti=float(found.sti.min()),
            mean_sti=float(found.sti.mean()),
            uniformity_db=float(np.ptp(found.level_dba)),
            lowest_dba=float(found.level_dba.min()),
            highest_dba=float(found.level_dba.max()),
            level_1m_dba=level,
            deaf=tuple(deaf),
        )

    @cached_property
    def _noise_db(self) -> Array:
        at = np.array([one.at for one in self.scene.talkers]).reshape(-1, 3)
        return listening.noise_db(self.scene, at)

    # What cannot be had, whatever else is chosen.

    @cached_property
    def _modulation(self) -> Array:
        """Modulation that each source alone has at an ear, shape (sources, ears, 7, 14)."""
        whole = np.abs(self.heard.direct[:, :, None, :] + self.heard.modulation)
        share = np.minimum(whole / self.heard.total[:, :, None, :], 1.0)
        return np.asarray(np.swapaxes(share, 2, 3), dtype=np.float32)

    @cached_property
    def _spectrum_db(self) -> Array:
        """Octaves of each source's speech at an ear re its A-weighted level there, as `heard`."""
        shape = listening.far_end_speech_db() + levels.energy_level_db(self.heard.total)
        return np.asarray(shape - levels.a_weighted_level_db(shape)[..., None])

    def highest_sti(self, ear: int, chosen: Mask) -> float:
        """Bound of the index at an ear with any of the ``chosen`` candidates [0–1].

        Grows with the choice. It leaves out masking, takes every octave as loud as the promise
        lets it be, and counts on no octave of speech being lost altogether beside its neighbours.
        """
        mine = (self.owner < 0) | chosen[self.owner]
        if not mine.any():
            return 0.0
        greatest = self._modulation[mine, ear].max(axis=0)
        return float(speech_transmission_index(greatest * self._clear(mine, ear)[:, None]))

    def _clear(self, mine: Mask, ear: int) -> Array:
        """What noise leaves of the modulation where speech is as loud as it may be, shape (7,)."""
        loudest = Wanted.of(self.scene.room.targets).loudest_dba
        if loudest is None:
            return np.ones(7)
        speech_db = loudest + self._spectrum_db[mine, ear].max(axis=0)
        return np.asarray(1.0 / (1.0 + levels.energy(self._noise_db[ear] - speech_db)))

    @cached_property
    def alone(self) -> Array:
        """Bound of the index of each candidate by itself, shape (ears, candidates)."""
        loudest = Wanted.of(self.scene.room.targets).loudest_dba
        clear = np.ones((*self._weighted.shape, 7))
        if loudest is not None:
            clear /= 1.0 + levels.energy(self._noise_db - loudest - self._spectrum_db)
        mine = speech_transmission_index(self._modulation * clear[..., None])
        found = np.zeros((self._weighted.shape[1], self.count))
        np.maximum.at(found.T, self.owner[self.owner >= 0], mine[self.owner >= 0])
        return found

    def needed_of(self, ear: int, *, beside: Mask | None = None) -> Mask | None:
        """Candidates of which any choice needs one, so that the index can be reached at an ear.

        The others together do not reach it: as many as can be are among them, ``beside`` first.
        None where what plays anyway may be enough.
        """
        wanted = Wanted.of(self.scene.room.targets).sti
        if wanted is None:
            return None
        out = np.zeros(self.count, dtype=np.bool_) if beside is None else beside.copy()
        if self.highest_sti(ear, out) >= wanted:
            return None
        order = np.argsort(self.alone[ear], kind="stable")
        order = order[~out[order]]
        low, high = 0, len(order)  # so many of the worst do not reach it; so many may
        while low < high:
            half = (low + high + 1) // 2
            tried = out.copy()
            tried[order[:half]] = True
            low, high = (half, high) if self.highest_sti(ear, tried) < wanted else (low, half - 1)
        out[order[:low]] = True
        return ~out
