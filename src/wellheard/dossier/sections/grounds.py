"""What the figures stand on: assumptions, what is left open, sources, cautions."""

from __future__ import annotations

from wellheard.dossier.model import (
    Cell,
    Column,
    Entries,
    Entry,
    Facts,
    Heading,
    Identity,
    Line,
    Paragraph,
    Run,
    Section,
    Table,
)
from wellheard.dossier.places import TARGETS
from wellheard.dossier.words import NBSP, NOT_ASSESSED, figure, fixed_spaces, full_stop, sentence
from wellheard.predict.evidence import Assumed, Evidence
from wellheard.predict.tolerances import basis_of

# What this version predicts is the outbound voice path; the rest is said, not passed over.
NOT_ASSESSED_HERE: tuple[tuple[str, str], ...] = (
    ("Sound from the far end", "loudspeakers, level and intelligibility in the room, evenness"),
    ("Echo", "echo return, the canceller, its references and tail"),
    ("The connection", "codec, network, conferencing service, delay and its jitter"),
    ("The voice in the room", "lift from talker to listener in the same room, feedback"),
    ("Noise that changes", "traffic, weather, neighbours, paper, keys, two people at once"),
    ("Privacy", "what is understood outside the room, and who may listen or record"),
    ("Structure and services", "fixings, loads, fire stopping, mains, what is above the ceiling"),
    ("Cables", "routes, lengths, ports, power"),
)

WITH_SOUND = frozenset({"Sound from the far end", "Echo", "The voice in the room"})
"""What is assessed where a loudspeaker is placed."""

ONLY_AS_SET = (
    "The way back as it is set up",
    "polarity, equalisers, limiters, and how a real canceller behaves when two talk at once",
)

SOUND_SOURCES: tuple[tuple[str, str, str], ...] = (
    ("Echo that is acceptable", "ITU-T G.131:2003, a point of its curve; relation of G.107", "M"),
    ("Weighting of return loss", "ITU-T G.122:1993, clause B.4", "M"),
    ("Gain of a lift", "Davis and Patronis 2006, via an open code that cites it", "L"),
    ("First arrival, later arrivals", "Haas 1951", "M"),
    ("Excess of peaks in a room", "Schroeder 1964", "M"),
    ("Time at a level", "NIOSH 1998, recommended exposure limit, via open texts", "L"),
    ("Sound and picture", "ITU-R BT.1359, detectability, via open texts", "L"),
    ("What a canceller reaches, working level, crest of speech", "common practice", "C"),
)

SOURCES: tuple[tuple[str, str, str], ...] = (
    (
        "Speech transmission index, letter bands",
        "IEC 60268-16:2020, full method, via open libraries; bands of the 2011 edition, Annex F",
        "L",
    ),
    ("Words for the index", "ISO 9921:2003, via an open script", "L"),
    (
        "Vocal effort, importance of octaves",
        "ANSI S3.5-1997, via open libraries; 125 Hz octave of speech is common practice",
        "L",
    ),
    (
        "Directivity of talkers",
        "Kocon and Monson 2018, JASA 144, Table 1, in an open copy",
        "L",
    ),
    (
        "Early reflections",
        "image sources in energy: Allen and Berkley 1979; in plans of any shape Borish 1984",
        "M",
    ),
    (
        "Late reflections, decay",
        "ray tracing: Krokstad, Strøm and Sørsdal 1968; Sabine, Eyring, Arau-Puchades, Fitzroy "
        "and Kuttruff beside it",
        "M",
    ),
    (
        "Sound round corners",
        "Kurze and Anderson 1971, closed form of Maekawa’s curve of 1968",
        "M",
    ),
    ("Diffuse field, critical distance", "Kuttruff, Room Acoustics, 5th edition 2009", "L"),
    ("Noise of located sources with distance", "Barron and Lee 1988, revised theory", "M"),
    ("Sound lost in air", "ISO 9613-1:1993, via an open library", "L"),
    ("Noise rating NC", "ANSI/ASA S12.2-2019, Table 1, via an open library", "L"),
    ("A weighting", "IEC 61672-1:2013, via an open library", "L"),
    ("Absorption of finishes", "stated finish by finish under “The room”", "–"),
    ("House rules of placement, mixer depth, tolerances", "common practice, no source", "C"),
)

CAUTIONS: tuple[tuple[str, str], ...] = (
    (
        "Overhead",
        "Fix every overhead device with rated fixings and an independent safety bond; "
        "structural and seismic rules apply. A ceiling tile carries nothing.",
    ),
    (
        "Electricity and plenum",
        "Electrical work is for qualified people. Where the void returns air, cable jackets and "
        "devices must be listed for it.",
    ),
    ("Work at height", "Use the right access equipment; keep the area below clear."),
    (
        "Unknown ceiling materials",
        "Before drilling or lifting tiles of unknown age, have them tested for asbestos.",
    ),
    (
        "Loud test signals",
        "Warn and clear the room, begin quietly, and protect hearing when levels must be high.",
    ),
    (
        "Recordings",
        "Microphones that always hear need notice and consent; the law on recordings differs "
        "from place to place.",
    ),
    (
        "Accessibility",
        "Assistive listening and captioning may be a legal duty; this design does not "
        "discharge it.",
    ),
    (
        "What decides",
        "These are engineering predictions. Local codes and licensed practice decide.",
    ),
)


