"""What a session of measurement fills in of the test plan and of the acceptance sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from wellheard.acoustics.levels import mean_level_db
from wellheard.dossier.planned import Key, Result, Results, Step, keys
from wellheard.dossier.proven import (
    ASKED,
    Proven,
    decide_words,
    grouped,
    place_words,
    promised_words,
    spread_words,
    value_words,
)
from wellheard.dossier.sections.acceptance import Acceptance, Instrument, Signature, Snag
from wellheard.dossier.words import NBSP, counted, figure, listed, octave
from wellheard.measurement.results import ResponseResult
from wellheard.predict.evidence import Evidence
from wellheard.proving.conditions import FAR_END
from wellheard.proving.verdict import Compared, Word

PASSED: Mapping[Word, bool | None] = {"kept": True, "broken": False, "cannot tell": None}
"""Whether a cell passed; what cannot be told is not judged."""
ROWS: Mapping[str, tuple[str, str]] = {
    "sti_outbound": ("level", "sti"),
    "direct_to_reverberant_db": ("level", "d-r"),
    "speech_to_noise_db": ("level", "s-n"),
    "sti_inbound": ("coverage", "sti"),
    "listening_level_dba": ("coverage", "level"),
    "echo_loss_db": ("canceller", "together"),
}
"""Step and quantity of the plan by field of the promise, place by place."""
OVER_ALL: Mapping[str, Key] = {
    "playback_level_dba": ("coverage", "mean", "all"),
    "uniformity_db": ("coverage", "even", "all"),
    "noise_nc": ("noise", "nc", "room"),
}
"""The same of the room as a whole."""
MIDDLE = (500.0, 1000.0)
"""Octaves that a promise of decay speaks of. [Hz]"""


def filled_plan(evidence: Evidence, proven: Proven, steps: Sequence[Step]) -> dict[Key, Result]:
    """Return what was measured of the cells of a test plan.

    Parameters
    ----------
    evidence : Evidence
        Of the whole room, as promised.
    proven : Proven
        What was measured.
    steps : sequence of Step
        Of the plan; a cell that it does not have is not filled.

    Notes
    -----
    A figure that was promised is the one for the promised conditions, beside which it was
    predicted; as it was read it stands in the table of the verdict.
    """
    found: dict[Key, Result] = {}
    for part in (_promised, _decays, _noise, _polarity, _echoes, _capsules, _delays, _double):
        found.update(part(evidence, proven))
    cells = _expected(steps)
    return {key: _within(result, cells[key]) for key, result in found.items() if key in cells}


def _expected(steps: Sequence[Step]) -> dict[Key, tuple[float, float] | None]:
    """Every cell of a plan with the range that was predicted for it, where nothing is promised."""
    found: dict[Key, tuple[float, float] | None] = dict.fromkeys(keys(steps))
    for step in steps:
        for grid in step.grids:
            for place in grid.places:
                for quantity, one in zip(grid.quantities, place.expected, strict=True):
                    ranged = one.low is not None and one.high is not None
                    if ranged and not quantity.promised:
                        low, high = one.low or 0.0, one.high or 0.0
                        found[step.key, quantity.key, place.key] = (low, high)
    return found


def _within(result: Result, ranged: tuple[float, float] | None) -> Result:
    """A figure in its range has passed; why one is not is for whoever measures to write."""
    if result.passed is not None or ranged is None:
        return result
    try:
        value = float(result.text.split()[0].replace("−", "-"))
    except ValueError:
        return result
    return Result(result.text, True if ranged[0] <= value <= ranged[1] else None)


def _promised(evidence: Evidence, proven: Proven) -> Iterator[tuple[Key, Result]]:
    for row in reversed(proven.verdict.rows):  # of several for one cell the worst is the last
        key = OVER_ALL.get(row.quantity)
        if row.quantity in ROWS:
            key = (*ROWS[row.quantity], row.place)
        if key is not None and (row.measured is not None or row.recordings):
            yield key, _of_row(row)


def _of_row(row: Compared) -> Result:
    if row.estimate is None:
        return Result("cannot tell")
    said = spread_words(row.quantity, row.estimate, row.estimate_sigma)
    return Result(said.removeprefix(ASKED[row.quantity].sign), PASSED[row.word])


def _decays(evidence: Evidence, proven: Proven) -> Iterator[tuple[Key, Result]]:
    """Of a room that divides those of the arrangement that was measured, if that is one space."""
    whole = proven.verdict.at("reverberation")
    quantity = f"t20 {proven.session.arrangement or ''}".strip()
    for one in proven.verdict.decays:
        if one.measured is None:
            continue
        said = figure(one.measured, 2)
        if one.measured_sigma is not None:
            said += f" ±{NBSP}{figure(one.measured_sigma, 2)}"
        judged = None if whole is None or one.octave not in MIDDLE else PASSED[whole.word]
        yield ("noise", quantity, octave(one.octave)), Result(said, judged)


def _noise(evidence: Evidence, proven: Proven) -> Iterator[tuple[Key, Result]]:
    microphones = {one.id for one in evidence.microphones}
    known = [one for one in proven.verdict.noise if one.calibrated]
    for one in known:
        if one.place in microphones:
            yield ("noise", "dba", one.place), Result(figure(one.dba, 1))
    room = [one.dba for one in known if one.place not in microphones]
    if room:
        yield ("noise", "mean-dba", "room"), Result(figure(float(mean_level_db(room)), 1))


def _ends(proven: Proven) -> Iterator[tuple[str, str, str, ResponseResult]]:
    """Recording, from where, to where, and the response, as far as ids say it."""
    for name, one in proven.results.responses.items():
        recording = proven.session.recordings[name]
        start, end = recording.from_, recording.to
        yield (
            name,
            start if isinstance(start, str) else "",
            end if isinstance(end, str) else "",
            one,
        )


def _polarity(evidence: Evidence, proven: Proven) -> Iterator[tuple[Key, Result]]:
    """A device that is the wrong way round in one recording is so."""
    found: dict[str, set[int]] = {}
    for _, start, end, one in _ends(proven):
        if one.arrival.polarity is not None:
            for device in (start, end):
                found.setdefault(device, set()).add(one.arrival.polarity)
    for device, signs in found.items():
        right = signs == {1}
        yield ("power", "polarity", device), Result("positive" if right else "negative", right)


def _echoes(evidence: Evidence, proven: Proven) -> Iterator[tuple[Key, Result]]:
    recordings = proven.session.recordings
    placed = () if evidence.playback is None else evidence.playback.loudspeakers
    playing = {FAR_END, *(one.device for one in placed)}
    for name, loss in proven.results.echoes.items():
        to = recordings[name].to
        if isinstance(to, str) and recordings[name].from_ in playing:
            yield ("canceller", "erl", to), Result(figure(loss.loss_db, 0))
    for name, trial in proven.results.trials.items():
        to = recordings[name].to
        if isinstance(to, str) and trial.added_db is not None:
            yield ("canceller", "erle", to), Result(figure(trial.added_db, 0))


def _capsules(evidence: Evidence, proven: Proven) -> Iterator[tuple[Key, Result]]:
    """Speech over noise of each microphone, from whom it hears least well."""
    for microphone in evidence.microphones:
        heard = [row for row in evidence.outbound if row.path.microphone == microphone.id]
        worst = min(heard, key=lambda row: row.speech_to_noise.value, default=None)
        found = None if worst is None else proven.verdict.at("speech_to_noise_db", worst.talker.id)
        if found is not None:
            yield ("level", "capsule-s-n", microphone.id), _of_row(found)


def _delays(evidence: Evidence, proven: Proven) -> Iterator[tuple[Key, Result]]:
    """The longest way from a talking point to a microphone's output, by loop-back."""
    talkers = {one.id for one in evidence.talkers}
    microphones = {one.id for one in evidence.microphones}
    found = [
        1000 * one.arrival.delay
        for _, start, end, one in _ends(proven)
        if start in talkers and end in microphones and one.arrival.delay is not None
    ]
    limit = evidence.room.targets.house_limit("in-room-delay")
    if found:
        kept = None if limit is None else max(found) <= 1000 * limit
        yield ("call", "delay", "out"), Result(figure(max(found), 0), kept)


