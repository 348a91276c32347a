"""The room as it was reckoned with: decay times, surfaces, noise."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.bands import OCTAVES
from wellheard.dossier.figures import reverberation_chart
from wellheard.dossier.model import (
    Block,
    Cell,
    Column,
    Facts,
    Heading,
    Line,
    Manner,
    Paragraph,
    Run,
    Section,
    Table,
)
from wellheard.dossier.words import (
    NBSP,
    count_word,
    figure,
    fixed_spaces,
    octave,
    with_unit,
)
from wellheard.predict.evidence import AbsorbingObjects, Bands, Evidence
from wellheard.predict.tolerances import LEAST_SCATTERING, MOST_SCATTERING, basis_of, is_as_built
from wellheard.units import FOOT, format_length

MIDDLE = (2, 3, 4)
"""Octaves 500 Hz, 1 kHz and 2 kHz within the seven."""


def room_section(evidence: Evidence) -> Section:
    """Return reverberation, surfaces and noise, each with where it comes from."""
    blocks: list[Block] = [
        _summary(evidence),
        Heading("Reverberation time", "seconds, room occupied as stated"),
        reverberation_chart(evidence.reverberation),
        _times(evidence),
        Paragraph((Run(_times_note(evidence)),), "note"),
        Heading("Surfaces", "absorption at 500 Hz, 1 kHz and 2 kHz"),
        _surfaces(evidence),
    ]
    if evidence.reverberation.objects:
        blocks.append(_objects(evidence))
    blocks += [
        Paragraph(
            (
                Run(
                    "Italic: finish assumed, or absorption carried beyond the published octaves.",
                    "told",
                ),
            ),
            "note",
        ),
        Heading("Where the absorption comes from"),
        _absorption_sources(evidence),
        Heading("Noise", "octave levels at the middle of the seats, dB re 20 µPa"),
        _noise(evidence),
        _noise_words(evidence),
    ]
    return Section("The room", "engineer", tuple(blocks))


def _summary(evidence: Evidence) -> Facts:
    room, decay = evidence.room, evidence.reverberation
    unit = room.units
    middle = (decay.time[2] + decay.time[3]) / 2
    absorbed = (decay.mean_absorption[2] + decay.mean_absorption[3]) / 2
    height = _length(room.space.height, unit)
    rows: list[tuple[str, Line]] = [
        (
            "Size",
            (
                Run(
                    f"{area_text(decay.floor_area, unit)} of floor, {height} "
                    f"high, {volume_text(decay.volume, unit)}, {area_text(decay.surface, unit)} of "
                    "surfaces"
                ),
            ),
        ),
        (
            "Reverberation",
            (
                Run(f"{figure(middle, 2)}{NBSP}s", "strong"),
                Run(
                    f" in the middle (500 Hz and 1 kHz), {_model_words(evidence)}; "
                    f"mean absorption there {figure(absorbed, 2)}"
                ),
            ),
        ),
        (
            "Critical distance",
            (
                Run(
                    f"{_length(decay.critical_distance, unit)} for a source and a microphone "
                    "without direction: beyond it more room than voice is heard"
                ),
            ),
        ),
        (
            "Schroeder frequency",
            (
                Run(
                    f"{figure(decay.schroeder_frequency, 0)}{NBSP}Hz: below it single resonances "
                    "decide, and octave figures are coarse"
                ),
            ),
        ),
    ]
    return Facts(tuple((label, _spaced(line)) for label, line in rows))


def _spaced(line: Line) -> Line:
    return tuple(Run(fixed_spaces(run.text), run.manner) for run in line)


def _length(metres: float, unit: str) -> str:
    return format_length(metres, unit="ft" if unit == "ft" else "m").replace(" ", NBSP)


def area_text(area: float, unit: str) -> str:
    """Return an area in the document's units.

    Examples
    --------
    >>> area_text(29.44, "m"), area_text(26.0, "ft")
    ('29.4\\xa0m²', '280\\xa0ft²')
    """
    return (
        with_unit(figure(area, 1), "m²")
        if unit == "m"
        else with_unit(figure(area / FOOT**2, 0), "ft²")
    )


def volume_text(volume: float, unit: str) -> str:
    """Return a volume in the document's units.

    Examples
    --------
    >>> volume_text(80.96, "m"), volume_text(71.0, "ft")
    ('81.0\\xa0m³', '2507\\xa0ft³')
    """
    return (
        with_unit(figure(volume, 1), "m³")
        if unit == "m"
        else with_unit(figure(volume / FOOT**3, 0), "ft³")
    )


def _model_words(evidence: Evidence) -> str:
    decay = evidence.reverberation
    if decay.measured:
        return "as measured in the room"
    return f"predicted by rays with scattering {figure(decay.scattering, 2)}"


def _band_columns(first: str) -> tuple[Column, ...]:
    return (
        Column(first, 0),
        *(Column(octave(band), 16, "right") for band in OCTAVES),
    )


def _times(evidence: Evidence) -> Table:
    decay = evidence.reverberation
    used = "measured" if decay.measured else f"rays, scattering {figure(decay.scattering, 2)}"
    lines: list[tuple[str, Bands, Manner, int]] = [
        (f"Used: {used}", decay.time, "strong", 2),
        ("10 % point", decay.low, "plain", 2),
        ("90 % point", decay.high, "plain", 2),
        ("Rays, little scattering", decay.smooth, "plain", 2),
        ("Rays, much scattering", decay.rough, "plain", 2),
        ("Sabine", decay.sabine, "soft", 2),
        ("Eyring", decay.eyring, "soft", 2),
        ("Kuttruff", decay.kuttruff, "soft", 2),
        ("Arau-Puchades", decay.arau_puchades, "soft", 2),
        ("Fitzroy", decay.fitzroy, "soft", 2),
        ("Used, empty room", decay.unoccupied, "plain", 2),
        ("Mean absorption", decay.mean_absorption, "plain", 2),
    ]
    return Table(
        _band_columns("Octave, Hz"),
        tuple(
            (
                Run(label, "plain" if manner == "soft" else manner),
                *(Run(figure(value, places), manner) for value in values),
            )
            for label, values, manner, places in lines
        ),
    )


def _times_note(evidence: Evidence) -> str:
    decay = evidence.reverberation
    if decay.measured:
        return (
            "The decay was measured. The absorption of every surface is scaled octave by octave "
            "until traced rays decay as measured, and the level of reverberant sound follows. The "
            "band and the 10–90 % points are the tolerance of the measurement."
        )
    if is_as_built(evidence.room):
        return (
            "Finishes and scattering were calibrated to a decay that was measured in this room: "
            f"rays traced with them, scattering {figure(decay.scattering, 2)}, decay as it did, "
            "here with the people and the air of this document. Other scattering would have been "
            "given other absorption, so that its rows show the same decay. The 10–90 % points are "
            "the tolerance of the measurement, and of people and chairs that come or go."
        )
    spread = max(
        max(
            decay.sabine[i],
            decay.eyring[i],
            decay.kuttruff[i],
            decay.arau_puchades[i],
            decay.fitzroy[i],
        )
        / max(
            min(
                decay.sabine[i],
                decay.eyring[i],
                decay.kuttruff[i],
                decay.arau_puchades[i],
                decay.fitzroy[i],
            ),
            1e-9,
        )
        for i in MIDDLE
    )
    return (
        f"No formula is right in every room: between 500 Hz and 2 kHz the longest of them is "
        f"{figure(spread, 1)} times the shortest. Rays are traced through the room as it is, with "
        f"scattering {figure(decay.scattering, 2)}; nobody knows that figure well, so the rows for "
        f"{figure(LEAST_SCATTERING, 1)} and {figure(MOST_SCATTERING, 1)} are in the 10–90 % range. "
        "A measurement in the room would replace the decay."
    )


def _surfaces(evidence: Evidence) -> Table:
    unit = evidence.room.units
    assumed = basis_of(evidence.room, "space.finishes") == "assumed"
    columns = (
        Column("Surface", 34),
        Column("Finish", 0),
        Column("Area\nm²" if unit == "m" else "Area\nft²", 13, "right"),
        *(Column(octave(OCTAVES[i]), 11, "right") for i in MIDDLE),
    )
    rows: list[tuple[Cell, ...]] = []
    for surface in sorted(evidence.reverberation.surfaces, key=lambda s: (-s.area, s.name)):
        manner: Manner = "told" if assumed else "plain"
        absorbed: Manner = "told" if assumed or surface.extrapolated else "plain"
        area = surface.area if unit == "m" else surface.area / FOOT**2
        rows.append(
            (
                Run(surface.name),
                Run(surface.finish, manner),
                Run(figure(area, 1)),
                *(Run(figure(surface.absorption[i], 2), absorbed) for i in MIDDLE),
            )
        )
    return Table(columns, tuple(rows))


def _objects(evidence: Evidence) -> Table:
    metric = evidence.room.units == "m"
    unit, factor = ("m²", 1.0) if metric else ("ft²", 1 / FOOT**2)
    columns = (
        Column("People and furniture", 34),
        Column("Finish", 0),
        Column("Count", 13, "right"),
        *(Column(f"each {unit}\n{octave(OCTAVES[i])}", 15, "right") for i in MIDDLE),
    )
    alike: dict[tuple[str, ...], list[AbsorbingObjects]] = {}
    for thing in evidence.reverberation.objects:
        each = (figure(thing.each[i] * factor, 2 if metric else 1) for i in MIDDLE)
        alike.setdefault((thing.finish, *each), []).append(thing)
    rows: list[tuple[Cell, ...]] = []
    for (finish, *each_printed), things in alike.items():
        more = f" and {count_word(len(things) - 1)} alike" if len(things) > 1 else ""
        count = figure(sum(thing.count for thing in things), 1)
        rows.append(
            (
                Run(f"{things[0].name}{more}"),
                Run(finish),
                Run(count),
                *(Run(text) for text in each_printed),
            )
        )
    return Table(columns, tuple(rows))


def _absorption_sources(evidence: Evidence) -> Facts:
    """Each finish once, with who published its figures."""
    decay = evidence.reverberation
    found = {surface.finish: surface.source for surface in decay.surfaces}
    found.update((thing.finish, thing.source) for thing in decay.objects)
    return Facts(tuple((finish, (Run(source, "soft"),)) for finish, source in found.items()))


def _noise(evidence: Evidence) -> Table:
    levels = evidence.noise.levels_db
    bands: Sequence[float] = sorted(levels)
    columns = (
        Column("Octave, Hz", 0),
        *(Column(octave(band), 15, "right") for band in bands),
    )
    manner: Manner = (
        "plain" if basis_of(evidence.room, "noise.background") == "measured" else "told"
    )
    return Table(
        columns,
        (
            (
                Run("Level, dB"),
                *(Run(figure(levels[band], 0), manner) for band in bands),
            ),
        ),
    )


def _noise_words(evidence: Evidence) -> Facts:
    noise = evidence.noise
    basis = basis_of(evidence.room, "noise.background")
    governing = (
        ", by the speech interference level"
        if noise.governing is None
        else f", decided by the octave of {octave(noise.governing)}{NBSP}Hz"
    )
    rating = "No NC rating" if noise.nc is None else f"NC{NBSP}{figure(noise.nc, 0)}"
    rows: list[tuple[str, Line]] = [
        ("Rating", (Run(rating, "strong"), Run(f"{governing}; {figure(noise.dba, 0)}{NBSP}dBA"))),
        (
            "Background",
            (Run(noise.told_as, "told" if basis != "measured" else "plain"), Run(f", {basis}")),
        ),
    ]
    if evidence.microphone_noise_dba:
        text = "; ".join(
            f"{name} {figure(level, 0)}{NBSP}dBA"
            for name, level in sorted(
                evidence.microphone_noise_dba.items(), key=lambda item: (-item[1], item[0])
            )
        )
        rows.append(("At the microphones", (Run(text + ", without their own noise"),)))
    if evidence.microphones:
        rows.append(
            (
                "Open microphones",
                (
                    Run(
                        f"{figure(evidence.open_microphones, 2)} count as open after the automatic "
                        "mixer, in noise and in reverberation"
                    ),
                ),
            )
        )
    return Facts(tuple(rows))
