"""Data sheets of the catalogue as people read them: names of fields with their words.

The same rows go to a terminal and to a page. Lengths are in both units, to the millimetre.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TypeAlias, TypeGuard

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.datasheets import Entry
from wellheard.catalog.finishes import Finish
from wellheard.catalog.products import Accessory, AnyProduct, Cable, Loudspeaker, Microphone
from wellheard.dossier.words import NBSP, figure
from wellheard.units import format_length, plain_money
from wellheard.workflow.product_answers import installed, origin

Row: TypeAlias = tuple[str, str]
"""Name of a field, empty where the one before goes on, and what it says."""
INSTALLED = "Installed price: with accessories and labour, without cables, ports and set-up"
INSTALLED_HEAD = ("mounting", "held by", "drop", "price")
PARTS_HEAD = ("mounting", "takes", "with", "price", "per metre")


def kind_words(entry: Entry) -> str:
    """What an entry is."""
    if isinstance(entry, Finish):
        return "finish"
    if isinstance(entry, Accessory):
        return "accessory"
    return "cable" if isinstance(entry, Cable) else entry.kind


def is_product(entry: Entry) -> TypeGuard[AnyProduct]:
    """Whether an entry is a device, which has ports and is mounted."""
    return not isinstance(entry, Finish | Accessory | Cable)


def whose(catalogue: Catalogue, entry: Entry) -> str:
    """Whose figures these are: published, invented, or a user's own."""
    own = origin(catalogue, entry)
    if own is not None:
        return f"yours, {own.file}, line {own.line}"
    return "published" if isinstance(entry, Finish) else "invented, as all that is shipped"


def rows(catalogue: Catalogue, entry: Entry) -> Iterator[Row]:
    """Every field of a data sheet that says something, in the order of the sheet."""
    yield "kind", kind_words(entry)
    yield "figures", whose(catalogue, entry)
    if isinstance(entry, Finish):
        found: Iterable[Row] = _finish(entry)
    elif isinstance(entry, Accessory):
        found = _accessory(entry)
    elif isinstance(entry, Cable):
        found = _cable(entry)
    else:
        found = _product(entry)
    yield from ((label, value) for label, value in found if value)


def one_of(kind: str) -> str:
    """Kind of one entry of a collection.

    Examples
    --------
    >>> [one_of(kind) for kind in ("switches", "finishes", "accessories", "cables")]
    ['switch', 'finish', 'accessory', 'cable']
    """
    if kind == "accessories":
        return "accessory"
    return kind.removesuffix("es") if kind.endswith("shes") or kind == "switches" else kind[:-1]


def length(metres: float) -> str:
    """Length in both units, to the millimetre: data sheets are that fine."""
    places = 2 if round(metres, 2) == round(metres, 4) else 3
    metric = format_length(metres, unit="m", places=places)
    return f"{metric} ({format_length(metres, unit='ft')})".replace(" ", NBSP)


def _lengths(several: Iterable[float]) -> str:
    return ", ".join(length(one) if one else "flush" for one in several)


def _yes(flag: bool) -> str:
    return "yes" if flag else "no"


def _figure(value: float, unit: str = "") -> str:
    return f"{value:g} {unit}".rstrip().replace("-", "−")


def _distortion(ratio: float | None) -> str:
    return "" if ratio is None else f"{100 * ratio:g} %, 12 dB below its highest level"


def _octaves(values: Sequence[float], places: int) -> str:
    return f"{'  '.join(figure(v, places) for v in values)} at 125 Hz to 8 kHz"


def _finish(one: Finish) -> Iterator[Row]:
    unit = "m² for each item" if one.per_item else "share of the incident energy"
    nrc = one.noise_reduction_coefficient
    yield from (
        [
            ("absorption", _octaves(one.absorption, 2)),
            ("", f"{unit}{'; 8 kHz repeats 4 kHz' if one.extrapolated else ''}"),
            ("noise reduction", "" if nrc is None else f"{nrc:.2f} (ASTM C423)"),
            ("scattering", "not published" if one.scattering is None else f"{one.scattering:g}"),
            ("source", f"{one.source} [{one.trust}]"),
            ("same as", one.same_as),
            ("note", one.note),
        ]
    )


def _accessory(one: Accessory) -> Iterator[Row]:
    metre = f" and {plain_money(one.price_per_metre, one.currency)} per metre of drop"
    needed = {"always": "always", "drop": "where a device hangs", "flush": "where it does not hang"}
    yield from (
        [
            (
                "price",
                plain_money(one.price, one.currency) + (metre if one.price_per_metre else ""),
            ),
            ("needed", needed[one.needed]),
            ("with fits", ", ".join(one.fits) or "any"),
            ("note", one.note),
        ]
    )


