"""The way back of a room that divides: each ear and microphone as in its worst arrangement."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from wellheard.predict.back import WayBack
from wellheard.predict.echo import lacking_db
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import (
    Delays,
    Drive,
    Echo,
    Inbound,
    LevelDiagram,
    PlacedLoudspeaker,
    Playback,
)


def worst_way_back(found: Mapping[str, Evidence]) -> WayBack:
    """The way back over all spaces of all arrangements.

    Parameters
    ----------
    found : mapping
        Evidence of every space by its name, in order.

    Returns
    -------
    WayBack
        Ears as in the space where they keep least, none of one where no loudspeaker is;
        microphones where their echo lacks most; level, evenness and lift of the space that is
        worst in it; the longest delays.
    """
    playing = {name: one.playback for name, one in found.items() if one.playback is not None}
    lifts = [one.lift for one in found.values() if one.lift is not None]
    levels: dict[tuple[str, str], LevelDiagram] = {}
    for one in found.values():
        for diagram in one.levels:
            levels.setdefault((diagram.path, diagram.device), diagram)
    echoes: dict[str, Echo] = {}
    for one in found.values():
        for echo in one.echo:
            known = echoes.get(echo.microphone)
            if known is None or lacking_db(echo) > lacking_db(known):
                echoes[echo.microphone] = echo
    return WayBack(
        playback=_playback(playing, _in_silence(found)) if playing else None,
        echo=tuple(sorted(echoes.values(), key=lambda one: (-lacking_db(one), one.microphone))),
        lift=min(lifts, key=lambda one: (not one.in_use, one.margin_db), default=None),
        levels=tuple(levels.values()),
        delays=_delays([one.delays for one in found.values() if one.delays is not None]),
    )


def _in_silence(found: Mapping[str, Evidence]) -> set[str]:
    """Talking points that some space leaves without a loudspeaker."""
    return {t.id for one in found.values() if one.playback is None for t in one.talkers}


def _playback(playing: Mapping[str, Playback], silent: Collection[str]) -> Playback:
    rows: dict[str, Inbound] = {}
    loudspeakers: dict[str, PlacedLoudspeaker] = {}
    drives: dict[str, Drive] = {}
    for name, one in playing.items():
        for row in one.rows:
            if row.talker.id in silent:
                continue
            known = rows.get(row.talker.id)
            if known is None or _badness(row) < _badness(known):
                rows[row.talker.id] = replace(row, arrangement=name)
        for placed in one.loudspeakers:
            loudspeakers.setdefault(placed.id, placed)
        for drive in one.drives:
            hardest = drives.get(drive.loudspeaker)
            if hardest is None or drive.headroom_db < hardest.headroom_db:
                drives[drive.loudspeaker] = drive
    uneven = max(playing.values(), key=lambda one: one.uniformity.value)
    return replace(
        uneven,
        loudspeakers=tuple(loudspeakers.values()),
        rows=tuple(rows.values()),
        drives=tuple(drives[name] for name in loudspeakers if name in drives),
    )


def _badness(row: Inbound) -> tuple[float, float]:
    return (round(row.chance, 9), round(row.sti.value, 9))


def _delays(each: list[Delays]) -> Delays | None:
    if not each:
        return None

    def longest(name: str) -> Delays:
        return max(each, key=lambda one: getattr(one, f"{name}_ms") or 0.0)

    return replace(
        each[0],
        outbound=longest("outbound").outbound,
        inbound=longest("inbound").inbound,
        lift=longest("lift").lift,
    )
