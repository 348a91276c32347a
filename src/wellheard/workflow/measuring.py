"""Recordings to results: single files, and whole sessions on all cores."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import asdict
from pathlib import Path
from typing import Any

from wellheard.bands import OCTAVES
from wellheard.errors import InputError
from wellheard.measurement import audio, averages
from wellheard.measurement import levels as steady
from wellheard.measurement.results import (
    Calibration,
    CancellerResult,
    Fault,
    NoiseResult,
    ResponseResult,
    SpatialMean,
)
from wellheard.measurement.session import (
    CalibrationFiles,
    Recording,
    Session,
    SessionFolder,
    load_session,
)
from wellheard.measurement.taken import SessionResults, Taken
from wellheard.measurement.taking import take
from wellheard.workflow.design import Progress, quiet

NOT_THERE = "not recorded yet"


def cores() -> int:
    """Processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def measure_file(
    path: Path,
    recording: Recording,
    session: Session,
    *,
    far: Path | None = None,
    calibration: Calibration | None = None,
) -> Taken:
    """What one file says; see `wellheard.measurement.taking.take`."""
    return take(recording, session, path, far=far, calibration=calibration)


def calibration_of(name: str, files: CalibrationFiles, folder: Path) -> Calibration:
    """What brings samples to pascals, from its files.

    Raises
    ------
    InputError
        A file cannot be read, or is no recording of what it should be of.
    """
    return steady.calibration(name, files, lambda file: audio.read(folder / file))


def measure_session(
    path: str | os.PathLike[str], *, say: Progress = quiet, workers: int | None = None
) -> SessionResults:
    """What every recording of a session says.

    Parameters
    ----------
    path : path
        Folder of the session, or ``session.yaml`` in it.
    say : callable
        Told how far things are, after each recording.
    workers : int, optional
        Recordings at a time; as many as there are processors unless given.

    Raises
    ------
    InputError, DocumentError
        There is no session, or its ``session.yaml`` is none. A recording that cannot be read does
        not stop the others: it is among those refused.

    Notes
    -----
    Recordings are worked on in threads: nearly all of the time goes to Fourier transforms, which
    let other threads run.
    """
    folder = load_session(path)
    calibrations = _calibrations(folder)
    there = {
        name: recording
        for name, recording in folder.session.recordings.items()
        if _is_there(folder, recording.file) and _is_there(folder, recording.far)
    }
    refused = {name: NOT_THERE for name in folder.session.recordings if name not in there}

    def one(name: str) -> Taken:
        recording = there[name]
        return take(
            recording,
            folder.session,
            folder.path(recording.file),
            far=None if recording.far is None else folder.path(recording.far),
            calibration=calibrations.get(recording.calibration or ""),
        )

    found: dict[str, Taken] = {}
    for done, (name, answer) in enumerate(_each(one, there, workers or cores()), start=1):
        if isinstance(answer, Taken):
            found[name] = answer
        else:
            refused[name] = str(answer)
        say(f"{done} of {len(there)} recordings: {name}")
    taken = {name: found[name] for name in there if name in found}
    decays = averages.of_pairs(
        (folder.session.pair(name), one.response.decays)
        for name, one in taken.items()
        if one.response is not None and folder.session.linear(name)
    )
    return SessionResults(
        folder,
        taken,
        refused,
        calibrations,
        averages.spatial_mean_t20(decays) if decays else None,
        averages.spatial_mean_t30(decays) if decays else None,
    )


def _calibrations(folder: SessionFolder) -> dict[str, Calibration]:
    """Those whose recordings are there; one that was not checked after says so itself."""
    found = {}
    for name, files in folder.session.calibration.items():
        if _is_there(folder, files.file):
            checked = files if _is_there(folder, files.after) else _not_checked(files)
            found[name] = calibration_of(name, checked, folder.folder)
    return found


def _not_checked(files: CalibrationFiles) -> CalibrationFiles:
    return files.model_copy(update={"after": None})


def _is_there(folder: SessionFolder, file: str | None) -> bool:
    return file is None or folder.path(file).is_file()


