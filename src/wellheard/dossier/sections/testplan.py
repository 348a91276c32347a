"""The test plan: what is measured, in the order of practice, beside what was predicted."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.acoustics.levels import a_weighted_level_db
from wellheard.acoustics.speech import speech_levels_db
from wellheard.dossier import expected
from wellheard.dossier.model import (
    Blank,
    Block,
    Cell,
    Column,
    Facts,
    Heading,
    Line,
    Paragraph,
    Run,
    Section,
    Table,
    Tick,
)
from wellheard.dossier.planned import Grid, Measured, Place, Results, Step
from wellheard.dossier.sections.racks import temperature_text
from wellheard.dossier.words import (
    NBSP,
    figure,
    fixed_spaces,
    full_stop,
    listed,
    percent,
    sentence,
    with_unit,
)
from wellheard.predict.evidence import Evidence
from wellheard.predict.parts import PartEvidence
from wellheard.units import format_length

TITLE = "Test plan"
LEAD = (
    "Twelve steps, in this order: each rests on those before it. Beside every place stands what "
    "was predicted, with the range that nine of ten such rooms keep to at either end (10–90 %). "
    "Write what is measured into the empty cell. Passed means that the promise in the head of the "
    "column is kept; where nothing was promised, that the figure lies in its range, or that the "
    "reason why not is written beside it. An en dash was not predicted; why stands below."
)
FILLED_IN = (
    "Cells are filled in as far as a session of measurement has them. What was promised stands as "
    "it is for the promised conditions; as it was read, it is under “Measured, and held against "
    "the promise”."
)
CAUTIONS: tuple[tuple[str, str], ...] = (
    (
        "Loud signals",
        "Begin with everything turned down and raise it slowly. Sweeps and noise through a system "
        "that is not set yet can be far louder than speech and can howl.",
    ),
    (
        "Hearing",
        "Wear protection above 85 dBA; nobody stands close in front of a loudspeaker. The law of "
        "the place binds.",
    ),
    (
        "People in the room",
        "Warn them and those next door, and send out whoever is not needed. Alarms must stay "
        "audible.",
    ),
    (
        "Work at height",
        "Ladders and lifts by the rules of the place, never alone, the floor below closed off; "
        "the measuring microphone on its stand is secured.",
    ),
    (
        "Electricity",
        "Nothing is opened while it has power; mains is for qualified people.",
    ),
    (
        "Recordings",
        "Test with speech that may be recorded; tell everybody who can be heard.",
    ),
)
METER = "sound level meter of class 1 or 2 with octave filters, calibrated before and after"
TALKER = "measuring talker, or a small loudspeaker with the pattern of one"
RESPONSE = "impulse response by sweep, with a loop-back for delay and polarity"
BY_EAR = "a person who knows the voice, on headphones at the far end"
CALIBRATOR = "calibrator at 94 or 114 dB: a drift above 0.5 dB discards the set"
DECAY_AT = (1.2, 1.0)
"""How high a microphone of the decay is, and how far from surfaces; ISO 3382-2, 4.3.1 [M]. [m]"""
SOURCES = (
    "Order of the steps, tolerances by ear, in gain and in level: common practice, without a "
    "source. Positions and accuracy of decay: ISO 3382-2:2008, clause 4.3.1 and Table 1. "
    "Repeatability of STI: IEC 60268-16:2011, Annex E. Drift of the calibrator: common in "
    "procedures that rest on IEC standards. All from memory or from open texts that quote them."
)


def steps(evidence: Evidence, parts: Sequence[PartEvidence] = ()) -> tuple[Step, ...]:
    """Return the steps of commissioning with what was predicted for each.

    The order is common practice, no source [C].
    """
    high, away = (format_length(metres, unit=evidence.room.units) for metres in DECAY_AT)
    return (
        Step(
            "power",
            "Power and polarity",
            "Switch on in steps, amplifiers last. Send a signal through one device at a time and "
            "see it at its own port only. Take the sign of the first arrival below 1 kHz against "
            "the loop-back.",
            "every microphone, every loudspeaker",
            RESPONSE,
            "cancellers, mixer, levellers and noise reduction switched off",
            "none: it is so or it is not",
            "Volume down and microphones muted before anything is switched on.",
            expected.polarity(evidence),
        ),
        Step(
            "noise",
            "Noise floor and decay",
            "With nobody speaking and the ventilation as in use, take the noise for 15 s or "
            "longer. Then take the decay of the room.",
            "noise beside every microphone and at ear height at the seats; decay from two places "
            f"of the source to three of the microphone, {high} high, {away} from surfaces where "
            "the room allows",
            f"{METER}; {RESPONSE}",
            "as in step 1; all microphones muted",
            "noise ±1 dB; decay by ISO 3382-2, engineering: 5 % of T in the octaves",
            "Sweeps are loud: people out, protection on.",
            (*expected.noise(evidence), *expected.decay(evidence, parts)),
        ),
        Step(
            "level",
            "Level per microphone",
            "Speech-shaped noise of the source’s level from every place, facing as the document "
            "says. Set the gain, then read level and noise.",
            "source at mouth height at every seat and standing point",
            f"{TALKER}; {METER}",
            "one microphone open at a time, gain fixed, everything else off",
            "±2 dB in level; 0.02 in STI",
            "",
            (*expected.per_microphone(evidence), *expected.per_place_out(evidence)),
        ),
        Step(
            "coverage",
            "Loudspeaker coverage",
            "Speech-shaped noise from the far end’s port. Set the mean over all places, then read "
            "level and STI at each.",
            "ear height at every seat and standing point, nobody in between",
            f"{METER}; {RESPONSE}",
            "microphones muted, limiters in, equalisers as set",
            "±1 dB in level, 0.02 in STI",
            "Begin with the volume down; nobody close to a loudspeaker.",
            expected.per_place_in(evidence),
        ),
        Step(
            "reference",
            "Reference routing",
            "Play the far end, then programme, then speak at each microphone in turn; listen to "
            "what arrives at the reference.",
            "at the port of every reference",
            "meter and headphones on the reference",
            "cancellers bypassed, volume moved and mute pressed while it is watched",
            "none: it holds that and nothing else",
            "",
            expected.references(evidence),
        ),
        Step(
            "canceller",
            "Echo canceller",
            "Measure the return loss with the canceller bypassed, then what it adds after ten "
            "seconds of speech from the far end, and that it holds when the volume is moved.",
            "every microphone, volume at playback level",
            RESPONSE,
            "noise reduction and suppression off for the first, as in use for the second",
            "±3 dB: a canceller works on signals that change",
            "Far-end speech at playback level; microphones can howl: a hand on the mute.",
            expected.cancellers(evidence),
        ),
        Step(
            "mixer",
            "Automatic mixer",
            "Speak at every place in turn and see which microphone opens, how fast, and that the "
            "last stays. Where voices are lifted, raise the gain until it rings, then go back.",
            "every seat and standing point",
            f"{BY_EAR}; meter of the mixer",
            "cancellers on, mixer on",
            "±1 dB in margin",
            "Howl begins at once and loudly: raise in steps of 1 dB, protection on.",
            expected.mixer(evidence),
        ),
        Step(
            "leveller",
            "Automatic gain",
            "Speak quietly, normally and loudly at the same place; in pauses the noise must not "
            "rise.",
            "nearest and farthest place of each microphone",
            f"{BY_EAR}; meter at the far end’s port",
            "as in use",
            "by ear",
            "",
            expected.stages(evidence, "leveller", "Holds the level, lets the noise be"),
        ),
        Step(
            "reduction",
            "Noise reduction",
            "Switch it in and out with steady noise and with speech: noise falls, speech stays.",
            "the place that is worst in speech over noise",
            BY_EAR,
            "as in use",
            "by ear",
            "",
            expected.stages(evidence, "noise-reduction", "Noise falls, speech stays"),
        ),
        Step(
            "call",
            "Far-end call with a person who judges",
            "A call of the kind that will be made. The far end names words from every place, and "
            "says whether it hears echo, hollowness, noise or gaps; take the delays.",
            "every seat and standing point",
            f"{BY_EAR}; delay by a click there and back",
            "everything as in use",
            "±5 ms",
            "",
            expected.delays(evidence),
        ),
        Step(
            "double",
            "Double talk",
            "Both ends count at once, first one louder, then the other: no word is lost, no echo "
            "comes through.",
            "two places far apart",
            BY_EAR,
            "everything as in use",
            "by ear",
        ),
        Step(
            "record",
            "Record everything",
            "Save the settings of every device under the digest of this document, photographs "
            "before the ceiling is closed, recordings of the call, this plan and the acceptance "
            "sheet.",
            "with the document of the room",
            "none",
            "as handed over",
            "none",
        ),
    )


NOT_THERE: dict[str, str] = {
    "power": "no device is placed",
    "level": "no microphone is placed",
    "coverage": "no loudspeaker is placed",
    "reference": "nothing cancels echo",
    "canceller": "no loudspeaker is placed, so that nothing returns as echo",
    "mixer": "no microphone is placed",
    "leveller": "the document has no leveller",
    "reduction": "the document has no noise reduction",
    "call": "no delay is known",
    "double": expected.BY_DEVICE,
}
"""Why a step has nothing to compare with."""


def plan_section(
    evidence: Evidence, parts: Sequence[PartEvidence] = (), results: Results | None = None
) -> Section:
    """Return the test plan; what was measured stands in it as far as ``results`` has it.

    Parameters
    ----------
    evidence : Evidence
        Of the whole room.
    parts : sequence of PartEvidence
        Every space of a room that divides.
    results : mapping of (str, str, str) to Result, optional
        By step, quantity and place, as `wellheard.dossier.planned.keys` lists them.
    """
    blocks: list[Block] = [
        Paragraph((Run(fixed_spaces(LEAD)),), "lead"),
        *([Paragraph((Run(FILLED_IN),))] if results else []),
        Heading("Cautions"),
        Facts(tuple((label, (Run(fixed_spaces(text)),)) for label, text in CAUTIONS)),
        Heading("Alike is compared", "before a figure counts, these are as they were predicted"),
        Facts(_alike(evidence)),
    ]
    for number, step in enumerate(steps(evidence, parts), start=1):
        blocks += _step(number, step, results or {})
    blocks.append(Paragraph((Run(fixed_spaces(SOURCES)),), "note"))
    return Section(TITLE, "commissioning", tuple(blocks))


def _alike(evidence: Evidence) -> tuple[tuple[str, Line], ...]:
    people, climate = evidence.room.people, evidence.room.space.climate
    efforts = people.effort if not isinstance(people.effort, str) else (people.effort,)
    level = float(a_weighted_level_db(speech_levels_db(people.effort)))
    source = (
        "a measuring source that sends alike in all directions"
        if people.directivity == "omni"
        else "a measuring talker with the directivity of a person"
    )
    rows = (
        (
            "Test source",
            f"{source}, speech-shaped, {figure(level, 1)} dBA in the free field 1 m in front "
            f"({listed(list(efforts))} effort); another source, another prediction",
        ),
        (
            "Occupancy",
            f"{percent(people.occupancy)} of the seats taken, by people or by what absorbs as "
            "much; an empty room is predicted again as empty",
        ),
        (
            "Climate",
            f"{temperature_text(climate.temperature_c, evidence.room.units)} and "
            f"{percent(climate.humidity)} relative humidity; write down what it was",
        ),
        (
            "Processing",
            "as each step says: sweeps never go through cancellers, gates, levellers or codecs",
        ),
        (
            "Noise",
            "ventilation and devices as in use, doors and windows shut; write down what was heard",
        ),
        ("Instruments", CALIBRATOR),
    )
    return tuple((label, (Run(fixed_spaces(full_stop(sentence(text)))),)) for label, text in rows)


def _step(number: int, step: Step, results: Results) -> list[Block]:
    facts = (
        ("Do", step.do),
        ("Where", step.where),
        ("With", step.instrument),
        ("Processing", step.state),
        ("Tolerance", step.tolerance),
        *((("Caution", step.caution),) if step.caution else ()),
    )
    blocks: list[Block] = [
        Heading(f"{number} {step.title}"),
        Facts(
            tuple(
                (label, (Run(fixed_spaces(full_stop(sentence(text)))),)) for label, text in facts
            ),
            sticky=True,
        ),
    ]
    for grid in step.grids:
        blocks += _grid(step, grid, results)
    if not step.grids:
        blocks.append(_judged(step, results))
    return blocks


def _judged(step: Step, results: Results) -> Table:
    """A line for a step that has nothing to compare with."""
    reason = NOT_THERE.get(step.key, "")
    said = Run(f"– {sentence(full_stop(reason))}" if reason else "Done", "soft")
    found = results.get((step.key, "", ""))
    measured: Cell = Blank() if found is None else Run(found.text, "strong")
    columns = (
        Column("Predicted", 76),
        Column("Found", 0),
        Column("Passed", 14),
    )
    return Table(columns, ((said, measured, Tick(None if found is None else found.passed)),))


PREDICTED, MEASURED, PASSED = 28.0, 16.0, 11.0
"""Widths of the columns. [mm]"""
WIDE = 40.0
"""Of what was predicted where a grid has one or two quantities. [mm]"""


def _grid(step: Step, grid: Grid, results: Results) -> list[Block]:
    few = len(grid.quantities) < 3
    columns = [Column("Place", 34 if few else 0)]
    for quantity in grid.quantities:
        columns.append(Column(_head(quantity), WIDE if few else PREDICTED))
        columns.append(Column("measured", 0 if few else MEASURED))
    columns.append(Column("passed", PASSED))
    rows = tuple(_row(step, grid, place, results) for place in grid.places)
    notes = [*grid.missing()]
    said = " ".join([*(f"– {full_stop(sentence(one))}" for one in notes), grid.note]).strip()
    return [
        Table(tuple(columns), rows, title=grid.title),
        *([Paragraph((Run(fixed_spaces(said)),), "note")] if said else []),
    ]


def _head(quantity: Measured) -> str:
    promised = with_unit(quantity.promised, quantity.unit)
    if quantity.promised:
        return f"{quantity.title}\n{promised} promised"
    return f"{quantity.title}{f', {quantity.unit}' if quantity.unit else ''}"


def _row(step: Step, grid: Grid, place: Place, results: Results) -> tuple[Cell, ...]:
    cells: list[Cell] = [Run(place.name, "strong")]
    found = [results.get((step.key, quantity.key, place.key)) for quantity in grid.quantities]
    for one, result in zip(place.expected, found, strict=True):
        cells.append(Run(one.text.replace(" to ", f"{NBSP}to{NBSP}")))
        cells.append(Blank() if result is None else Run(result.text, "strong"))
    judged = [one.passed for one in found if one is not None and one.passed is not None]
    whole = len(judged) == len(found)
    cells.append(Tick(all(judged) if judged and (whole or not all(judged)) else None))
    return tuple(cells)