def _cable(one: Cable) -> Iterator[Row]:
    jackets: list[str] = list(one.jackets)
    if one.surcharges_per_metre:
        extra = zip(one.jackets, one.surcharges_per_metre, strict=True)
        jackets = [f"{j} (+{plain_money(s, one.currency)} per metre)" if s else j for j, s in extra]
    if one.length is None:
        price = (
            f"{plain_money(one.price, one.currency)} for both ends and "
            f"{plain_money(one.price_per_metre, one.currency)} per metre"
        )
    else:
        price = plain_money(one.price, one.currency)
    yield from (
        [
            ("status", one.status),
            ("carries", ", ".join(one.carries)),
            ("price", f"{price}, of {one.price_date}"),
            ("length", "by the metre" if one.length is None else length(one.length)),
            ("longest channel", length(one.max_length)),
            ("jackets", ", ".join(jackets)),
            ("conductors", f"{one.pairs} pair{'' if one.pairs == 1 else 's'}, AWG {one.awg}"),
            ("outer diameter", f"{one.outer_diameter * 1000:g} mm"),
            ("note", one.note),
        ]
    )


def _product(one: AnyProduct) -> Iterator[Row]:
    orders = f", last orders {one.last_orders}" if one.last_orders else ""
    after = f", successor {one.successor}" if one.successor else ""
    chosen = "never" if not one.selectable else "only where named" if one.by_name else ""
    poe = f", class {one.poe_class} (IEEE 802.3)" if one.poe_class else ""
    plenum = {None: "not known", True: "rated for return air", False: "not rated for return air"}
    weeks = f"{one.lead_time_weeks:g} week{'' if one.lead_time_weeks == 1 else 's'}"
    years = f"{one.warranty_years:g} year{'' if one.warranty_years == 1 else 's'}"
    yield from (
        [
            ("status", one.status + orders + after),
            (
                "list price",
                f"{plain_money(one.price, one.currency)} without tax, of {one.price_date}",
            ),
            ("proposed by a solver", chosen),
        ]
    )
    if isinstance(one, Microphone):
        yield from _microphone(one)
    else:
        yield from _electrical(one)
    yield from (
        [
            ("ports", "; ".join(_ports(one))),
            ("power", f"{one.power_w:g} W from {one.powered_from}{poe}" if one.power_w else "none"),
            ("size", " × ".join(length(edge) for edge in one.size)),
            ("weight", f"{one.weight_kg:g} kg"),
            ("holds to a ceiling", ", ".join(one.fits)),
            ("drops", _lengths(getattr(one, "drops", ()))),
            ("hole", "" if one.cutout is None else length(one.cutout)),
            ("in place of a tile", "" if one.module is None else _lengths(one.module)),
            ("in an air void", plenum[one.plenum] if one.fits else ""),
            ("colours", ", ".join(one.colours)),
            ("delivery, warranty", f"{weeks}, {years}"),
            ("minimum firmware", one.minimum_firmware),
            ("note", one.note),
        ]
    )


def _ports(one: AnyProduct) -> Iterator[str]:
    ways = {"in": "in", "out": "out", "both": "both ways"}
    for port in one.ports:
        many = f"{port.name}-1 to -{port.count}" if port.count > 1 else port.name
        yield f"{many}: {port.signal} {ways[port.flow]} by {' or '.join(port.kinds)}"


def _microphone(one: Microphone) -> Iterator[Row]:
    axes = "; ".join(
        f"A{NBSP}{e.pattern_a:g} at azimuth{NBSP}{_figure(e.azimuth_deg)}°, "
        f"elevation{NBSP}{_figure(e.elevation_deg)}°"
        for e in one.elements
    )
    steps = zip(("clear", "usual", "last resort"), one.rated_distances, strict=False)
    built_in = ""
    if one.built_in is not None:
        inside = one.built_in
        built_in = (
            f"loudspeaker to {inside.max_level_db:g} dB at 1 m over {inside.angle_deg:g}°, coupled "
            f"by {_figure(inside.coupling_db, 'dB')}; canceller {_yes(inside.canceller)}, "
            f"computer {_yes(inside.usb)}"
        )
        if inside.canceller_tail is not None:
            built_in += f"; tail {inside.canceller_tail:g} s"
        if inside.canceller_loss_db is not None:
            built_in += f"; adds {inside.canceller_loss_db:g} dB of echo loss"
        if inside.latency_ms:
            built_in += f"; delay {inside.latency_ms:g} ms"
        if inside.distortion is not None:
            built_in += f"; distortion {_distortion(inside.distortion)}"
    beam = ""
    if one.beam is not None:
        beam = (
            f"steered up to {one.beam.steer_limit_deg:g}° from elevation "
            f"{_figure(one.beam.elevation_deg)}°"
        )
    yield from (
        [
            ("pick-up", one.selects + (", in a table top" if one.boundary else "")),
            ("elements", axes),
            ("beam", beam),
            ("directivity index", f"{_octaves(one.directivity_index_db(), 1)} [dB]"),
            ("rated distances", "; ".join(f"{name} {length(d)}" for name, d in steps)),
            ("self-noise, overload", f"{one.self_noise_dba:g} dBA, {one.overload_db:g} dB"),
            ("sensitivity", _sensitivity(one)),
            ("delay", _figure(one.latency_ms, "ms") if one.latency_ms else ""),
            ("link", f"{one.link.kind}, up to {length(one.link.max_length)}"),
            ("stem", length(one.stem) if one.stem else ""),
            ("built in", built_in),
        ]
    )


