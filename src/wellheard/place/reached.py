"""What chosen devices reach, row by row, as the ledger will tell it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.place import shortfall
from wellheard.place.objective import LOWEST_RATIO_DB, UNREACHED, Index, Objective
from wellheard.place.proposal import FewerDevices
from wellheard.place.rows import Rows
from wellheard.predict.spread import Quantities
from wellheard.predict.tolerances import chance_of, deviations_for

FIGURES = ("sti", "direct_to_reverberant_db", "speech_to_noise_db")
PROMISED = ("sti_outbound", "direct_to_reverberant_db", "speech_to_noise_db")
"""The figures of a row, and the targets that speak of them."""


@dataclass(frozen=True)
class Reached:
    """For each row the best of the chosen devices, as the ledger takes it, and what it gives."""

    margin: Array
    """With the rules of reach."""
    plain: Array
    """Without them; −inf where no chosen device stands in the row's space."""
    figures: dict[str, Array]
    by_target: dict[str, Array]
    heard: Mask
    """Whether any chosen device stands in the row's space."""
    owner: Index
    """Talker of each row, counted over all spaces."""

    def worst_rows(self) -> Index:
        """The row that speaks for each talker who is heard: of several facings the worst."""
        rows = np.arange(len(self.owner))
        found = []
        for talker in dict.fromkeys(self.owner[self.heard].tolist()):
            own = rows[self.owner == talker]
            found.append(own[int(np.argmin(self.plain[own]))])
        return np.array(found, dtype=np.intp)


def reached(rows: Rows, chosen: tuple[int, ...], *, open_count: int | None = None) -> Reached:
    """Judge ``chosen`` candidates in every space.

    Parameters
    ----------
    rows : Rows
        Of all candidates.
    chosen : tuple of int
        Candidates.
    open_count : int, optional
        Microphones behind the mixer of every space; default those that stand there.
    """
    parts: list[Reached] = []
    talkers = 0
    for block in rows.blocks:
        scene = block.space.scene
        own = [i for i, c in enumerate(block.columns) if int(c) in chosen]
        owner = talkers + np.asarray(scene.row_talker, dtype=np.intp)
        talkers += len(scene.talkers)
        if not own:
            parts.append(_unheard(owner))
            continue
        alone = Objective(scene, [block.objective.candidates[i] for i in own])
        parts.append(_best(alone, open_count or len(own), owner))
    targets = dict.fromkeys(name for part in parts for name in part.by_target)

    def joined(name: str) -> Array:
        return np.concatenate([getattr(part, name) for part in parts])

    return Reached(
        margin=joined("margin"),
        plain=joined("plain"),
        figures={f: np.concatenate([p.figures[f] for p in parts]) for f in FIGURES},
        by_target={
            t: np.concatenate([p.by_target.get(t, np.full(len(p.owner), -np.inf)) for p in parts])
            for t in targets
        },
        heard=np.concatenate([p.heard for p in parts]),
        owner=np.concatenate([p.owner for p in parts]),
    )


def _best(alone: Objective, count: int, owner: Index) -> Reached:
    margins = alone.margins(count)
    each = alone.by_target(count)
    plain = np.min(np.stack(list(each.values())), axis=0) if each else margins
    best = np.argmax(np.where(margins > UNREACHED / 2, margins, plain + UNREACHED), axis=1)
    rows = np.arange(len(best))
    found: Quantities = alone.quantities(count)
    return Reached(
        margin=margins[rows, best],
        plain=plain[rows, best],
        figures={f: getattr(found, f)[rows, best] for f in FIGURES},
        by_target={name: values[rows, best] for name, values in each.items()},
        heard=np.ones(len(best), dtype=np.bool_),
        owner=owner,
    )


def _unheard(owner: Index) -> Reached:
    count = len(owner)
    return Reached(
        margin=np.full(count, UNREACHED),
        plain=np.full(count, -np.inf),
        # Nothing arrives: an index of 0; of ratios there is none.
        figures={"sti": np.zeros(count), **{f: np.full(count, np.nan) for f in FIGURES[1:]}},
        by_target={},
        heard=np.zeros(count, dtype=np.bool_),
        owner=owner,
    )


def worst_and_mean(
    rows: Rows, chosen: tuple[int, ...]
) -> tuple[dict[str, float], dict[str, float]]:
    """Worst and mean figure of those who are heard, by target."""
    found = reached(rows, chosen)
    worst_rows = found.worst_rows()
    if not len(worst_rows):
        return {}, {}
    values = {t: found.figures[f][worst_rows] for t, f in zip(PROMISED, FIGURES, strict=True)}
    return (
        {name: float(v.min()) for name, v in values.items()},
        {name: float(v.mean()) for name, v in values.items()},
    )


def fewer(rows: Rows, chosen: tuple[int, ...], *, chance: float | None) -> FewerDevices:
    """What ``chosen`` candidates leave undone, all of them open in every space."""
    found = reached(rows, chosen, open_count=len(chosen))
    worst = int(np.argmin(found.margin))
    if not found.heard.all():
        target = shortfall.NO_MICROPHONE
    elif found.margin[worst] <= UNREACHED / 2:
        target = shortfall.REACH
    else:
        each = found.by_target
        target = min(each, key=lambda name: float(each[name][worst]), default="")
    talkers = rows.talkers
    beyond = deviations_for(chance) if chance is not None else 0.0

    def least(figure: str) -> float:
        values = found.figures[figure]
        values = values[~np.isnan(values)]
        return float(values.min()) if len(values) else LOWEST_RATIO_DB

    return FewerDevices(
        count=len(chosen),
        missed=tuple(dict.fromkeys(talkers[r] for r in np.flatnonzero(found.margin < 0))),
        target=target,
        worst_sti=least("sti"),
        worst_direct_to_reverberant_db=least("direct_to_reverberant_db"),
        worst_speech_to_noise_db=least("speech_to_noise_db"),
        worst_chance=chance_of(float(found.margin[worst]) + beyond, 1.0),
    )
