"""The plan of a session on paper: what to do in which order, how loud, and what to beware of."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from wellheard.acoustics.hearing import allowed_hours_niosh
from wellheard.dossier.words import counted, figure, listed, sentence
from wellheard.measurement.session import SweepSignal
from wellheard.measurement.signals import period_samples
from wellheard.predict.wayback import Playback
from wellheard.units import Unit, format_length
from wellheard.workflow.session_plan import (
    BOTH,
    CALIBRATION,
    ECHO_SECONDS,
    FAR_END,
    NEAR_ALONE,
    STEADY_SECONDS,
    SessionPlan,
    Step,
)

WIDTH = 92
HANDLING = 30.0
"""To set up and name one recording; common practice, no source. [s]"""
_DAY = 24.0


def cautions(found: SessionPlan, sweep_over_speech_db: float) -> tuple[str, ...]:
    """What to beware of, loudest place first.

    Parameters
    ----------
    found : SessionPlan
        What is recorded.
    sweep_over_speech_db : float
        How much louder the sweep is than the noise it follows, A-weighted. [dB]
    """
    level, where = _loudest(found)
    what = "a sweep plays" if sweep_over_speech_db > 0.0 else "speech-shaped noise plays"
    level += max(0.0, sweep_over_speech_db)
    return (
        f"Loudest place: {where}, about {figure(level, 0)} dBA while {what}. "
        f"{_hours(level)} The law of the place binds; this is no leave to exceed it.",
        "Begin with the volume all the way down and raise it slowly: a wrong gain or a loop can be "
        "louder than 110 dBA at once. Nobody's ear is nearer than 1 m to a loudspeaker; no "
        "headphones while anything plays.",
        "Tell everybody in the room and next door before the first signal. Who wears hearing aids "
        "or an implant, or has tinnitus, leaves first. Ear protection lies ready.",
        "Ask who looks after alarms and voice evacuation before you begin: nothing of them is "
        "switched off or covered, and a measurement stops when they sound.",
        "Stands and cables stay out of escape routes. What hangs overhead or is wired to the mains "
        "is touched by those who are licensed for it.",
        "Recordings may hold voices. Say so to who is there, and hand them on only to who may hear "
        "them.",
    )


def _loudest(found: SessionPlan) -> tuple[float, str]:
    """Level where it is loudest: at an ear, or 1 m in front of what plays [dBA]."""
    playing = [e.playback for e in found.evidence if e.playback is not None]
    return max(
        [
            (found.speech_dba, "1 m in front of the test talker"),
            *((row.level.value, f"at {row.talker.id}") for p in playing for row in p.rows),
            *((level, f"1 m in front of loudspeaker {name}") for level, name in _drives(playing)),
        ]
    )


def _drives(playing: Iterable[Playback]) -> list[tuple[float, str]]:
    """Level 1 m in front of each loudspeaker that plays alone [dBA]."""
    return [(p.level_1m_dba + one.trim_db, one.id) for p in playing for one in p.loudspeakers]


def _hours(level: float) -> str:
    hours = float(allowed_hours_niosh(level))
    rule = "by the NIOSH limit (85 dBA for 8 hours, half as long for every 3 dB)"
    if hours >= _DAY:
        return f"That is no limit to a day {rule}."
    if hours >= 1.0:
        return f"At most {figure(hours, 1)} hours a day there {rule}."
    return f"At most {figure(hours * 60.0, 0)} minutes a day there {rule}."


def sheet(
    found: SessionPlan, signal: SweepSignal, warned: tuple[str, ...], *, loopback: bool = False
) -> str:
    """Return the plan as text.

    Parameters
    ----------
    found : SessionPlan
        What is recorded.
    signal : SweepSignal
        The sweep that is played.
    warned : tuple of str
        Cautions, which stand first.
    loopback : bool
        Whether a second channel records what is played.
    """
    room = found.evidence[0].room
    minutes = _minutes(found, signal)
    lines = [
        f"Measuring {room.title or 'the room'}"
        + (f", arrangement {found.arrangement}" if found.arrangement else ""),
        "",
        *_wrapped(
            f"{sentence(counted(len(found.steps), 'recording'))}, about {minutes} minutes. Each "
            "gets the name of a file that stands here; session.yaml beside this plan knows them "
            "by it. What was not recorded may stay away."
        ),
        "",
        "BEWARE",
        *(line for one in warned for line in _item("!", one)),
        "",
        *_before(found, signal, loopback=loopback),
    ]
    for head, words, steps in _stages(found):
        if steps:
            lines += ["", head, *_wrapped(words), "", *_table(found, steps)]
    lines += ["", *_after(found)]
    return "\n".join(lines) + "\n"


def _minutes(found: SessionPlan, signal: SweepSignal) -> int:
    swept = period_samples(signal) * signal.repeats / signal.rate
    playing = {"sweep": swept, "echo": ECHO_SECONDS}
    total = sum(playing.get(step.kind, STEADY_SECONDS) + HANDLING for step in found.steps)
    return max(5, 5 * round(total / 300.0))


def _before(found: SessionPlan, signal: SweepSignal, *, loopback: bool) -> list[str]:
    steps = [
        "Places: west and south are distances from the westernmost and the southernmost wall of "
        "the document, heights are above the floor. Who faces 0° faces east, 90° north, 180° "
        "west, 270° south.",
        *(
            [
                f"The room stands as in arrangement {found.arrangement}: its partitions are open "
                "and closed as the document says, and stay so."
            ]
            if found.arrangement
            else []
        ),
        "Doors shut, windows shut, ventilation as it runs in a meeting, nobody who need not be "
        "there. Write temperature and people present into session.yaml.",
        "Switch off cancelling, gating, automatic gain and noise reduction in every path; open "
        "one microphone at a time. With one of them on, no STI can be told.",
        f"Record at {signal.rate / 1000.0:g} kHz, 24 bit, without any processing. Set the gain so "
        "that the loudest signal stays 6 dB below full scale, then leave it alone.",
        f"Calibrator on the measuring microphone: record 15 s as {CALIBRATION}-before.wav, and "
        f"at the very end once more as {CALIBRATION}-after.wav. session.yaml says 94 dB: change "
        "that to what is printed on yours.",
    ]
    if loopback:
        steps.append(
            "Loop-back: of every sweep the microphone is recorded on channel 1, and on channel 2 "
            "what is played, by a cable from the player's output. Its level is set below full "
            "scale as well."
        )
    playing = [e.playback for e in found.evidence if e.playback is not None]
    if playing:
        level, name = max(_drives(playing))
        steps.append(
            "Volume: play signals/speech.wav into the far end's input, through all loudspeakers, "
            f"and raise it until a meter reads {figure(playing[0].target_dba, 0)} dBA (slow) in "
            f"the mean over the ears; loudspeaker {name} alone then makes about "
            f"{figure(level, 0)} dBA 1 m in front of it. Nobody touches it afterwards."
        )
    if found.talkers:
        steps.append(
            "Test talker: a small loudspeaker on a stand at the height of a mouth. Play "
            f"signals/speech.wav and set it to {figure(found.speech_dba, 1)} dBA (slow) 1 m in "
            "front of it, away from walls; write what the meter reads as source.dba_at_1m."
        )
    return ["BEFORE", *(line for n, one in enumerate(steps, 1) for line in _item(f"{n}", one))]


def _stages(found: SessionPlan) -> tuple[tuple[str, str, tuple[Step, ...]], ...]:
    steady = f"{STEADY_SECONDS:g} s"
    return (
        (
            "THE ROOM IN SILENCE",
            f"Nothing plays and nobody moves: {steady} each, at ears with the measuring "
            "microphone, then from the output of each microphone of the room.",
            found.noise,
        ),
        (
            "WHAT IS HEARD IN THE ROOM",
            f"The measuring microphone stands where the ear is. For {FAR_END} all loudspeakers "
            "play; for one of them the others are muted. Start the recorder first, stop it when "
            "the silence after the signal is over. A level that is more than 6 dB off what is "
            "expected is looked into before you go on.",
            found.playback,
        ),
        (
            "FROM THE TALKERS TO THE MICROPHONES",
            "The test talker stands where the head is, and faces as stated. Recorded is the "
            "output of the named microphone, the others closed.",
            found.talkers,
        ),
        (
            "ECHO",
            "The far end plays, the output of the microphone is recorded. For a recording of kind "
            "echo everything is switched on again as in a meeting: signals/echo.wav plays its "
            "left channel into the far end's input and its right one from the test talker; "
            "recorded are what the canceller sends (left) and what the far end sent (right). The "
            f"talker is alone from {NEAR_ALONE[0]:g} s to {NEAR_ALONE[1]:g} s, both talk from "
            f"{BOTH[0]:g} s to {BOTH[1]:g} s: correct session.yaml where your recording begins "
            "later than the signal. A canceller that takes steady noise for no speech wants "
            "people at both ends instead.",
            found.echo,
        ),
    )


def _table(found: SessionPlan, steps: tuple[Step, ...]) -> list[str]:
    """One paragraph for each place, so that nobody walks twice."""
    unit = found.evidence[0].room.units
    lines: list[str] = []
    place = ""
    for step in steps:
        here = _place(found, step, unit)
        if here != place:
            lines += ["", *_wrapped(here)] if lines else _wrapped(here)
            place = here
        lines += _item("[ ]", _words(step), indent=2)
    return lines


def _place(found: SessionPlan, step: Step, unit: Unit) -> str:
    """Where something has to be put for a recording."""
    talking = step if step.kind != "echo" else _near_end(found, step)
    moved = step.to if step.calibrated else talking.source
    if not moved or moved == FAR_END:
        return "Nothing to put anywhere"
    who = "Measuring microphone" if step.calibrated else "Test talker"
    facing = "" if talking.facing_deg is None else f", facing {figure(talking.facing_deg, 0)}°"
    return f"{who} at {moved}: {_point(found, moved, unit)}{facing}"


def _near_end(found: SessionPlan, step: Step) -> Step:
    """Whose place the test talker has while a canceller is recorded: the last one it heard."""
    heard = [one for one in found.talkers if one.to == step.to] or found.talkers
    return heard[-1] if heard else step


def _point(found: SessionPlan, place: str, unit: Unit) -> str:
    x, y, z = found.at(place)
    outline = found.evidence[0].room.space.outline
    west, south = (min(corner[axis] for corner in outline) for axis in (0, 1))
    along, across, up = (format_length(v, unit=unit) for v in (x - west, y - south, z))
    return f"west {along}, south {across}, {up} high"


def _words(step: Step) -> str:
    if step.kind == "noise":
        played = "nothing plays"
    elif step.kind == "echo":
        played = f"{step.signal}, all processing on"
    elif step.source == FAR_END:
        played = f"{step.signal} through all loudspeakers"
    elif step.calibrated:
        played = f"{step.signal} through {step.source} alone"
    else:
        played = step.signal
    taken = "" if step.calibrated else f", from the output of {step.to}"
    level = "" if step.level_dba is None else f"; expected {figure(step.level_dba, 0)} dBA"
    return f"{step.file}: {played}{taken}{level}"


def _after(found: SessionPlan) -> list[str]:
    steps = [
        "Record the calibrator again before anything is unplugged.",
        "Switch on again what was switched off, and set the volume back.",
        "Fill in session.yaml: date, who measured, instruments; delete what was not recorded.",
        "wellheard measure FOLDER reads all of it; wellheard prove ROOM FOLDER compares it with "
        "what was promised.",
    ]
    lines = ["AFTERWARDS", *(line for n, one in enumerate(steps, 1) for line in _item(f"{n}", one))]
    if found.left_out:
        lines += [
            "",
            *_wrapped(
                f"Not measured: {listed(found.left_out)}. Chosen were places where the promise is "
                "nearest to breaking, then those farthest from them; --places N takes more."
            ),
        ]
    return lines


def _item(mark: str, text: str, *, indent: int = 0) -> list[str]:
    head = f"{' ' * indent}{mark:<3} "
    return textwrap.wrap(
        text, WIDTH, initial_indent=head, subsequent_indent=" " * len(head), break_on_hyphens=False
    )


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, break_on_hyphens=False)