def _sensitivity(one: Microphone) -> str:
    if one.sensitivity_mv_pa is not None:
        return f"{one.sensitivity_mv_pa:g} mV/Pa"
    if one.sensitivity_dbfs is not None:
        return f"{_figure(one.sensitivity_dbfs, 'dBFS')} at 94 dB"
    return ""


_ELECTRICAL: tuple[tuple[str, str, str], ...] = (
    ("microphone_ports", "microphone ports", ""),
    ("port_kinds", "their kinds", ""),
    ("canceller", "echo canceller", ""),
    ("canceller_tail", "canceller's tail", "s"),
    ("canceller_loss_db", "echo loss it adds", "dB in single talk"),
    ("automatic_mixer", "automatic mixer", ""),
    ("line_inputs", "line inputs", ""),
    ("outputs", "line outputs", ""),
    ("usb", "computer", ""),
    ("network_audio", "networked audio", ""),
    ("sensitivity_db", "sensitivity", "dB at 1 W and 1 m"),
    ("max_level_db", "highest level", "dB at 1 m"),
    ("angle_deg", "coverage", "°, −6 dB at 2–4 kHz"),
    ("impedance", "impedance", "Ω"),
    ("taps_w", "taps", "W"),
    ("units", "sources", ""),
    ("active", "own amplifier", ""),
    ("channels", "channels", ""),
    ("channel_power_w", "power of a channel", "W"),
    ("minimum_impedance", "least load", "Ω"),
    ("line_voltages", "lines", "V"),
    ("network_ports", "network ports", ""),
    ("poe_ports", "ports with power", ""),
    ("supplies_class", "power up to class", "(IEEE 802.3)"),
    ("poe_budget_w", "power in all", "W"),
    ("managed", "managed", ""),
    ("fan", "fan", ""),
    ("carries", "carries", ""),
    ("over", "over", ""),
    ("passes_power", "passes power", ""),
    ("latency_ms", "delay", "ms"),
    ("clip_dbu", "full scale", "dBu"),
    ("preamp_noise_dbu", "input noise", "dBu"),
    ("input_sensitivity_dbu", "full power from", "dBu"),
    ("rack_units", "rack units", ""),
)
_UNSAID: Mapping[str, float] = {"units": 1, "latency_ms": 0}
"""What goes without saying."""


def _electrical(one: AnyProduct) -> Iterator[Row]:
    """Fields of what is no microphone, in the order of its data sheet."""
    for name, label, unit in _ELECTRICAL:
        value = getattr(one, name, None)
        if value is None or value == () or value == _UNSAID.get(name):
            continue
        if isinstance(value, bool):
            words = _yes(value)
        elif isinstance(value, tuple):
            words = ", ".join(v if isinstance(v, str) else f"{v:g}" for v in value)
        else:
            words = value if isinstance(value, str) else _figure(value)
        gap = "" if unit.startswith("°") else " "
        yield label, f"{words}{gap}{unit}".strip()
    if isinstance(one, Loudspeaker):
        yield "distortion", _distortion(one.distortion)
        if one.polar is not None:
            yield "beside the axis", f"octave levels at {len(one.polar.angles_deg)} angles"
    longest = getattr(one, "max_length", None)
    if longest is not None:
        yield "longest run", length(longest)


def ways(catalogue: Catalogue, one: AnyProduct) -> list[list[str]]:
    """Installed price of each way a product can be mounted, under `INSTALLED_HEAD`."""
    return [
        [
            mounting,
            fit or "",
            "flush" if fit and not drop else length(drop) if drop else "",
            "currencies differ" if price is None else plain_money(price, one.currency),
        ]
        for mounting, fit, drop, price in installed(catalogue, one)
    ]


def parts(catalogue: Catalogue, one: AnyProduct) -> list[list[str]]:
    """What each way of mounting takes, under `PARTS_HEAD`."""
    found = []
    for fitting in one.fittings:
        found.append(
            [fitting.mounting, "labour", "", plain_money(fitting.labour, one.currency), ""]
        )
        for name in fitting.accessories:
            part = catalogue.accessory(name)
            needed = [", ".join(part.fits), "" if part.needed == "always" else part.needed]
            when = ", ".join(word for word in needed if word) or "always"
            metre = plain_money(part.price_per_metre) if part.price_per_metre else ""
            price = plain_money(part.price, part.currency)
            found.append([fitting.mounting, name, when, price, metre])
    return found
