"""Designs of combined devices alone: each serves its space both ways by itself."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace

from wellheard.catalog.products import Microphone
from wellheard.errors import InputError
from wellheard.place.audience import Audience
from wellheard.place.microphones import proposed, task_of
from wellheard.place.proposal import Proposal
from wellheard.place.spaces import Spaces
from wellheard.place.task import Task
from wellheard.place.together import on_its_own
from wellheard.place.together_words import figures
from wellheard.predict.parts import PartScene
from wellheard.room.devices import Device


class Bars:
    """Combined devices that keep what is promised of the far end, each by itself."""

    def __init__(self, spaces: Spaces, products: tuple[Microphone, ...], task: Task | None) -> None:
        self.spaces = spaces
        self.products = products
        self.task = task

    @classmethod
    def of(
        cls, spaces: Spaces, products: tuple[Microphone, ...], parts: Sequence[PartScene]
    ) -> Bars:
        """All places of ``products``; of none where the rules leave no place."""
        try:
            task = task_of(spaces, products, parts, by_price=True)
        except InputError:
            return cls(spaces, products, None)
        return cls(spaces, products, task)

    def best(self, time_limit: float) -> Proposal | None:
        """The cheapest of them that keeps the promise both ways; None where none does."""
        started = time.monotonic()
        if self.task is None:
            return None
        options = self.task.options
        allowed = options.allowed
        heard = [
            Audience.of(
                space.scene,
                {
                    i: Device(kind="microphone", product=c.product.id, at=c.at, aim_deg=c.aim_deg)
                    for i, c in enumerate(allowed)
                    if held[i] and c.id is None
                },
                {c.id: i for i, c in enumerate(allowed) if c.id is not None},
            )
            for space, held in zip(self.spaces.each, options.holding, strict=True)
        ]
        keeps = [
            i
            for i, c in enumerate(allowed)
            if on_its_own(c)
            and all(
                one.judge([i]).kept
                for one, held in zip(heard, options.holding, strict=True)
                if held[i]
            )
        ]
        if not keeps or options.locked:
            return None
        kept = options.only(keeps)
        if not all(held.any() for held in kept.holding):
            return None
        task = Task.of(self.spaces, kept, by_price=True)
        answer = task.answer(time_limit)
        if answer.solution.status == "infeasible":
            return None
        found = proposed(task, answer, self.products, time.monotonic() - started)
        chosen = [keeps[i] for i in answer.solution.chosen]
        verdicts = tuple(
            one.judge([i for i in chosen if held[i]])
            for one, held in zip(heard, options.holding, strict=True)
        )
        worst, mean = figures(verdicts)
        words = "a combined device plays the far end by itself"
        return replace(
            found,
            worst={**found.worst, **worst},
            mean={**found.mean, **mean},
            proof=replace(found.proof, scope=f"{found.proof.scope}; {words}"),
        )
