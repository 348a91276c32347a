"""What recordings say, as text."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from wellheard.bands import spoken_octave
from wellheard.cli.render import number, table, wrapped
from wellheard.dossier.words import EN_DASH, NBSP, counted
from wellheard.units import Unit, format_length

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wellheard.measurement.results import (
        CancellerResult,
        Fault,
        NoiseResult,
        ResponseResult,
        SpatialMean,
    )
    from wellheard.measurement.taken import SessionResults, Taken


def taken(name: str, one: Taken) -> str:
    """One recording: its figures, then what it suffers from."""
    return "\n".join([name, *_lines(one), *_faults(one.faults)])


def session(found: SessionResults) -> str:
    """Every recording of a session in a line or two, the means, and what is wrong."""
    title = found.folder.session.title or found.folder.name
    parts = [f"{title}\n{_counts(found)}"]
    if found.taken:
        parts.append(table(["recording", "kind", "of", "says"], _rows(found), left=4))
    if found.t20 is not None and found.t30 is not None:
        parts.append(_means({"T20": found.t20, "T30": found.t30}))
    for name, one in found.calibrations.items():
        drift = "" if one.drift_db is None else f", drift {number(one.drift_db, 2)}{NBSP}dB"
        parts.append("\n".join([f"Calibration {name}: by {one.how}{drift}", *_faults(one.faults)]))
    if found.faults:
        said = [f"{name}\n" + "\n".join(_faults(f)) for name, f in found.faults.items()]
        parts.append("What recordings suffer from\n" + "\n".join(said))
    if found.refused:
        reasons: dict[str, list[str]] = {}
        for name, why in found.refused.items():
            reasons.setdefault(why, []).append(name)
        said = [wrapped(f"{', '.join(names)}: {why}") for why, names in reasons.items()]
        parts.append("Not measured\n" + "\n".join(said))
    return "\n\n".join(parts)


def _counts(found: SessionResults) -> str:
    kinds = Counter(one.kind for one in found.taken.values())
    said = ", ".join(f"{count} of kind {kind}" for kind, count in kinds.items())
    return f"{counted(len(found.taken), 'recording')} measured" + (f": {said}" if said else "")


def _rows(found: SessionResults) -> list[list[str]]:
    asked, unit = found.folder.session.recordings, found.folder.session.units
    return [
        [name, one.kind, _way(asked[name].from_, asked[name].to, unit), _short(one)]
        for name, one in found.taken.items()
    ]


def _way(start: object, end: object, unit: Unit) -> str:
    said = [_place(one, unit) for one in (start, end) if one is not None]
    return " to ".join(said) or EN_DASH


def _place(one: object, unit: Unit) -> str:
    if isinstance(one, tuple):
        return " / ".join(format_length(metres, unit=unit) for metres in one)
    return str(one)


def _short(one: Taken) -> str:
    if one.response is not None:
        return f"STI {_or_dash(one.response.sti, 2)} without noise"
    if one.noise is not None:
        rated = one.kind == "noise" and one.noise.nc_label
        return f"{_level(one.noise)}, {one.noise.nc_label}" if rated else _level(one.noise)
    if one.trial is not None:
        return f"adds {_or_dash(one.trial.added_db, 1)}{NBSP}dB"
    return "nothing: see below"


def _lines(one: Taken) -> list[str]:
    if one.response is not None:
        lines = _response(one.response)
        if one.echo is not None and one.response.arrival.delay is not None:
            lines.append(f"as an echo path: return loss {number(one.echo.loss_db, 1)}{NBSP}dB")
        return lines
    if one.noise is not None:
        return _noise(one.noise)
    if one.trial is not None:
        return _trial(one.trial)
    return ["nothing can be said of it"]


def _response(found: ResponseResult) -> list[str]:
    head = ["octave", "T20 s", "T30 s", "EDT s", "C50 dB", "D50", "range dB"]
    rows = [
        [
            spoken_octave(one.octave),
            _or_dash(one.t20, 2),
            _or_dash(one.t30, 2),
            _or_dash(one.edt, 2),
            _or_dash(one.c50_db, 1),
            _or_dash(one.d50, 2),
            number(one.range_db, 0),
        ]
        for one in found.decays
    ]
    lines = [table(head, rows)]
    lines += [wrapped(one.why_not) for one in found.decays if one.why_not]
    lines.append(f"STI {_or_dash(found.sti, 2)}, of the room alone: no noise, no level")
    arrival = found.arrival
    if arrival.delay is not None:
        lines.append(f"first sound after {number(arrival.delay * 1e3, 2)}{NBSP}ms")
    if arrival.polarity is not None:
        lines.append(f"polarity {'positive' if arrival.polarity == 1 else 'negative'}")
    return lines


def _noise(found: NoiseResult) -> list[str]:
    unit = "dB" if found.calibrated else "dB re full scale"
    head = ["octave", unit]
    rows = [[spoken_octave(b), number(level, 1)] for b, level in found.levels_db.items()]
    lines = [table(head, rows), _level(found)]
    lines += [label for label in (found.nc_label, found.rc_label) if label]
    if not found.calibrated:
        lines.append("not calibrated: no rating, and no level in dB")
    return lines


def _level(found: NoiseResult) -> str:
    unit = "dBA" if found.calibrated else "dBA re full scale"
    return f"{number(found.dba, 1)}{NBSP}{unit}"


def _trial(found: CancellerResult) -> list[str]:
    rows = (
        ("return loss at first", found.before_db, "dB", 1),
        ("return loss when settled", found.after_db, "dB", 1),
        ("what it adds", found.added_db, "dB", 1),
        ("settled after", found.converged, "s", 1),
        ("near end kept in double talk", found.double_talk_kept_db, "dB", 1),
        ("echo after double talk over before", found.double_talk_echo_db, "dB", 1),
    )
    return [
        f"{label}: {EN_DASH if value is None else f'{number(value, places)}{NBSP}{unit}'}"
        for label, value, unit, places in rows
    ]


def _means(means: dict[str, SpatialMean]) -> str:
    from wellheard.bands import OCTAVES

    rows = []
    for label, mean in means.items():
        rows += [
            [f"{label} s", *(_or_dash(value, 2) for value in mean.values)],
            ["  ±", *(_or_dash(sigma, 3) for sigma in mean.sigma)],
            ["  places", *(str(count) for count in mean.count)],
        ]
    head = ["octave", *map(spoken_octave, OCTAVES)]
    said = [wrapped(mean.how) for mean in means.values()]
    return "\n".join(["Mean over places", table(head, rows), *said])


def _faults(found: Sequence[Fault]) -> list[str]:
    return [wrapped(f"{fault.severity}: {fault.message}; {fault.remedy}") for fault in found]


def _or_dash(value: float | None, places: int) -> str:
    return EN_DASH if value is None else number(value, places)
