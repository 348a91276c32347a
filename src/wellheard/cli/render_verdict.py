"""A verdict as text: every promise worst first, why, what would decide it, what was set alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wellheard.cli.render import chance, number, table, wrapped

if TYPE_CHECKING:
    from wellheard.proving.verdict import Compared, DecayCompared, NoiseCompared, Verdict

MARKS = {"kept": "[✓]", "broken": "[✗]", "cannot tell": "[?]"}
NAMES = {
    "sti_outbound": "STI out",
    "direct_to_reverberant_db": "direct/reverberant",
    "speech_to_noise_db": "speech to noise",
    "sti_inbound": "STI in",
    "playback_level_dba": "playback level",
    "listening_level_dba": "level at the seat",
    "uniformity_db": "evenness",
    "noise_nc": "noise",
    "echo_loss_db": "echo loss",
    "reverberation": "reverberation",
}
RULE = (
    "A promise is kept where the estimate holds it with 90 % or more, broken where with 10 % or "
    "less. The estimate is what was measured, brought to the promised conditions by what the "
    "prediction differs between them; each such step is doubted by 0.3 of its size (common "
    "practice). ± is one standard deviation."
)


def text(found: Verdict, *, title: str) -> str:
    """The whole report."""
    parts = [
        _head(found, title),
        "\n".join(wrapped(f"! {note}") for note in found.notes),
        _table(found.rows) if found.rows else "Nothing that is promised can be measured.",
        "\n".join(_said(row) for row in found.rows if row.word != "kept"),
        _decays(found.decays),
        _noise(found.noise),
        "\n".join(["Predicted again as it was measured", *map(wrapped, found.alike)]),
        wrapped(RULE),
    ]
    return "\n\n".join(filter(None, parts))


def _head(found: Verdict, title: str) -> str:
    said = ", ".join(f"{count} {word}" for word, count in found.counts().items() if count)
    word = {"kept": "is kept", "broken": "is broken", "cannot tell": "cannot be told yet"}
    return (
        f"{title or 'Untitled room'} ({found.document}), session {found.session}: the promise "
        f"{word[found.word]}; {said or 'nothing is promised'}"
    )


def _table(rows: tuple[Compared, ...]) -> str:
    cells = [
        [
            f"{MARKS[row.word]} {row.word}",
            NAMES[row.quantity],
            row.place or "–",
            _promised(row),
            _figure(row.measured, row.measured_sigma, row.unit),
            "–" if row.tested is None else _between(row.tested.low, row.tested.high, row.unit),
            _figure(row.estimate, row.estimate_sigma, row.unit),
            "–" if row.chance is None else chance(row.chance),
        ]
        for row in rows
    ]
    head = ["verdict", "promise", "at", "promised", "measured", "as tested", "estimate", "chance"]
    return table(head, cells, left=3)


def _promised(row: Compared) -> str:
    from wellheard.room.targets import NC_ROUNDING

    low, high = row.promised
    if row.quantity == "noise_nc" and high is not None:
        return f"≤ NC-{high - NC_ROUNDING:g}"
    if low is not None and high is not None:
        return f"{_limit(low, row.unit)}–{_limit(high, row.unit)} {row.unit}".rstrip()
    sign, limit = ("≥", low) if low is not None else ("≤", high)
    return "–" if limit is None else f"{sign} {_limit(limit, row.unit)} {row.unit}".rstrip()


def _limit(value: float, unit: str) -> str:
    return _plain(value, unit).removesuffix(".0")


def _figure(value: float | None, sigma: float | None, unit: str) -> str:
    if value is None or sigma is None:
        return "–"
    return f"{_plain(value, unit)} ± {_plain(sigma, unit)}"


def _between(low: float, high: float, unit: str) -> str:
    if low < 0:
        return f"{_plain(low, unit)} to {_plain(high, unit)}"
    return f"{_plain(low, unit)}–{_plain(high, unit)}"


def _plain(value: float, unit: str) -> str:
    from wellheard.proving.deciding import PLACES

    return number(value, PLACES[unit])


def _said(row: Compared) -> str:
    from wellheard.proving.compare import NOT_MEASURED

    name = f"{NAMES[row.quantity]}{f' at {row.place}' if row.place else ''}"
    if row.why == NOT_MEASURED:
        lines = [f"{row.word}  {name}, which was not measured"]
    else:
        lines = [f"{row.word}  {name}", wrapped(row.why)]
    if row.decide:
        lines.append(wrapped(f"→ {row.decide}"))
    return "\n".join(lines)


def _decays(decays: tuple[DecayCompared, ...]) -> str:
    if not decays:
        return ""
    rows = [
        ["T measured [s]", *(_time(d.measured, 2) for d in decays)],
        ["  ±", *(_time(d.measured_sigma, 3) for d in decays)],
        ["  places", *(f"{d.count}" for d in decays)],
        ["T as tested [s]", *(number(d.predicted, 2) for d in decays)],
        ["  10–90 %", *(_between(d.low, d.high, "s") for d in decays)],
    ]
    return table(["octave [Hz]", *(_octave(d.octave) for d in decays)], rows)


def _time(seconds: float | None, places: int) -> str:
    return "–" if seconds is None else number(seconds, places)


def _noise(noise: tuple[NoiseCompared, ...]) -> str:
    if not noise:
        return ""
    rows = [
        [
            one.recording,
            one.place or "–",
            one.label or "–",
            f"{number(one.dba, 1)} {'dBA' if one.calibrated else 'dBA re full scale'}",
        ]
        for one in noise
    ]
    return table(["noise", "at", "rated", "level"], rows, left=4)


def _octave(frequency: float) -> str:
    from wellheard.dossier.words import octave

    return octave(frequency)
