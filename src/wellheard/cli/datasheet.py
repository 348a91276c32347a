"""Entries of the catalogue as text: lists, and whole data sheets."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from wellheard.cli.render import WIDTH, number, table

if TYPE_CHECKING:
    from wellheard.catalog.catalogue import Catalogue
    from wellheard.catalog.datasheets import Entry
    from wellheard.catalog.finishes import Finish
    from wellheard.catalog.products import Accessory, AnyProduct, Cable, Microphone
    from wellheard.workflow.products import Added, Checked

OCTAVES = ("125", "250", "500", "1k", "2k", "4k", "8k")
NBSP = "\u00a0"
"""Holds what belongs together on a line while a text is wrapped; printed as a blank."""
LABEL = 22
"""Width of the names of fields."""


def listing(catalogue: Catalogue, kind: str, entries: Sequence[Entry]) -> str:
    """Entries of one kind as a table."""
    from wellheard.workflow.product_answers import origin

    def whose(entry: Entry) -> str:
        own = origin(catalogue, entry)
        return "" if own is None else PurePath(own.file).name

    rows: list[list[str]] = []
    for entry in entries:
        one: Any = entry
        if kind == "finishes":
            rows.append([one.id, one.name, *(f"{a:.2f}" for a in one.absorption), one.trust])
        elif kind == "accessories":
            metre = f"{one.price_per_metre:,.2f}" if one.price_per_metre else ""
            rows.append([one.id, one.name, one.needed, _money(one.price, one.currency), metre])
        elif kind == "cables":
            metre = "" if one.length is not None else f"{one.price_per_metre:,.2f}"
            length = "by the metre" if one.length is None else _length(one.length)
            carries = ", ".join(one.carries)
            price = _money(one.price, one.currency)
            rows.append([one.id, one.name, carries, length, price, metre])
        else:
            mountings = ", ".join(one.mountings)
            status = "" if one.status == "current" else one.status
            price = f"{one.price:,.0f} {one.currency}"
            rows.append([one.id, one.name, mountings, price, status])
        rows[-1].append(whose(entry))
    heads = {
        "finishes": ["finish", "", *OCTAVES, "trust"],
        "accessories": ["accessory", "", "needed", "price", "per metre"],
        "cables": ["cable", "", "carries", "length", "price", "per metre"],
    }
    head = heads.get(kind, [_one_of(kind), "", "mounting", "price", "status"])
    # A column that nothing is in says nothing.
    full = [[*head, "from"], *rows]
    keep = [i for i in range(len(full[0])) if i < 2 or any(row[i] for row in rows)]
    lean = [[row[i] for i in keep] for row in full]
    text = table(lean[0], lean[1:], left=2 if kind == "finishes" else 3)
    return text.replace(NBSP, " ")


def _one_of(kind: str) -> str:
    """Kind of one entry of a collection.

    Examples
    --------
    >>> [_one_of(kind) for kind in ("switches", "finishes", "accessories", "cables")]
    ['switch', 'finish', 'accessory', 'cable']
    """
    if kind == "accessories":
        return "accessory"
    return kind.removesuffix("es") if kind.endswith("shes") or kind == "switches" else kind[:-1]


def closing(catalogue: Catalogue) -> str:
    """What is true of the products listed: invented, or whose."""
    said = "Every product and price that comes with the program is invented."
    if not catalogue.own:
        return said
    files = ", ".join(dict.fromkeys(one.file for one in catalogue.own))
    count = len(catalogue.own)
    entries = "one entry" if count == 1 else f"{count} entries"
    return f"{said}\nYour own, {entries}: {files}"


def sheet(catalogue: Catalogue, entry: Entry) -> str:
    """The whole data sheet of an entry."""
    from wellheard.catalog.finishes import Finish
    from wellheard.catalog.products import Accessory, Cable
    from wellheard.workflow.product_answers import origin

    own = origin(catalogue, entry)
    invented = "published" if isinstance(entry, Finish) else "invented, as all that is shipped"
    whose = invented if own is None else f"yours, {own.file}, line {own.line}"
    if isinstance(entry, Finish):
        kind, body = "finish", _finish(entry)
    elif isinstance(entry, Accessory):
        kind, body = "accessory", _accessory(entry)
    elif isinstance(entry, Cable):
        kind, body = "cable", _cable(entry)
    else:
        kind, body = entry.kind, _product(catalogue, entry)
    title = f"{entry.id}: {entry.name}"
    # The name of a file is not broken: it is there to be copied.
    whence = "figures".ljust(LABEL) + whose
    lines = [title, "─" * min(len(title), WIDTH), _line("kind", kind), whence, *body]
    return "\n".join(lines).replace(NBSP, " ")


def _line(label: str, value: str) -> str:
    return textwrap.fill(
        value,
        WIDTH,
        initial_indent=label.ljust(LABEL),
        subsequent_indent=" " * LABEL,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _lines(pairs: Iterable[tuple[str, str]]) -> Iterator[str]:
    """Lines of a sheet; what a sheet does not have is left out."""
    for label, value in pairs:
        if value:
            yield _line(label, value)


def _length(metres: float) -> str:
    """Length in both units, to the millimetre: data sheets are that fine."""
    from wellheard.units import format_length

    places = 2 if round(metres, 2) == round(metres, 4) else 3
    metric = format_length(metres, unit="m", places=places)
    return f"{metric} ({format_length(metres, unit='ft')})".replace(" ", NBSP)


def _lengths(several: Iterable[float]) -> str:
    return ", ".join(_length(one) if one else "flush" for one in several)


def _money(amount: float, currency: str) -> str:
    return f"{amount:,.2f} {currency}"


def _yes(flag: bool) -> str:
    return "yes" if flag else "no"


def _figure(value: float, unit: str = "") -> str:
    return f"{value:g} {unit}".rstrip().replace("-", "−")


def _octaves(values: Sequence[float], places: int) -> str:
    return f"{'  '.join(number(v, places) for v in values)} at 125 Hz to 8 kHz"


def _finish(one: Finish) -> Iterator[str]:
    unit = "m² for each item" if one.per_item else "share of the incident energy"
    nrc = one.noise_reduction_coefficient
    yield from _lines(
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


def _accessory(one: Accessory) -> Iterator[str]:
    metre = f" and {_money(one.price_per_metre, one.currency)} per metre of drop"
    needed = {"always": "always", "drop": "where a device hangs", "flush": "where it does not hang"}
    yield from _lines(
        [
            ("price", _money(one.price, one.currency) + (metre if one.price_per_metre else "")),
            ("needed", needed[one.needed]),
            ("with fits", ", ".join(one.fits) or "any"),
            ("note", one.note),
        ]
    )


def _cable(one: Cable) -> Iterator[str]:
    jackets: list[str] = list(one.jackets)
    if one.surcharges_per_metre:
        extra = zip(one.jackets, one.surcharges_per_metre, strict=True)
        jackets = [f"{j} (+{_money(s, one.currency)} per metre)" if s else j for j, s in extra]
    if one.length is None:
        price = (
            f"{_money(one.price, one.currency)} for both ends and "
            f"{_money(one.price_per_metre, one.currency)} per metre"
        )
    else:
        price = _money(one.price, one.currency)
    yield from _lines(
        [
            ("status", one.status),
            ("carries", ", ".join(one.carries)),
            ("price", f"{price}, of {one.price_date}"),
            ("length", "by the metre" if one.length is None else _length(one.length)),
            ("longest channel", _length(one.max_length)),
            ("jackets", ", ".join(jackets)),
            ("conductors", f"{one.pairs} pair{'' if one.pairs == 1 else 's'}, AWG {one.awg}"),
            ("outer diameter", f"{one.outer_diameter * 1000:g} mm"),
            ("note", one.note),
        ]
    )


def _product(catalogue: Catalogue, one: AnyProduct) -> Iterator[str]:
    from wellheard.catalog.products import Microphone

    orders = f", last orders {one.last_orders}" if one.last_orders else ""
    after = f", successor {one.successor}" if one.successor else ""
    chosen = "never" if not one.selectable else "only where named" if one.by_name else ""
    poe = f", class {one.poe_class} (IEEE 802.3)" if one.poe_class else ""
    plenum = {None: "not known", True: "rated for return air", False: "not rated for return air"}
    weeks = f"{one.lead_time_weeks:g} week{'' if one.lead_time_weeks == 1 else 's'}"
    years = f"{one.warranty_years:g} year{'' if one.warranty_years == 1 else 's'}"
    yield from _lines(
        [
            ("status", one.status + orders + after),
            ("list price", f"{_money(one.price, one.currency)} without tax, of {one.price_date}"),
            ("proposed by a solver", chosen),
        ]
    )
    if isinstance(one, Microphone):
        yield from _microphone(one)
    else:
        yield from _electrical(one)
    yield from _lines(
        [
            ("ports", "; ".join(_ports(one))),
            ("power", f"{one.power_w:g} W from {one.powered_from}{poe}" if one.power_w else "none"),
            ("size", " × ".join(_length(edge) for edge in one.size)),
            ("weight", f"{one.weight_kg:g} kg"),
            ("holds to a ceiling", ", ".join(one.fits)),
            ("drops", _lengths(getattr(one, "drops", ()))),
            ("hole", "" if one.cutout is None else _length(one.cutout)),
            ("in place of a tile", "" if one.module is None else _lengths(one.module)),
            ("in an air void", plenum[one.plenum] if one.fits else ""),
            ("colours", ", ".join(one.colours)),
            ("delivery, warranty", f"{weeks}, {years}"),
            ("minimum firmware", one.minimum_firmware),
            ("note", one.note),
        ]
    )
    yield from _mountings(catalogue, one)


def _ports(one: AnyProduct) -> Iterator[str]:
    ways = {"in": "in", "out": "out", "both": "both ways"}
    for port in one.ports:
        many = f"{port.name}-1 to -{port.count}" if port.count > 1 else port.name
        yield f"{many}: {port.signal} {ways[port.flow]} by {' or '.join(port.kinds)}"


def _microphone(one: Microphone) -> Iterator[str]:
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
    beam = ""
    if one.beam is not None:
        beam = (
            f"steered up to {one.beam.steer_limit_deg:g}° from elevation "
            f"{_figure(one.beam.elevation_deg)}°"
        )
    yield from _lines(
        [
            ("pick-up", one.selects + (", in a table top" if one.boundary else "")),
            ("elements", axes),
            ("beam", beam),
            ("directivity index", f"{_octaves(one.directivity_index_db(), 1)} [dB]"),
            ("rated distances", "; ".join(f"{name} {_length(d)}" for name, d in steps)),
            ("self-noise, overload", f"{one.self_noise_dba:g} dBA, {one.overload_db:g} dB"),
            ("link", f"{one.link.kind}, up to {_length(one.link.max_length)}"),
            ("stem", _length(one.stem) if one.stem else ""),
            ("built in", built_in),
        ]
    )


_ELECTRICAL: tuple[tuple[str, str, str], ...] = (
    ("microphone_ports", "microphone ports", ""),
    ("port_kinds", "their kinds", ""),
    ("canceller", "echo canceller", ""),
    ("canceller_tail", "canceller's tail", "s"),
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
    ("rack_units", "rack units", ""),
)


def _electrical(one: AnyProduct) -> Iterator[str]:
    """Fields of what is no microphone, in the order of its data sheet."""
    for name, label, unit in _ELECTRICAL:
        value = getattr(one, name, None)
        if value is None or value == ():
            continue
        if isinstance(value, bool):
            words = _yes(value)
        elif isinstance(value, tuple):
            words = ", ".join(v if isinstance(v, str) else f"{v:g}" for v in value)
        else:
            words = value if isinstance(value, str) else f"{value:g}"
        gap = "" if unit.startswith("°") else " "
        yield _line(label, f"{words}{gap}{unit}".strip())
    length = getattr(one, "max_length", None)
    if length is not None:
        yield _line("longest run", _length(length))


def _mountings(catalogue: Catalogue, one: AnyProduct) -> Iterator[str]:
    from wellheard.workflow.product_answers import installed

    ways = [
        [
            mounting,
            fit or "",
            "flush" if fit and not drop else _length(drop) if drop else "",
            "currencies differ" if price is None else _money(price, one.currency),
        ]
        for mounting, fit, drop, price in installed(catalogue, one)
    ]
    yield ""
    yield "Installed price: with accessories and labour, without cables, ports and set-up"
    yield table(["mounting", "held by", "drop", "price"], ways, left=3)
    parts = []
    for fitting in one.fittings:
        parts.append([fitting.mounting, "labour", "", _money(fitting.labour, one.currency), ""])
        for name in fitting.accessories:
            part = catalogue.accessory(name)
            needed = [", ".join(part.fits), "" if part.needed == "always" else part.needed]
            when = ", ".join(word for word in needed if word) or "always"
            metre = f"{part.price_per_metre:,.2f}" if part.price_per_metre else ""
            price = _money(part.price, part.currency)
            parts.append([fitting.mounting, name, when, price, metre])
    yield ""
    yield table(["mounting", "takes", "with", "price", "per metre"], parts, left=3)


def addition(one: Added) -> str:
    """What became of a file of products, and of its entries where it replaced another."""
    if not one.replaced:
        return f"{one.path}: {'there already' if one.before else 'added'}"
    said = []
    for change in one.changes:
        fields = f" ({', '.join(change.fields)})" if change.fields else ""
        said.append(f"  {change.id}: {change.what}{fields}")
    return "\n".join([f"{one.path}: replaced", *(said or ["  no figure of it is another"])])


def check_report(answer: Checked) -> str:
    """What was found in files of products: entries, defaults taken, what is implausible."""
    blocks = []
    for one in answer.files:
        counts = ", ".join(
            f"{len(entries)} {_one_of(kind) if len(entries) == 1 else kind}"
            for kind, entries in one.collections.items()
        )
        lines = [f"{one.file}: {counts}"]
        for kind, entries in one.collections.items():
            for entry in entries:
                start = f"{kind}.{entry.id}."
                own = [t for t in one.taken if t.path.startswith(start)]
                if own:
                    said = ", ".join(f"{t.path.removeprefix(start)} {t.words}" for t in own)
                    lines.append(
                        textwrap.fill(
                            f"{entry.id} taken: {said}",
                            WIDTH,
                            initial_indent="  ",
                            subsequent_indent="    ",
                            break_long_words=False,
                            break_on_hyphens=False,
                        )
                    )
        blocks.append("\n".join(lines))
    if answer.implausible:
        blocks.append("\n".join(map(str, answer.implausible)))
    count = len(answer.implausible)
    found = "No problems." if not count else f"{count} problem{'' if count == 1 else 's'}."
    return "\n\n".join([*blocks, found])
