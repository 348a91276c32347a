"""From evidence to what commissioning should find, grid by grid."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.bands import OCTAVES
from wellheard.dossier.planned import Expected, Grid, Measured, Place
from wellheard.dossier.sections.back_promise import reached_db
from wellheard.dossier.sections.processing import holds_words, stage_words
from wellheard.dossier.words import NBSP, brief, figure, octave
from wellheard.predict.evidence import Evidence, Outbound, Quantity
from wellheard.predict.parts import PartEvidence
from wellheard.predict.tolerances import EFFORT_SIGMA_DB, NOISE_SIGMA_DB, NORMAL_90, basis_of
from wellheard.predict.wayback import Echo
from wellheard.room.divide import spoken

NO_CANCELLER = "nothing cancels there"
NO_RANGE = "A figure without a range has none of its own."
BY_DEVICE = "no sheet states how a device does this, so that no figure is predicted"


def within(value: float, sigma: float, places: int = 1) -> Expected:
    """Return a value with the range of a normal spread.

    Examples
    --------
    >>> within(33.0, 2.0, 0).text
    '33 (30–36)'
    """
    half = NORMAL_90 * sigma
    return Expected(value, value - half, value + half, places)


def predicted(quantity: Quantity, places: int = 1) -> Expected:
    """Return what the ledger says of a quantity."""
    return Expected(quantity.value, quantity.low, quantity.high, places)


def at_least(target: float | None, places: int) -> str:
    """Return a promise that is to be reached; '' for none."""
    return "" if target is None else f"≥{NBSP}{figure(target, places)}"


def at_most(target: float | None, places: int) -> str:
    """Return a promise that is not to be passed; '' for none."""
    return "" if target is None else f"≤{NBSP}{brief(target, places)}"


def polarity(evidence: Evidence) -> tuple[Grid, ...]:
    """Return every microphone and loudspeaker: signal where it belongs, the right way round."""
    playing = () if evidence.playback is None else evidence.playback.loudspeakers
    names = [(one.id, "at its own input") for one in evidence.microphones]
    names += [(one.id, "at its own output") for one in playing]
    if not names:
        return ()
    quantities = (Measured("signal", "Signal"), Measured("polarity", "Polarity"))
    places = (
        Place(name, name, (Expected(words=where), Expected(words="positive")))
        for name, where in names
    )
    return (Grid("", quantities, tuple(places)),)


def noise(evidence: Evidence) -> tuple[Grid, ...]:
    """Return the noise at every microphone, and that of the room."""
    sigma = NOISE_SIGMA_DB[basis_of(evidence.room, "noise.background")]
    limit = evidence.room.targets.noise_nc
    level = evidence.noise.nc
    room = (
        within(level, sigma, 0)
        if level is not None
        else Expected(why_not=f"the noise is beyond the curves ({evidence.noise.label})")
    )
    found = [
        Grid(
            "In the room",
            (
                Measured("nc", "Noise rating", "NC", at_most(limit, 0)),
                Measured("mean-dba", "Noise", "dBA"),
            ),
            (Place("room", "mean of places", (room, within(evidence.noise.dba, sigma, 0))),),
        )
    ]
    if evidence.microphones:
        found.append(
            Grid(
                "At each microphone",
                (Measured("dba", "Noise at the capsule", "dBA"),),
                tuple(
                    Place(
                        one.id,
                        one.id,
                        (within(evidence.microphone_noise_dba[one.id], sigma, 0),),
                    )
                    for one in evidence.microphones
                ),
                "Without its own noise, which its sheet states.",
            )
        )
    return tuple(found)


def decay(evidence: Evidence, parts: Sequence[PartEvidence] = ()) -> tuple[Grid, ...]:
    """Return the decay times by octave, of every space of a room that divides."""
    spaces = [(one.part.title, one.evidence) for one in parts] or [("", evidence)]
    return tuple(_decay(title, space) for title, space in spaces)


def _decay(title: str, evidence: Evidence) -> Grid:
    found, limit = evidence.reverberation, evidence.room.targets.reverberation
    promise = "" if limit is None else f"{at_most(limit, 2)} in the mean of 500 and 1k,"
    places = tuple(
        Place(
            octave(band),
            f"{octave(band)}{NBSP}Hz",
            (Expected(time, low, high, 2),),
        )
        for band, time, low, high in zip(OCTAVES, found.time, found.low, found.high, strict=True)
    )
    return Grid(
        f"Decay by octave{f', {title}' if title else ''}",
        (Measured(f"t20 {title}".strip(), "Reverberation time T20", "s", promise),),
        places,
        "With people and furniture as the document has them; an empty room rings longer.",
    )


def per_microphone(evidence: Evidence) -> tuple[Grid, ...]:
    """Return level and speech over noise of each microphone, from whom it hears least well."""
    gains = {
        one.device: one.recommended_gain_db for one in evidence.levels if one.path == "outbound"
    }
    worst: dict[str, Outbound] = {}
    for row in evidence.outbound:
        known = worst.get(row.path.microphone)
        if known is None or row.speech_to_noise.value < known.speech_to_noise.value:
            worst[row.path.microphone] = row
    places = [
        Place(
            one.id,
            f"{one.id}, from {worst[one.id].talker.id}" if one.id in worst else one.id,
            _of_microphone(worst.get(one.id), gains.get(one.id)),
        )
        for one in evidence.microphones
    ]
    if not places:
        return ()
    promise = at_least(evidence.room.targets.speech_to_noise_db, 1)
    quantities = (
        Measured("capsule", "Speech at the capsule", "dBA"),
        Measured("capsule-s-n", "Speech over noise", "dB", promise),
        Measured("gain", "Gain set", "dB"),
    )
    return (Grid("At each microphone", quantities, tuple(places), NO_RANGE),)


def _of_microphone(row: Outbound | None, gain_db: float | None) -> tuple[Expected, ...]:
    gain = (
        Expected(why_not="the device sets its gain itself, or its figures are missing")
        if gain_db is None
        else Expected(gain_db)
    )
    if row is None:
        nobody = Expected(why_not="it serves nobody best")
        return (nobody, nobody, gain)
    return (Expected(row.path.speech_level_dba), predicted(row.speech_to_noise), gain)


def per_place_out(evidence: Evidence) -> tuple[Grid, ...]:
    """Return what the far end hears of every place."""
    if not evidence.outbound:
        return ()
    targets = evidence.room.targets
    quantities = (
        Measured("sti", "STI", "", at_least(targets.sti_outbound, 2)),
        Measured(
            "d-r", "Direct to reverberant", "dB", at_least(targets.direct_to_reverberant_db, 1)
        ),
        Measured("s-n", "Speech over noise", "dB", at_least(targets.speech_to_noise_db, 1)),
    )
    places = tuple(
        Place(
            row.talker.id,
            _named(row.talker.id, row.arrangement),
            (
                predicted(row.sti, 2),
                predicted(row.direct_to_reverberant),
                predicted(row.speech_to_noise),
            ),
        )
        for row in evidence.outbound
    )
    return (Grid("From each place to the far end", quantities, places),)


def _named(name: str, arrangement: str) -> str:
    return f"{name} ({spoken(arrangement)})" if arrangement else name


def per_place_in(evidence: Evidence) -> tuple[Grid, ...]:
    """Return what every place hears of the far end, and how even that is."""
    found = evidence.playback
    if found is None:
        return ()
    targets = evidence.room.targets
    low_high = targets.listening_level_dba
    levels = "" if low_high is None else f"{brief(low_high[0], 1)}–{brief(low_high[1], 1)}"
    even = found.uniformity
    return (
        Grid(
            "At each place",
            (
                Measured("level", "Level", "dBA", levels),
                Measured("sti", "STI", "", at_least(targets.sti_inbound, 2)),
            ),
            tuple(
                Place(
                    row.talker.id,
                    _named(row.talker.id, row.arrangement),
                    (predicted(row.level), predicted(row.sti, 2)),
                )
                for row in found.rows
            ),
        ),
        Grid(
            "Over all places",
            (
                Measured("mean", "Mean level", "dBA", f"set to {brief(found.target_dba, 1)}"),
                Measured("even", "Loudest minus quietest", "dB", at_most(targets.uniformity_db, 1)),
            ),
            (
                Place(
                    "all",
                    "all places",
                    (
                        Expected(found.mean_dba),
                        Expected(even.value, max(even.low, 0.0), even.high),
                    ),
                ),
            ),
        ),
    )


def references(evidence: Evidence) -> tuple[Grid, ...]:
    """Return what each canceller has to listen to."""
    signal = evidence.signal
    found: dict[str, Place] = {}
    for one in signal.all_cancellers():
        port = one.reference or "none"
        key = f"{one.device}, {port}"
        found.setdefault(
            key, Place(key, key, (Expected(words=holds_words(signal.reference(one))),))
        )
    if not found:
        return ()
    return (Grid("Device and reference", (Measured("holds", "Holds"),), tuple(found.values())),)


def cancellers(evidence: Evidence) -> tuple[Grid, ...]:
    """Return return loss, what the canceller has to add, and both together, per microphone."""
    if not evidence.echo:
        return ()
    needed = max(one.needed_db for one in evidence.echo)
    quantities = (
        Measured("erl", "Return loss ERL", "dB"),
        Measured("erle", "Canceller adds ERLE", "dB"),
        Measured("together", "Together", "dB", at_least(needed, 0)),
    )
    order = {one.id: n for n, one in enumerate(evidence.microphones)}
    rows = sorted(evidence.echo, key=lambda one: order.get(one.microphone, len(order)))
    places = tuple(Place(one.microphone, one.microphone, _echo(one)) for one in rows)
    return (Grid("At each microphone", quantities, places, NO_RANGE),)


def _echo(one: Echo) -> tuple[Expected, ...]:
    adds = (
        Expected(why_not=NO_CANCELLER)
        if one.can_add_db is None
        else Expected(words=f"{figure(one.can_add_db, 0)}; {figure(one.must_add_db, 0)} needed")
    )
    return (
        Expected(one.return_loss_db, places=0),
        adds,
        within(reached_db(one), EFFORT_SIGMA_DB, 0),
    )


def mixer(evidence: Evidence) -> tuple[Grid, ...]:
    """Return how many microphones stand open, and the loop margin of a lift."""
    found: list[Grid] = []
    if evidence.microphones:
        found.append(
            Grid(
                "Microphones open",
                (Measured("open", "Open at once, one person speaking"),),
                (Place("all", "whole room", (Expected(evidence.open_microphones, places=2),)),),
                "Those that are held down count by the noise that they still let through. "
                + NO_RANGE,
            )
        )
    lift = evidence.lift
    if lift is not None and lift.in_use:
        found.append(
            Grid(
                "Loop of the lift",
                (
                    Measured(
                        "margin", "Margin before howl", "dB", at_least(lift.wanted_margin_db, 1)
                    ),
                    Measured("gain", "Gain of the lift", "dB"),
                ),
                (
                    Place(
                        "lift",
                        f"{lift.microphone} and {lift.loudspeaker}",
                        (Expected(lift.margin_db), Expected(lift.gain_db)),
                    ),
                ),
                f"It howls first in the octave of {octave(lift.octave)}{NBSP}Hz. {NO_RANGE}",
            )
        )
    return tuple(found)


def stages(evidence: Evidence, kind: str, title: str) -> tuple[Grid, ...]:
    """Return the stages of one kind that the document has."""
    found = {
        stage.place: stage_words(stage)
        for name in evidence.signal.microphones
        for path in evidence.signal.paths_of(name)
        for stage in path.stages
        if stage.kind == kind
    }
    if not found:
        return ()
    places = tuple(Place(at, at, (Expected(why_not=BY_DEVICE),)) for at in found)
    return (Grid("", (Measured("effect", title),), places),)


def delays(evidence: Evidence) -> tuple[Grid, ...]:
    """Return the delay of every way, of the call, and of sound after picture."""
    found = evidence.delays
    if found is None:
        return ()
    limit = evidence.room.targets.house_limit("in-room-delay")
    most = "" if limit is None else f"{at_most(1000 * limit, 0)} each"
    ways = (
        ("out", "mouth to computer", found.outbound_ms, "no microphone is placed"),
        ("in", "computer to ear", found.inbound_ms, "no loudspeaker is placed"),
        ("lift", "mouth to another ear", found.lift_ms, "nothing is lifted"),
        ("call", "of the call, one way", found.one_way_ms, ""),
        ("lips", "sound after picture", found.lip_sync_ms, "the picture’s delay is not stated"),
    )
    places = tuple(
        Place(
            key,
            name,
            (Expected(why_not=why_not) if value is None else Expected(value, places=0),),
        )
        for key, name, value, why_not in ways
    )
    quantity = Measured("delay", "Delay; in the room", "ms", most)
    return (Grid("Delays", (quantity,), places, NO_RANGE),)