def grounds_section(evidence: Evidence, identity: Identity) -> Section:
    """Return which document this is, assumptions, what is left open, sources and cautions."""
    return Section(
        "What this stands on",
        "engineer",
        (
            Heading("This document"),
            _identity(evidence, identity),
            Heading("Told, drawn, measured, assumed"),
            _basis(evidence),
            *_assumptions(evidence),
            Heading("Not assessed"),
            Entries(
                tuple(
                    Entry("not assessed", label, (Run(full_stop(sentence(text))),), (), "")
                    for label, text in open_questions(evidence)
                )
            ),
            Heading("Sources"),
            Table(
                (Column("What", 58), Column("Source", 0), Column("Mark", 10)),
                tuple(
                    (Run(what), Run(source, "soft"), Run(mark))
                    for what, source, mark in _sources(evidence)
                ),
            ),
            Paragraph(
                (
                    Run("L", "strong"),
                    Run(" confirmed in an open text or by an open library; "),
                    Run("M", "strong"),
                    Run(" from memory of the publication, not looked up again; "),
                    Run("C", "strong"),
                    Run(
                        " common practice of the trade without a source. “Via” names who quotes a "
                        "standard that was not itself opened."
                    ),
                ),
                "note",
            ),
            Heading("Cautions"),
            Facts(tuple((label, (Run(text),)) for label, text in CAUTIONS)),
        ),
        new_page=False,
    )


def _sources(evidence: Evidence) -> tuple[tuple[str, str, str], ...]:
    return SOURCES if evidence.playback is None else (*SOURCES[:-1], *SOUND_SOURCES, SOURCES[-1])


def _identity(evidence: Evidence, identity: Identity) -> Facts:
    rows = (
        (
            "Project",
            f"{identity.project or NOT_ASSESSED}, revision {identity.revision or NOT_ASSESSED}",
        ),
        ("Date", identity.date or NOT_ASSESSED),
        ("Room document", identity.document_hash),
        ("Catalogue", evidence.catalogue.hash[:8]),
        ("Made by", f"Wellheard {identity.tool_version}"),
    )
    return Facts(tuple((label, (Run(text),)) for label, text in rows))


BASIS_PATHS: tuple[tuple[str, str], ...] = (
    ("space.outline", "plan of the room"),
    ("space.height", "ceiling height"),
    ("space.finishes", "finishes"),
    ("space.climate", "temperature and humidity"),
    ("people.seats", "seats"),
    ("people.effort", "vocal effort"),
    ("noise.background", "background noise"),
    ("far_end", "the far end"),
)
_BASIS_ORDER = ("measured", "drawing", "told", "assumed")


def basis_words(evidence: Evidence) -> dict[str, list[str]]:
    """Return which inputs were measured, drawn, told or assumed, in words."""
    found: dict[str, list[str]] = {}
    for path, label in BASIS_PATHS:
        found.setdefault(basis_of(evidence.room, path), []).append(label)
    return found


def _basis(evidence: Evidence) -> Facts:
    found = basis_words(evidence)
    rows: list[tuple[str, Line]] = []
    for basis in _BASIS_ORDER:
        if basis in found:
            told = basis in ("told", "assumed")
            rows.append((basis, (Run(", ".join(found[basis]), "told" if told else "plain"),)))
    return Facts(tuple(rows))


def _assumptions(evidence: Evidence) -> tuple[Heading | Paragraph | Table, ...]:
    if not evidence.assumptions:
        return (
            Heading("Assumptions"),
            Paragraph((Run("The document states every input that the prediction used."),)),
        )

    def weight(assumed: Assumed) -> tuple[float, float]:
        return (-abs(assumed.effect_db or 0), -abs(assumed.effect_sti or 0))

    columns = (
        Column("Assumed", 0),
        Column("In the document", 46),
        Column("D/R\nshift, dB", 18, "right"),
        Column("STI\nshift", 18, "right"),
    )
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            Run(fixed_spaces(assumed.text), "told"),
            Run(assumed.path, "soft"),
            Run(_effect(assumed.effect_db, 1)),
            Run(_effect(assumed.effect_sti, 2)),
        )
        for assumed in sorted(evidence.assumptions, key=weight)
    )
    return (
        Heading("Assumptions"),
        Paragraph(
            (
                Run(
                    "The document leaves these open. The shifts say how far the worst place moves "
                    "when one of them is off by its tolerance; a dash means not reckoned."
                ),
            ),
            "note",
        ),
        Table(columns, rows),
    )


def _effect(effect: float | None, places: int) -> str:
    if effect is None:
        return NOT_ASSESSED
    text = figure(effect, places)
    return f"<{NBSP}{10.0**-places:.{places}f}" if not text.strip("−0.") else text


def open_questions(evidence: Evidence) -> tuple[tuple[str, str], ...]:
    """Return what is not assessed of this room, each with its heading."""
    known = WITH_SOUND if evidence.playback is not None else frozenset()
    if evidence.room.links:
        known |= {"Cables"}
    rows = [row for row in NOT_ASSESSED_HERE if row[0] not in known]
    if evidence.playback is not None:
        rows.insert(0, ONLY_AS_SET)
    site = evidence.room.site
    if "unknown" in (site.region, site.seismic):
        rows.append(
            (
                "The site",
                "region or seismic zone unknown: cable jackets, mains and bracing are open until "
                "someone says where the room is",
            )
        )
    if not evidence.outbound:
        rows.insert(
            0,
            (
                "Every place",
                f"no microphone is placed: {', '.join(w.binds for w in TARGETS.values())} are open",
            ),
        )
    return tuple(rows)
