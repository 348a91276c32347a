"""The way back as text: what is heard in the room, what returns as echo, what lift could do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wellheard.cli.render import MARKS, chance, number, table, wrapped

if TYPE_CHECKING:
    from wellheard.predict.evidence import Evidence
    from wellheard.predict.wayback import Delays, Echo, Lift, Playback

SHORT = {
    "sti_inbound": "STI in",
    "listening_level_dba": "level",
    "": "–",
}


def way_back(evidence: Evidence) -> str:
    """Listening, echo, lift and delays, as far as the room has any; '' without loudspeakers."""
    if evidence.playback is None:
        return ""
    parts = [listening(evidence.playback, feet=evidence.room.units == "ft"), _echo(evidence.echo)]
    if evidence.lift is not None:
        parts.append(_lift(evidence.lift, feet=evidence.room.units == "ft"))
    if evidence.delays is not None:
        parts.append(_delays(evidence.delays))
    return "\n\n".join(filter(None, parts))


def listening(playback: Playback, *, feet: bool) -> str:
    """The seat ledger of the way in, worst first."""
    rows = [
        [
            f"{MARKS[one.state]} {one.state}",
            one.talker.id,
            one.heard_from,
            _length(one.leads.distance, feet=feet),
            number(one.level.value, 1),
            number(one.sti.value, 2),
            f"{number(one.sti.low, 2)}–{number(one.sti.high, 2)}",
            one.category,
            number(one.speech_to_noise_db, 1),
            "–" if one.direction_deg is None else number(one.direction_deg, 0),
            chance(one.chance) if one.binds else "–",
            SHORT.get(one.binds, one.binds),
        ]
        for one in sorted(playback.rows, key=lambda r: (round(r.chance, 9), round(r.sti.value, 9)))
    ]
    head = [
        "state",
        "seat",
        "from",
        "away" if feet else "m",
        "dBA",
        "STI in",
        "10–90 %",
        "IEC",
        "S/N dB",
        "off picture °",
        "chance",
        "binds",
    ]
    drives = ", ".join(
        f"{one.loudspeaker} {number(one.level_1m_dba, 1)} dBA at 1 m, "
        f"{number(one.headroom_db, 1)} dB to its limit at peaks"
        for one in playback.drives
    )
    spread = playback.uniformity
    said = (
        f"Far end at {number(playback.mean_dba, 1)} dBA in the mean of all ears; loudest over "
        f"quietest {number(spread.value, 1)} dB ({number(playback.uniformity_speech_db, 1)} dB at "
        f"2 kHz). {drives}."
    )
    return table(head, rows, left=3) + "\n" + wrapped(said).strip()


def _echo(echoes: tuple[Echo, ...]) -> str:
    rows = [
        [
            f"{MARKS[one.state]} {one.state}",
            one.microphone,
            one.canceller or "none",
            number(one.return_loss_db, 1),
            number(one.echo_to_speech_db, 1),
            number(one.needed_db, 1),
            number(one.must_add_db, 1),
            "–" if one.can_add_db is None else number(one.can_add_db, 1),
            "–" if one.tail is None else number(1000 * one.tail, 0),
            number(1000 * one.tail_needed, 0),
        ]
        for one in echoes
    ]
    head = [
        "echo",
        "mic",
        "cancelled at",
        "return loss dB",
        "echo/speech dB",
        "needed dB",
        "to add dB",
        "can add dB",
        "tail ms",
        "needed ms",
    ]
    return table(head, rows, left=3) if rows else ""


def _lift(found: Lift, *, feet: bool) -> str:
    from wellheard.predict.lift import HOST_NOT_INCLUDED

    octave = f"{found.octave / 1000:g} kHz" if found.octave >= 1000 else f"{found.octave:g} Hz"
    least = min(found.rows, key=lambda row: (round(row.gain_db, 6), row.talker.id), default=None)
    left = f"{number(found.margin_db, 1)} dB to howling"
    use = (
        f"Lift at {number(found.gain_db, 1)} dB: {left}"
        if found.in_use
        else f"No lift is in the document; at most {number(found.gain_db, 1)} dB would leave {left}"
    )
    gain = (
        ""
        if least is None
        else f"; {least.talker.id} gains least, {number(least.gain_db, 1)} dB for {least.speaker}"
    )
    distance = _length(found.equivalent_distance, feet=feet)
    return wrapped(
        f"{use} ({found.microphone} and {found.loudspeaker}, {octave}){gain}. Potential gain "
        f"{number(found.potential_gain_db, 1)} dB, needed {number(found.needed_gain_db, 1)} dB for "
        f"{distance}{'' if feet else ' m'} of equivalent distance. {HOST_NOT_INCLUDED}"
    ).strip()


def _delays(found: Delays) -> str:
    each = [
        f"{name} {number(ms, 1)} ms"
        for name, ms in (
            ("out", found.outbound_ms),
            ("in", found.inbound_ms),
            ("lift", found.lift_ms),
        )
        if ms is not None
    ]
    picture = (
        "the picture's delay is unknown"
        if found.lip_sync_ms is None
        else f"sound {number(abs(found.lip_sync_ms), 0)} ms "
        f"{'after' if found.lip_sync_ms >= 0 else 'before'} the picture"
    )
    return (
        f"Delay in the room: {', '.join(each)}; one way mouth to ear "
        f"{number(found.one_way_ms, 0)} ms; {picture}."
    )


def _length(metres: float, *, feet: bool) -> str:
    from wellheard.units import format_length

    return format_length(metres, unit="ft") if feet else number(metres, 2)