def _each(
    work: Callable[[str], Taken], names: Iterable[str], workers: int
) -> Iterable[tuple[str, Taken | InputError]]:
    """Answers as they come; what was asked for and not begun is dropped when somebody stops."""

    def guarded(name: str) -> Taken | InputError:
        try:
            return work(name)
        except InputError as error:
            return error

    with ThreadPoolExecutor(max_workers=workers) as pool:
        asked = {pool.submit(guarded, name): name for name in names}
        try:
            for future in as_completed(asked):
                yield asked[future], future.result()
        finally:
            pool.shutdown(wait=False, cancel_futures=True)


# As JSON -----------------------------------------------------------------------------------------


def taken_answer(taken: Taken) -> dict[str, Any]:
    """What one recording says, as ``wellheard measure --format json`` prints it."""
    if taken.response is not None:
        answer = _response_answer(taken.response)
        if taken.echo is not None:
            answer["echo_loss_db"] = taken.echo.loss_db
            answer["echo_loss_bands_db"] = list(taken.echo.loss_bands_db)
    elif taken.noise is not None:
        answer = _noise_answer(taken.noise)
    elif taken.trial is not None:
        answer = _trial_answer(taken.trial)
    else:
        answer = {}
    return {
        "kind": taken.kind,
        **answer,
        "warnings": warnings(taken.faults),
        "faults": [asdict(fault) for fault in taken.faults],
    }


def warnings(faults: Sequence[Fault]) -> list[str]:
    """Each fault as one sentence: what was found, and what to do."""
    return [f"{fault.message}; {fault.remedy}" for fault in faults]


def results_answer(results: Mapping[str, Taken]) -> dict[str, Any]:
    """What several recordings say, by name."""
    return {"results": {name: taken_answer(taken) for name, taken in results.items()}}


def session_answer(found: SessionResults) -> dict[str, Any]:
    """What a session says, as ``wellheard measure --format json`` prints it."""
    return {
        "session": found.folder.name,
        **results_answer(found.taken),
        "refused": dict(found.refused),
        "calibration": {
            name: {
                "pascal_per_unit": one.pascal_per_unit,
                "how": one.how,
                "sigma_db": one.sigma_db,
                "drift_db": one.drift_db,
                "warnings": warnings(one.faults),
            }
            for name, one in found.calibrations.items()
        },
        "mean": {"bands": list(OCTAVES), "t20": _mean(found.t20), "t30": _mean(found.t30)},
    }


def _mean(mean: SpatialMean | None) -> dict[str, Any] | None:
    if mean is None:
        return None
    return {
        "values": list(mean.values),
        "sigma": list(mean.sigma),
        "count": list(mean.count),
        "how": mean.how,
    }


def _response_answer(found: ResponseResult) -> dict[str, Any]:
    decays = found.decays
    return {
        "bands": list(OCTAVES),
        "t20": [d.t20 for d in decays],
        "t30": [d.t30 for d in decays],
        "edt": [d.edt for d in decays],
        "c50_db": [d.c50_db for d in decays],
        "d50": [d.d50 for d in decays],
        "sti": found.sti,
        "onset": found.arrival.onset,
        "range_db": [d.range_db for d in decays],
        "curvature_percent": [d.curvature_percent for d in decays],
        "nonlinearity_permille": [d.nonlinearity_permille for d in decays],
        "why_not": [d.why_not for d in decays],
        "delay": found.arrival.delay,
        "polarity": found.arrival.polarity,
        "gain_db": [_finite(gain) for gain in found.gain_db],
        "modulation": [list(row) for row in found.modulation],
    }


def _noise_answer(found: NoiseResult) -> dict[str, Any]:
    return {
        "levels_db": {f"{band:g}": _finite(level) for band, level in found.levels_db.items()},
        "calibrated": found.calibrated,
        "dba": _finite(found.dba),
        "dbc": _finite(found.dbc),
        "nc": found.nc,
        "governing": found.nc_governing,
        "nc_label": found.nc_label,
        "rc_label": found.rc_label,
        "seconds": found.seconds,
        "spread_db": found.spread_db,
        "sigma_db": found.sigma_db,
    }


def _finite(level_db: float) -> float | None:
    """A level, or nothing where an octave is silent: JSON has no number for that."""
    return level_db if math.isfinite(level_db) else None


def _trial_answer(found: CancellerResult) -> dict[str, Any]:
    return {
        "before_db": found.before_db,
        "after_db": found.after_db,
        "added_db": found.added_db,
        "converged": found.converged,
        "double_talk_kept_db": found.double_talk_kept_db,
        "double_talk_echo_db": found.double_talk_echo_db,
    }