def _double(evidence: Evidence, proven: Proven) -> Iterator[tuple[Key, Result]]:
    said = [
        f"{proven.session.recordings[name].to}: near end {figure(one.double_talk_kept_db, 1)} dB"
        for name, one in proven.results.trials.items()
        if one.double_talk_kept_db is not None
    ]
    if said:
        yield ("double", "", ""), Result("; ".join(said))


def filled_sheet(proven: Proven, steps: Sequence[Step], results: Results) -> Acceptance:
    """Return what a session fills in of the acceptance sheet.

    Parameters
    ----------
    proven : Proven
        What was measured.
    steps : sequence of Step
        Of the test plan.
    results : mapping
        What of it is filled in.
    """
    session = proven.session
    blank = Acceptance()
    return Acceptance(
        instruments=tuple(
            Instrument(one.name, one.serial, one.calibrated) for one in session.instruments
        )
        or blank.instruments,
        snags=tuple(_snags(proven)),
        signatures=(
            Signature("Measured by", session.by, proven.date if session.by else ""),
            *blank.signatures[1:],
        ),
        measured_on=proven.date,
        not_measured=(*_left(steps, results), *proven.verdict.notes),
    )


def _snags(proven: Proven) -> Iterator[Snag]:
    """What is broken, and what would decide what cannot be told."""
    for row in proven.row_of("broken"):
        found = value_words(row.quantity, row.estimate, row.unit)
        what = f"{ASKED[row.quantity].asked}: {found}, {promised_words(row)} promised"
        yield Snag(what, place_words(row))
    for rows in grouped(proven.row_of("cannot tell")):
        decide = decide_words(rows)
        if decide:
            yield Snag(decide, listed([place_words(row) for row in rows], most=6))


def _left(steps: Sequence[Step], results: Results) -> Iterator[str]:
    """Steps of the plan of which not everything was measured."""
    for number, step in enumerate(steps, start=1):
        cells = keys((step,))
        open_ = sum(cell not in results for cell in cells)
        if open_ == len(cells):
            yield f"Step {number}, {step.title.lower()}"
        elif open_:
            yield f"Step {number}, {step.title.lower()}: {counted(open_, 'cell')} of {len(cells)}"
