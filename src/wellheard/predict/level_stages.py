"""How one stage of a level diagram follows from the one before it."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.predict.wayback import LevelStage, Unit

NOT_ASSESSED = "not assessed"
SHEET = "data sheet"
PREDICTED = "predicted"


def signed(value: float) -> str:
    """A figure with its sign, to a tenth.

    Examples
    --------
    >>> signed(-40.0), signed(2.22)
    ('−40', '+2.2')
    """
    return f"{round(value, 1):+g}".replace("-", "−")


@dataclass(frozen=True)
class Through:
    """A stage that shifts level, noise and clipping alike, before its own noise and clipping."""

    name: str
    at: str
    unit: Unit
    by_db: float
    clip: float | None
    """Of its own output."""
    formula: str
    source: str
    gain_db: float | None = None

    def of(self, before: LevelStage) -> LevelStage:
        """The stage behind another one."""
        clips = [c for c in (plus(before.clip, self.by_db), self.clip) if c is not None]
        return LevelStage(
            name=self.name,
            at=self.at,
            unit=self.unit,
            level=plus(before.level, self.by_db),
            noise=plus(before.noise, self.by_db),
            clip=min(clips, default=None),
            gain_db=self.gain_db,
            formula=self.formula,
            source=self.source,
        )


def plus(level: float | None, by_db: float) -> float | None:
    """A level that may not be known, shifted."""
    return None if level is None else level + by_db


def missing(name: str, at: str, unit: Unit, what: str) -> LevelStage:
    """A stage of which a figure is not known."""
    return LevelStage(
        name, at, unit, None, None, None, None, f"{NOT_ASSESSED}: {what}", NOT_ASSESSED
    )
