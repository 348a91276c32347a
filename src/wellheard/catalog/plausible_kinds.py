"""What cannot be right in a product of its kind: microphone, processor, loudspeaker and so on."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from wellheard.catalog.power import power_classes
from wellheard.catalog.products import (
    Amplifier,
    AnyProduct,
    BuiltIn,
    Extender,
    Loudspeaker,
    Microphone,
    Polar,
    Processor,
    Switch,
)
from wellheard.catalog.ranges import ascends, outside

LINK_KINDS = ("twisted-pair", "balanced", "network", "usb")
"""Kinds of link that a microphone may have."""

NOMINAL_OCTAVES = (4, 5)
"""2 and 4 kHz, where a nominal angle is stated."""

POLAR_TOLERANCE_DB = 3.0
"""How far a polar may be from −6 dB at the nominal angle (common practice, no source). [dB]"""

LINE_VOLTAGES = (25.0, 50.0, 70.0, 70.7, 100.0, 140.0, 200.0)
"""Constant-voltage lines in use. [V]"""


def of_kind(product: AnyProduct) -> Iterator[str]:
    """Figures that only products of this kind have."""
    match product:
        case Microphone():
            return _microphone(product)
        case Processor():
            return _processor(product)
        case Loudspeaker():
            return _loudspeaker(product)
        case Amplifier():
            return _amplifier(product)
        case Switch():
            return _switch(product)
        case Extender():
            return _extender(product)


def _microphone(one: Microphone) -> Iterator[str]:
    expected = {"steered beam": (0, True), "single": (1, False)}.get(one.selects)
    if expected is not None and (len(one.elements), one.beam is not None) != expected:
        yield f"selects {one.selects!r}, with {len(one.elements)} elements and " + (
            "a beam" if one.beam else "no beam"
        )
    if one.selects == "best element" and (len(one.elements) < 2 or one.beam):
        yield "selects 'best element' asks for two or more elements and no beam"
    for element in one.elements:
        yield from outside("pattern_a", element.pattern_a, 0, 1)
        yield from outside("elevation_deg", element.elevation_deg, -90, 90, "°")
        yield from outside("azimuth_deg", element.azimuth_deg, -360, 360, "°")
        if one.boundary and element.pattern_a != 1 and element.elevation_deg != 0:
            yield "a boundary capsule that is not omni needs its axis in the surface, elevation 0"
    if one.beam is not None:
        for index in one.beam.directivity_index_db:
            yield from outside("directivity index", index, -1, 18, " dB")
        yield from outside("steer_limit_deg", one.beam.steer_limit_deg, 5, 180, "°")
    yield from _overhead(one)
    yield from _positions(one)
    yield from outside("self_noise_dba", one.self_noise_dba, 0, 40, " dBA")
    yield from outside("overload_db", one.overload_db, 90, 160, " dB")
    yield from outside("stem", one.stem, 0, 2, " m")
    yield from _link(one)
    yield from _distances(one)
    if one.boundary and "table" not in one.mountings:
        yield "a boundary capsule, but it cannot be mounted on a table"
    yield from _sensitivity(one)
    yield from outside("latency_ms", one.latency_ms, 0, 100, " ms")
    if one.built_in is not None:
        yield from _built_in(one.built_in)


def _built_in(one: BuiltIn) -> Iterator[str]:
    yield from outside("built-in max_level_db", one.max_level_db, 70, 130, " dB")
    yield from outside("built-in angle_deg", one.angle_deg, 20, 360, "°")
    yield from outside("built-in coupling_db", one.coupling_db, -60, 20, " dB")
    yield from outside("built-in latency_ms", one.latency_ms, 0, 200, " ms")
    yield from _distortion(one.distortion)
    if one.canceller_tail is not None:
        yield from outside("built-in canceller_tail", one.canceller_tail, 0.01, 1, " s")
        if not one.canceller:
            yield "built-in canceller_tail is given, but canceller is no"
    yield from _canceller_loss("built-in canceller_loss_db", one)


def _canceller_loss(name: str, one: BuiltIn | Processor) -> Iterator[str]:
    if one.canceller_loss_db is None:
        return
    # 20 to 35 dB of linear cancelling, 10 to 25 of suppression (common practice, no source).
    yield from outside(name, one.canceller_loss_db, 20, 80, " dB")
    if not one.canceller:
        yield f"{name} is given, but canceller is no"


def _distortion(ratio: float | None) -> Iterator[str]:
    if ratio is not None:
        yield from outside("distortion", ratio, 1e-5, 0.2)


def _sensitivity(one: Microphone) -> Iterator[str]:
    """What it gives for a sound, as volts or as digits."""
    analogue = one.link.kind in ("balanced", "unbalanced")
    if one.sensitivity_mv_pa is not None:
        yield from outside("sensitivity_mv_pa", one.sensitivity_mv_pa, 0.3, 200, " mV/Pa")
        if not analogue:
            yield f"sensitivity_mv_pa is given, but its link is {one.link.kind}: sensitivity_dbfs"
    if one.sensitivity_dbfs is not None:
        yield from outside("sensitivity_dbfs", one.sensitivity_dbfs, -60, -5, " dBFS")
        if analogue:
            yield f"sensitivity_dbfs is given, but its link is {one.link.kind}: sensitivity_mv_pa"
        highest = one.sensitivity_dbfs + one.overload_db - 94.0
        if highest > 0.5:
            yield (
                f"sensitivity_dbfs {one.sensitivity_dbfs:g} dBFS leaves no room for its "
                f"overload_db, which would be {highest:g} dB above full scale"
            )


def _overhead(one: Microphone) -> Iterator[str]:
    """What hangs from a ceiling and listens upwards."""
    if "ceiling" not in one.mountings:
        return
    if one.elements and all(element.elevation_deg > 0 for element in one.elements):
        yield "elevation_deg of every capsule points up, but it hangs overhead: down is below 0"
    if one.beam is not None and one.beam.elevation_deg > 0:
        yield "beam points up, but it hangs overhead: elevation_deg is below 0 for down"


def _positions(one: Microphone) -> Iterator[str]:
    if not one.positions:
        if one.beam is not None and one.beam.design != "delay-and-sum":
            yield "beam design superdirective asks for positions, which it weighs"
        return
    count = len(one.positions)
    if one.beam is None or count < 2:
        yield f"positions of {count} capsules, {'a' if one.beam else 'no'} beam: an array has both"
        return
    if len(set(one.positions)) < count:
        yield "positions: two capsules in one place"
    reach = max(math.hypot(*at) for at in one.positions)
    # From the middle of the housing to a corner, however the sheet turns its axes.
    if reach > math.hypot(*one.size) / 2:
        yield f"positions reach {reach:g} m from the centre, outside the housing"
    best = 20 * math.log10(count)  # superdirective, end-fire, spacing towards 0
    most = max(one.beam.directivity_index_db)
    if most > best:
        yield f"directivity index {most:g} dB is more than {count} capsules can give, {best:.1f} dB"


def _link(one: Microphone) -> Iterator[str]:
    if one.link.kind not in LINK_KINDS:
        yield f"link {one.link.kind!r} is none of {', '.join(LINK_KINDS)}"
    # USB 2.0 reaches 5 m passive, a twisted-pair channel 100 m (ANSI/TIA-568.2-D)
    longest = {"usb": 5.0, "network": 100.0}.get(one.link.kind, 300.0)
    yield from outside(f"{one.link.kind} link", one.link.max_length, 1, longest, " m")
    if one.powered_from in ("network", "usb") and one.link.kind != one.powered_from:
        yield f"powered_from {one.powered_from}, but its link is {one.link.kind}"


def _distances(one: Microphone) -> Iterator[str]:
    rated = one.rated_distances
    if one.selectable and len(rated) != 3:
        yield "rated distances are missing: clear, usual, last resort"
    if not ascends(rated):
        yield "rated distances must grow from clear to last resort"
    for distance in rated:
        yield from outside("rated distance", distance, 0.05, 10, " m")
    if {"lectern", "stand"} & set(one.mountings) and one.stem == 0:
        yield "stands on a stem, but stem is 0"


def _processor(one: Processor) -> Iterator[str]:
    yield from outside("microphone_ports", one.microphone_ports, 0, 128)
    yield from outside("line_inputs", one.line_inputs, 0, 128)
    yield from outside("outputs", one.outputs, 0, 128)
    if bool(one.microphone_ports) != bool(one.port_kinds):
        yield "microphone_ports and port_kinds go together: both or neither"
    for kind in one.port_kinds:
        if kind not in LINK_KINDS:
            yield f"port kind {kind!r} is none of {', '.join(LINK_KINDS)}"
    if one.canceller != (one.canceller_tail > 0):
        yield "canceller and canceller_tail go together: both or neither"
    yield from outside("canceller_tail", one.canceller_tail, 0, 1, " s")
    yield from _canceller_loss("canceller_loss_db", one)
    if one.mixer is not None and not one.automatic_mixer:
        yield f"mixer {one.mixer}, but automatic_mixer is no: it has none"
    yield from outside("latency_ms", one.latency_ms, 0, 200, " ms")
    analogue = "balanced" in one.port_kinds
    if one.clip_dbu is not None:
        yield from outside("clip_dbu", one.clip_dbu, 0, 30, " dBu")
        if not (analogue or one.line_inputs or one.outputs):
            yield "clip_dbu is given, but it has no analogue input or output"
    if one.preamp_noise_dbu is not None:
        # Thermal noise of 150 Ω over 20 kHz is −130.9 dBu.
        yield from outside("preamp_noise_dbu", one.preamp_noise_dbu, -131, -90, " dBu")
        if not analogue:
            yield "preamp_noise_dbu is given, but no microphone port of it is analogue"
    if not (one.microphone_ports or one.line_inputs or one.network_audio):
        yield "nothing goes into it: no microphone ports, no line inputs, no network audio"
    if not (one.usb or one.network_audio or one.outputs):
        yield "nothing comes out of it: no USB, no network audio, no outputs"
    yield from _rack(one)


def _loudspeaker(one: Loudspeaker) -> Iterator[str]:
    yield from outside("sensitivity_db", one.sensitivity_db, 70, 112, " dB")
    yield from outside("max_level_db", one.max_level_db, 80, 140, " dB")
    yield from outside("angle_deg", one.angle_deg, 20, 180, "°")
    yield from outside("impedance", one.impedance, 2, 100, " Ω")
    if not ascends(one.taps_w):
        yield "taps_w must ascend"
    power = 10 ** ((one.max_level_db - one.sensitivity_db) / 10)
    if one.taps_w and one.taps_w[-1] > 1.05 * power:
        yield (
            f"its largest tap of {one.taps_w[-1]:g} W would exceed max_level_db, "
            f"which takes {power:.0f} W"
        )
    if one.active and one.taps_w:
        yield "taps_w are given, but active: its own amplifier feeds it"
    if one.active == (one.powered_from == "none"):
        yield "active and powered_from go together: an amplifier of its own takes power"
    yield from outside("units", one.units, 1, 2)
    yield from outside("latency_ms", one.latency_ms, 0, 200, " ms")
    if one.latency_ms and not one.active:
        yield f"latency_ms {one.latency_ms:g} ms, but no amplifier of its own: a driver adds none"
    yield from _distortion(one.distortion)
    yield from _polar(one)


def _polar(one: Loudspeaker) -> Iterator[str]:
    if one.polar is None:
        return
    for levels in one.polar.levels_db:
        for level in levels:
            yield from outside("polar level", level, -60, 6, " dB")
    last = one.polar.angles_deg[-1]
    if last < 180 and not one.flush:
        yield f"polar ends at {last:g}°, but it is not always flush in a ceiling: state it to 180°"
    there = [_level_at(one.polar, one.angle_deg / 2, octave) for octave in NOMINAL_OCTAVES]
    mean = sum(there) / len(there)
    if abs(mean + 6) > POLAR_TOLERANCE_DB:
        yield (
            f"angle_deg {one.angle_deg:g}° and polar disagree: {mean:.1f} dB at half of it, mean "
            "of 2 and 4 kHz, not -6 dB"
        )


def _level_at(polar: Polar, angle_deg: float, octave: int) -> float:
    """Level at an angle, linear between those stated. [dB]"""
    rows = list(zip(polar.angles_deg, (row[octave] for row in polar.levels_db), strict=True))
    for (low, before), (high, after) in itertools.pairwise(rows):
        if angle_deg <= high:
            return before + (after - before) * (angle_deg - low) / (high - low)
    return rows[-1][1]


def _amplifier(one: Amplifier) -> Iterator[str]:
    yield from outside("channels", one.channels, 1, 64)
    yield from outside("channel_power_w", one.channel_power_w, 1, 5000, " W")
    if not one.minimum_impedance and not one.line_voltages:
        yield "minimum_impedance is 0 and line_voltages are none: it can feed no loudspeaker"
    if one.minimum_impedance:
        yield from outside("minimum_impedance", one.minimum_impedance, 1, 16, " Ω")
    if not ascends(one.line_voltages):
        yield "line_voltages must ascend"
    for volts in one.line_voltages:
        if volts not in LINE_VOLTAGES:
            usual = ", ".join(f"{v:g}" for v in LINE_VOLTAGES)
            yield f"line_voltages {volts:g} V is no usual line: {usual}"
    if one.powered_from == "none":
        yield "powered_from is none, but it is an amplifier"
    yield from outside("latency_ms", one.latency_ms, 0, 200, " ms")
    if one.input_sensitivity_dbu is not None:
        yield from outside("input_sensitivity_dbu", one.input_sensitivity_dbu, -20, 24, " dBu")
    yield from _rack(one)


def _switch(one: Switch) -> Iterator[str]:
    yield from outside("network_ports", one.network_ports, 2, 64)
    yield from outside("poe_ports", one.poe_ports, 0, one.network_ports)
    if not bool(one.poe_ports) == (one.supplies_class is not None) == (one.poe_budget_w > 0):
        yield "poe_ports, supplies_class and poe_budget_w go together: all or none"
    elif one.supplies_class is not None:
        rated = power_classes().get(one.supplies_class)
        if rated is None:
            yield f"supplies_class {one.supplies_class} is none of 1 to 8"
        elif one.poe_budget_w > one.poe_ports * rated.supplied_w:
            yield (
                f"poe_budget_w {one.poe_budget_w:g} W is more than its {one.poe_ports} ports of "
                f"class {one.supplies_class} give, {one.poe_ports * rated.supplied_w:g} W"
            )
        elif one.poe_budget_w < rated.supplied_w:
            yield (
                f"poe_budget_w {one.poe_budget_w:g} W does not last for a single port of class "
                f"{one.supplies_class}, {rated.supplied_w:g} W"
            )
    yield from _rack(one)


def _extender(one: Extender) -> Iterator[str]:
    yield from outside("max_length", one.max_length, 1, 330, " m")
    yield from outside("latency_ms", one.latency_ms, 0, 100, " ms")


def _rack(one: Processor | Amplifier | Switch) -> Iterator[str]:
    yield from outside("rack_units", one.rack_units, 0, 10)
    if one.rack_units and "rack" not in one.mountings:
        yield f"rack_units {one.rack_units:g}, but it is never mounted in a rack"
