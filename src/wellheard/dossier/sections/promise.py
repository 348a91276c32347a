"""The promise line by line: what was asked for, what is predicted, how sure."""

from __future__ import annotations

import math
from collections.abc import Sequence

from wellheard.acoustics.noise import nc_levels_db, nc_rating
from wellheard.bands import RATING_OCTAVES
from wellheard.dossier.figures import promise_bar
from wellheard.dossier.model import Manner, PromiseRow, Run
from wellheard.dossier.places import (
    TARGETS,
    promised_text,
    quantity_of,
    quantity_state,
    value_text,
    worst_state,
)
from wellheard.dossier.sections.back_promise import back_promises, unassessed
from wellheard.dossier.words import (
    NBSP,
    NOT_ASSESSED,
    brief,
    figure,
    percent,
)
from wellheard.place.proposal import Proposal
from wellheard.predict.evidence import SEAT_TARGETS, Evidence, State
from wellheard.predict.tolerances import NOISE_SIGMA_DB, NORMAL_90, basis_of, chance_of
from wellheard.room.targets import NC_ROUNDING
from wellheard.units import money

LOWEST_NC, HIGHEST_NC = 15.0, 70.0
"""The curves that there are."""


def promises(
    evidence: Evidence, proposal: Proposal | None, parts: Sequence[Evidence] = ()
) -> tuple[PromiseRow, ...]:
    """Return one row for each promised target, predicted or not.

    Of a room that divides, each row is that of the worst of its ``parts``.
    """
    targets = evidence.room.targets
    spaces = tuple(parts) or (evidence,)
    rows = _seat_promises(evidence, spaces)
    rows += back_promises(evidence, spaces)
    if targets.noise_nc is not None:
        loudest = max(spaces, key=lambda space: space.noise.dba)
        rows.append(_noise_promise(loudest, targets.noise_nc))
    if targets.reverberation is not None:
        longest = max(spaces, key=lambda space: sum(space.reverberation.time[2:4]))
        rows.append(_decay_promise(longest, targets.reverberation))
    if targets.price is not None:
        rows.append(_price_promise(evidence, proposal, targets.price))
    return tuple(rows)


def _seat_promises(evidence: Evidence, spaces: Sequence[Evidence]) -> list[PromiseRow]:
    """Return one row per quantity, each with the place where its own chance is least.

    While people of a space are not heard, no promise to everybody is kept.
    """
    rows = [row for space in spaces for row in space.outbound]
    everybody = all(space.outbound for space in spaces)
    wanted = evidence.room.targets.chance
    promised = {
        name: getattr(evidence.room.targets, name)
        for name in SEAT_TARGETS
        if getattr(evidence.room.targets, name) is not None
    }
    asked = {
        name: TARGETS[name].asked + (", worst place" if name == "sti_outbound" else "")
        for name in promised
    }
    if not rows:
        return [unassessed(asked[n], promised_text(n, t), n) for n, t in promised.items()]
    worst = {
        name: min(
            (quantity_of(row, name) for row in rows),
            key=lambda q: (1.0 if q.chance is None else q.chance, q.value),
        )
        for name in promised
    }

    return [
        PromiseRow(
            asked=asked[name],
            promised=promised_text(name, promised[name]),
            predicted=Run(value_text(name, q.value), "strong"),
            bar=promise_bar(q.low, q.value, q.high, promised[name], q.sigma, "more"),
            chance=percent(q.chance),
            state=worst_state(
                [quantity_state(q, wanted), *(() if everybody else ("not assessed",))]
            ),
            target=name,
        )
        for name, q in worst.items()
    ]


def _noise_promise(evidence: Evidence, limit: float) -> PromiseRow:
    """Compare noise; its spread is the tolerance of whoever told it."""
    level = evidence.noise.nc
    promised = f"NC{NBSP}{brief(limit, 0)}"
    if level is not None:
        shown, margin = f"NC{NBSP}{figure(level, 0)}", limit + NC_ROUNDING - level
    elif LOWEST_NC <= limit <= HIGHEST_NC:
        # Beyond the curves there is no number, but the promised curve tells how far off it is.
        louder = nc_rating(evidence.noise.levels_db).out_of_range == "above"
        shown = f"above NC{NBSP}{HIGHEST_NC:g}" if louder else f"below NC{NBSP}{LOWEST_NC:g}"
        margin = _under_curve_db(evidence, limit)
    else:
        return unassessed("Background noise", promised, "noise_nc")
    basis = basis_of(evidence.room, "noise.background")
    sigma = NOISE_SIGMA_DB[basis]
    return _upper_limit(
        evidence,
        asked="Background noise",
        promised=promised,
        shown=shown,
        manner="strong" if basis == "measured" else "told",
        margin_db=margin,
        sigma_db=sigma,
        target="noise_nc",
    )


def _under_curve_db(evidence: Evidence, limit: float) -> float:
    """Least distance of the noise under the NC curve of ``limit``; negative above it."""
    curve = nc_levels_db(limit)
    return min(
        float(curve[RATING_OCTAVES.index(f)]) - level
        for f, level in evidence.noise.levels_db.items()
    )


def _decay_promise(evidence: Evidence, limit: float) -> PromiseRow:
    """Compare the decay time of the middle octaves, 500 Hz and 1 kHz."""
    decay = evidence.reverberation
    middle = (decay.time[2] + decay.time[3]) / 2
    sigma = (decay.log_sigma[2] + decay.log_sigma[3]) / 2
    ratio_db = 10 / math.log(10)
    return _upper_limit(
        evidence,
        asked="Short reverberation, middle octaves",
        promised=f"{brief(limit, 2)}{NBSP}s",
        shown=f"{figure(middle, 2)}{NBSP}s",
        manner="strong",
        margin_db=ratio_db * math.log(limit / middle),
        sigma_db=ratio_db * sigma,
        target="reverberation",
    )


def _upper_limit(
    evidence: Evidence,
    *,
    asked: str,
    promised: str,
    shown: str,
    manner: Manner,
    margin_db: float,
    sigma_db: float,
    target: str,
) -> PromiseRow:
    chance = chance_of(margin_db, sigma_db)
    wanted = evidence.room.targets.chance
    state: State
    if margin_db < 0:
        state = "broken"
    else:
        state = "kept" if wanted is None or chance >= wanted else "at risk"
    half = NORMAL_90 * sigma_db
    return PromiseRow(
        asked=asked,
        promised=promised,
        predicted=Run(shown, manner),
        bar=promise_bar(-margin_db - half, -margin_db, half - margin_db, 0.0, sigma_db, "less"),
        chance=percent(chance),
        state=state,
        target=target,
    )


def _price_promise(evidence: Evidence, proposal: Proposal | None, limit: float) -> PromiseRow:
    asked = "Price of the microphones"
    if proposal is not None and proposal.loudspeakers:
        asked = "Price of microphones and loudspeakers"
    promised = money(limit, evidence.room.project.currency, cents=False)
    if proposal is None or proposal.price is None:
        return unassessed(asked, promised, "price")
    state: State = "kept" if proposal.price <= limit else "broken"
    if proposal.currency != evidence.room.project.currency:
        state = "not assessed"
    return PromiseRow(
        asked=asked,
        promised=promised,
        predicted=Run(money(proposal.price, proposal.currency, cents=False), "strong"),
        bar=None,
        chance=NOT_ASSESSED,
        state=state,
        target="price",
    )
