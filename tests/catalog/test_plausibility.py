"""The shipped catalogue is sound, and each check bites when its figure is spoiled."""

from __future__ import annotations

import dataclasses
import datetime
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.plausibility import problems
from wellheard.catalog.products import Beam, BuiltIn, Element, Fitting, Link

SHIPPED = Catalogue.shipped()


def spoiled(collection: str, entry_id: str, **changes: Any) -> Catalogue:
    entries = tuple(
        dataclasses.replace(entry, **changes) if entry.id == entry_id else entry
        for entry in getattr(SHIPPED, collection)
    )
    assert entries != getattr(SHIPPED, collection)
    return dataclasses.replace(SHIPPED, **{collection: entries})


def test_nothing_is_wrong_with_the_shipped_catalogue() -> None:
    assert problems(SHIPPED, today=datetime.date(2026, 11, 25)) == ()


CARDIOID = Element(azimuth_deg=0, elevation_deg=-30, pattern_a=0.5)
UPWARDS = Element(azimuth_deg=0, elevation_deg=30, pattern_a=0.5)
BEAM = Beam(
    directivity_index_db=(1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 25.0), steer_limit_deg=70, elevation_deg=-90
)

FAULTS = [
    ("finishes", "plasterboard", {"absorption": (15, 10, 6, 4, 4, 5, 5)}, "absorption 15 is"),
    ("finishes", "plasterboard", {"source": ""}, "source is missing"),
    ("finishes", "plasterboard", {"trust": "?"}, "trust '?' is none of"),
    ("finishes", "plasterboard", {"name": ""}, "name is missing"),
    ("finishes", "plasterboard", {"id": "Plaster Board"}, "id must be"),
    ("finishes", "plasterboard", {"scattering": 30.0}, "scattering 30 is"),
    ("microphones", "ceiling-head-3", {"id": "Head 3"}, "id must be"),
    ("microphones", "ceiling-head-3", {"name": ""}, "name is missing"),
    ("microphones", "ceiling-head-3", {"name": "Gooseneck capsule"}, "is not its own"),
    ("microphones", "ceiling-head-3", {"price": 0.0}, "price is 0"),
    ("processors", "bridge-2", {"price": 0.0}, "price is 0"),
    ("cables", "usb-cord-2", {"price": 0.0}, "price is 0"),
    ("microphones", "ceiling-head-3", {"elements": (UPWARDS, UPWARDS)}, "every capsule points up"),
    (
        "microphones",
        "ceiling-array-16",
        {"beam": Beam(directivity_index_db=(1.0,) * 7, steer_limit_deg=70, elevation_deg=90)},
        "beam points up, but it hangs overhead",
    ),
    ("microphones", "ceiling-head-3", {"price": -1.0}, "price -1 is outside"),
    ("microphones", "ceiling-head-3", {"price": float("nan")}, "price nan is outside"),
    ("microphones", "ceiling-head-3", {"currency": "USD"}, "currencies are mixed: EUR, USD"),
    ("microphones", "ceiling-head-3", {"currency": "€"}, "no three-letter code"),
    ("microphones", "ceiling-head-3", {"size": (110, 110, 55)}, "width 110 m is outside"),
    ("microphones", "ceiling-head-3", {"weight_kg": 500.0}, "weight_kg 500 kg is outside"),
    ("microphones", "ceiling-head-3", {"fits": ()}, "go together"),
    ("microphones", "ceiling-head-3", {"drops": ()}, "go together"),
    ("microphones", "ceiling-head-3", {"drops": (0.0, 0.6, 0.35)}, "drops must ascend"),
    ("microphones", "ceiling-head-3", {"drops": (0.0, 35.0)}, "drop 35 m is outside"),
    ("microphones", "ceiling-head-3", {"rated_distances": (1.5, 1.5, 3.0)}, "must grow"),
    ("microphones", "ceiling-head-3", {"rated_distances": ()}, "rated distances are missing"),
    ("microphones", "ceiling-head-3", {"rated_distances": (5.0, 10.0, 15.0)}, "15 m is outside"),
    ("microphones", "ceiling-head-3", {"self_noise_dba": -26.0}, "self_noise_dba -26 dBA"),
    ("microphones", "ceiling-head-3", {"overload_db": 20.0}, "overload_db 20 dB is outside"),
    ("microphones", "ceiling-head-3", {"elements": (CARDIOID,)}, "two or more elements"),
    ("microphones", "ceiling-head-3", {"selects": "single"}, "selects 'single', with 3"),
    ("microphones", "ceiling-head-3", {"fittings": ()}, "no mounting"),
    (
        "microphones",
        "ceiling-head-3",
        {"fittings": (Fitting(mounting="ceiling", accessories=("glue",), labour=1),)},
        "accessories glue are not in the catalogue",
    ),
    (
        "microphones",
        "ceiling-head-3",
        {"fittings": (Fitting(mounting="ceiling", accessories=("tile-bridge",), labour=1),)},
        "without a safety bond",
    ),
    (
        "microphones",
        "ceiling-head-3",
        {"fittings": (Fitting(mounting="ceiling", accessories=("safety-bond",), labour=1),)},
        "nothing among its accessories holds it by the fit 'hard'",
    ),
    (
        "microphones",
        "ceiling-head-3",
        {"fittings": (Fitting(mounting="ceiling", accessories=("safety-bond",), labour=1),)},
        "no accessory is sold by length",
    ),
    (
        "microphones",
        "ceiling-head-3",
        {"fittings": SHIPPED.microphone("ceiling-head-3").fittings * 2},
        "a mounting occurs twice",
    ),
    (
        "microphones",
        "gooseneck",
        {"elements": (dataclasses.replace(CARDIOID, pattern_a=50),)},
        "pattern_a 50 is outside",
    ),
    (
        "microphones",
        "gooseneck",
        {"elements": (dataclasses.replace(CARDIOID, elevation_deg=120),)},
        "elevation_deg 120° is outside",
    ),
    ("microphones", "gooseneck", {"stem": 0.0}, "stem is 0"),
    (
        "microphones",
        "gooseneck",
        {"link": Link(kind="string", max_length=9)},
        "link 'string' is none of",
    ),
    ("microphones", "front-bar", {"link": Link(kind="usb", max_length=30)}, "usb link 30 m is"),
    ("microphones", "gooseneck", {"link": Link(kind="usb", max_length=3)}, "no processor takes"),
    ("microphones", "table-boundary", {"elements": (CARDIOID,)}, "axis in the surface"),
    (
        "microphones",
        "gooseneck",
        {"boundary": True, "fittings": ()},
        "cannot be mounted on a table",
    ),
    ("microphones", "ceiling-array-16", {"beam": BEAM}, "directivity index 25 dB is outside"),
    ("microphones", "ceiling-array-16", {"beam": None}, "with 0 elements and no beam"),
    (
        "microphones",
        "front-bar",
        {
            "built_in": BuiltIn(
                max_level_db=9, angle_deg=100, coupling_db=-14, canceller=True, usb=True
            )
        },
        "built-in max_level_db 9 dB is outside",
    ),
    (
        "processors",
        "bridge-2",
        {"microphone_ports": 0},
        "microphone_ports and port_kinds go together",
    ),
    ("processors", "bridge-2", {"port_kinds": ("string",)}, "port kind 'string'"),
    ("processors", "bridge-2", {"port_kinds": ()}, "microphone_ports and port_kinds go together"),
    ("processors", "bridge-2", {"canceller_tail": 0.0}, "canceller_tail go together"),
    ("processors", "bridge-1", {"mixer": "gating"}, "mixer gating, but automatic_mixer is no"),
    (
        "microphones",
        "front-bar",
        {
            "beam": Beam(
                directivity_index_db=(1.0,) * 7,
                steer_limit_deg=60,
                elevation_deg=0,
                design="superdirective",
            )
        },
        "beam design superdirective asks for positions",
    ),
    ("processors", "bridge-2", {"usb": False, "outputs": 0}, "nothing comes out of it"),
    ("loudspeakers", "ceiling-6", {"sensitivity_db": 8.8}, "sensitivity_db 8.8 dB is outside"),
    ("loudspeakers", "ceiling-6", {"taps_w": (6.0, 3.0)}, "taps_w must ascend"),
    ("loudspeakers", "ceiling-6", {"max_level_db": 95.0}, "would exceed max_level_db"),
    ("accessories", "tile-bridge", {"name": ""}, "name is missing"),
    ("accessories", "tile-bridge", {"price_per_metre": 3.0}, "not needed only with a drop"),
    ("accessories", "tile-bridge", {"price": -3.0}, "price -3 is outside"),
    ("accessories", "tile-bridge", {"price": float("nan")}, "price nan is outside"),
    ("accessories", "drop-cable", {"price_per_metre": 900.0}, "price_per_metre 900 is outside"),
]


NEW_YEAR = datetime.date(2026, 1, 1)

# Of every product: life, power, what hangs ---------------------------------------------------
FAULTS += [
    ("microphones", "ceiling-head-3", {"colours": ()}, "colours are missing"),
    ("microphones", "ceiling-head-3", {"warranty_years": 0.0}, "warranty_years is missing"),
    ("microphones", "ceiling-head-3", {"warranty_years": 99.0}, "warranty_years 99 is outside"),
    ("microphones", "ceiling-head-3", {"lead_time_weeks": 400.0}, "lead_time_weeks 400 is"),
    ("microphones", "ceiling-array-16", {"minimum_firmware": ""}, "minimum_firmware is missing"),
    ("microphones", "table-unit", {"minimum_firmware": ""}, "minimum_firmware is missing"),
    ("processors", "processor-4", {"minimum_firmware": ""}, "minimum_firmware is missing"),
    ("processors", "usb-bridge", {"minimum_firmware": ""}, "minimum_firmware is missing"),
    ("amplifiers", "amplifier-4x150", {"minimum_firmware": ""}, "minimum_firmware is missing"),
    ("switches", "switch-8", {"minimum_firmware": ""}, "minimum_firmware is missing"),
    ("loudspeakers", "ceiling-6-network", {"minimum_firmware": ""}, "minimum_firmware is missing"),
    ("microphones", "table-unit", {"selectable": False}, "by_name, but selectable is no"),
    ("microphones", "ceiling-head-3", {"last_orders": NEW_YEAR}, "last_orders is given, but"),
    ("microphones", "pendant-subcardioid", {"last_orders": None}, "last_orders is missing"),
    ("microphones", "ceiling-head-3", {"successor": "ceiling-head-6"}, "but status is current"),
    ("microphones", "ceiling-head-4", {"successor": "head-7"}, "'head-7' is not in the catalogue"),
    ("microphones", "ceiling-head-4", {"successor": "ceiling-head-4"}, "is the product itself"),
    ("microphones", "ceiling-head-4", {"successor": "bridge-2"}, "bridge-2 is a processor, not"),
    ("microphones", "pendant-subcardioid", {"successor": "ceiling-head-4"}, "discontinued too"),
    ("microphones", "ceiling-head-3", {"power_w": 0.0}, "power_w is 0, but powered_from is link"),
    ("microphones", "ceiling-head-3", {"powered_from": "none"}, "but powered_from is none"),
    ("microphones", "ceiling-head-3", {"power_w": 9999.0}, "power_w 9999 W is outside"),
    ("microphones", "ceiling-head-3", {"poe_class": 2}, "poe_class 2, but powered_from is link"),
    ("microphones", "ceiling-array-16", {"poe_class": None}, "poe_class is missing"),
    ("microphones", "ceiling-array-16", {"poe_class": 9}, "poe_class 9 is none of 1 to 8"),
    # IEEE 802.3, open tables: class 2 leaves 6.49 W at the device.
    ("microphones", "ceiling-array-16", {"poe_class": 2}, "power_w 9.5 W is more than the 6.49 W"),
    ("processors", "bridge-1", {"power_w": 20.0}, "20 W is more than the 15 W that USB gives"),
    ("microphones", "ceiling-array-16", {"powered_from": "usb"}, "but its link is network"),
    (
        "microphones",
        "ceiling-head-3",
        {"powered_from": "network", "poe_class": 1},
        "powered_from network, but its link is twisted-pair",
    ),
    ("microphones", "ceiling-head-3", {"cutout": 89.0}, "cutout 89 m is outside"),
    ("microphones", "ceiling-head-3", {"cutout": 0.2}, "cutout 0.2 m is wider than the product"),
    ("microphones", "gooseneck", {"cutout": 0.02}, "cutout is given, but it is never mounted"),
    ("microphones", "ceiling-array-16", {"module": (600, 600)}, "module 600 m is outside"),
    ("microphones", "ceiling-array-16", {"module": (0.3, 1.2)}, "smaller than the product"),
    ("microphones", "ceiling-array-16", {"fits": ("hard",)}, "module is given, but fits has no"),
    ("loudspeakers", "pendant-5", {"drops": ()}, "drops and the mounting 'ceiling'"),
    ("loudspeakers", "pendant-5", {"drops": (30.0,)}, "drop 30 m is outside"),
    (
        "loudspeakers",
        "wall-8",
        {"fittings": (Fitting(mounting="wall", accessories=("wall-bracket",), labour=9000),)},
        "labour for wall 9000 is outside",
    ),
    ("loudspeakers", "wall-8", {"drops": (0.3,)}, "drops and the mounting 'ceiling'"),
    ("loudspeakers", "ceiling-6", {"drops": (0.0, 0.5)}, "no accessory is sold by length"),
]

# Levels, delay and what radiates beside the axis ------------------------------------------------
BOX = SHIPPED.loudspeaker("wall-8").polar
assert BOX is not None
BAFFLE = SHIPPED.loudspeaker("ceiling-6").polar
LOUD = dataclasses.replace(
    BOX, levels_db=(BOX.levels_db[0], (0.0,) * 6 + (20.0,), *BOX.levels_db[2:])
)
FAULTS += [
    ("loudspeakers", "wall-8", {"units": 4}, "units 4 is outside 1 to 2"),
    ("loudspeakers", "wall-8", {"latency_ms": 5.0}, "no amplifier of its own: a driver adds none"),
    ("loudspeakers", "ceiling-6-network", {"latency_ms": 900.0}, "latency_ms 900 ms is outside"),
    ("loudspeakers", "wall-8", {"distortion": 0.8}, "distortion 0.8 is outside"),
    ("loudspeakers", "wall-8", {"polar": LOUD}, "polar level 20 dB is outside"),
    ("loudspeakers", "wall-8", {"polar": BAFFLE}, "polar ends at 90°, but it is not always flush"),
    # Its polar is 6 dB down at 45°, so 9.4 to 10 dB at 60° and 2.7 to 2.9 dB at 30°.
    ("loudspeakers", "wall-8", {"angle_deg": 120.0}, "angle_deg 120° and polar disagree: -9.7 dB"),
    ("loudspeakers", "wall-8", {"angle_deg": 60.0}, "angle_deg 60° and polar disagree: -2.8 dB"),
    ("microphones", "gooseneck", {"sensitivity_mv_pa": 0.01}, "sensitivity_mv_pa 0.01 mV/Pa is"),
    (
        "microphones",
        "gooseneck",
        {"sensitivity_dbfs": -30.0},
        "its link is balanced: sensitivity_mv",
    ),
    ("microphones", "ceiling-head-3", {"sensitivity_mv_pa": 9.0}, "twisted-pair: sensitivity_dbfs"),
    ("microphones", "ceiling-head-3", {"sensitivity_dbfs": -80.0}, "sensitivity_dbfs -80 dBFS is"),
    # 94 dB at −20 dBFS is full scale at 114 dB, 6 dB below its overload of 120 dB.
    ("microphones", "ceiling-head-3", {"sensitivity_dbfs": -20.0}, "would be 6 dB above full"),
    ("microphones", "ceiling-head-3", {"latency_ms": 400.0}, "latency_ms 400 ms is outside"),
    ("processors", "processor-4", {"clip_dbu": 90.0}, "clip_dbu 90 dBu is outside 0 to 30"),
    ("processors", "bridge-2", {"outputs": 0, "clip_dbu": 18.0}, "no analogue input or output"),
    ("processors", "processor-4", {"preamp_noise_dbu": -140.0}, "preamp_noise_dbu -140 dBu is"),
    (
        "processors",
        "bridge-2",
        {"preamp_noise_dbu": -127.0},
        "no microphone port of it is analogue",
    ),
    ("amplifiers", "amplifier-2x40", {"latency_ms": 400.0}, "latency_ms 400 ms is outside"),
    (
        "amplifiers",
        "amplifier-2x40",
        {"input_sensitivity_dbu": 40.0},
        "40 dBu is outside -20 to 24",
    ),
]

# Of a kind -----------------------------------------------------------------------------------
ARRAY = SHIPPED.microphone("ceiling-array-16")
BAR = BuiltIn(max_level_db=96, angle_deg=100, coupling_db=-14, canceller=True, usb=True)


def bar(**changes: Any) -> dict[str, Any]:
    return {"built_in": dataclasses.replace(BAR, **changes)}


FAULTS += [
    ("microphones", "front-bar", bar(canceller_tail=20.0), "built-in canceller_tail 20 s is"),
    ("microphones", "front-bar", bar(canceller=False, canceller_tail=0.2), "but canceller is no"),
    (
        "microphones",
        "front-bar",
        bar(canceller_loss_db=15.0),
        "built-in canceller_loss_db 15 dB is outside 20 to 80",
    ),
    (
        "microphones",
        "front-bar",
        bar(canceller=False, canceller_loss_db=56.0),
        "built-in canceller_loss_db is given, but canceller is no",
    ),
    ("microphones", "front-bar", bar(latency_ms=900.0), "built-in latency_ms 900 ms is outside"),
    ("microphones", "front-bar", bar(distortion=2.0), "distortion 2 is outside"),
    ("microphones", "ceiling-head-3", {"positions": ARRAY.positions}, "no beam: an array has both"),
    ("microphones", "ceiling-array-16", {"positions": ARRAY.positions[:1]}, "of 1 capsules"),
    (
        "microphones",
        "ceiling-array-16",
        {"positions": (*ARRAY.positions, ARRAY.positions[0])},
        "two capsules in one place",
    ),
    (
        "microphones",
        "ceiling-array-16",
        {"positions": ((-300.0, 0.0, 0.0), (300.0, 0.0, 0.0))},
        "positions reach 300 m from the centre",
    ),
    # 20 lg 2 = 6.0 dB: what superdirective weights reach with two capsules at the very best.
    (
        "microphones",
        "ceiling-array-16",
        {"positions": ((-0.1, 0.0, 0.0), (0.1, 0.0, 0.0))},
        "9.7 dB is more than 2 capsules can give, 6.0 dB",
    ),
    ("microphones", "gooseneck", {"stem": 3.5}, "stem 3.5 m is outside"),
    (
        "microphones",
        "gooseneck",
        {"elements": (dataclasses.replace(CARDIOID, azimuth_deg=400),)},
        "azimuth_deg 400° is outside",
    ),
    (
        "microphones",
        "front-bar",
        {"beam": dataclasses.replace(BEAM, steer_limit_deg=200)},
        "steer_limit_deg 200° is outside",
    ),
    (
        "microphones",
        "front-bar",
        {"built_in": dataclasses.replace(BAR, angle_deg=0.5)},
        "built-in angle_deg 0.5° is outside",
    ),
    (
        "microphones",
        "front-bar",
        {"built_in": dataclasses.replace(BAR, coupling_db=96)},
        "built-in coupling_db 96 dB is outside",
    ),
    ("processors", "bridge-2", {"canceller_tail": 200.0}, "canceller_tail 200 s is outside"),
    ("processors", "bridge-2", {"canceller_loss_db": 95.0}, "canceller_loss_db 95 dB is outside"),
    ("processors", "mixer-4", {"canceller_loss_db": 46.0}, "loss_db is given, but canceller is no"),
    ("processors", "bridge-2", {"microphone_ports": 500}, "microphone_ports 500 is outside"),
    ("loudspeakers", "ceiling-6", {"max_level_db": 150.0}, "max_level_db 150 dB is outside"),
    ("loudspeakers", "ceiling-6", {"angle_deg": 360.0}, "angle_deg 360° is outside"),
    ("loudspeakers", "ceiling-6", {"impedance": 0.8}, "impedance 0.8 Ω is outside"),
    ("processors", "usb-bridge", {"line_inputs": 0, "network_audio": False}, "nothing goes into"),
    ("processors", "usb-bridge", {"line_inputs": -2}, "line_inputs -2 is outside"),
    ("processors", "bridge-2", {"outputs": 500}, "outputs 500 is outside"),
    ("processors", "bridge-2", {"latency_ms": 900.0}, "latency_ms 900 ms is outside"),
    ("processors", "bridge-1", {"rack_units": 1.0}, "rack_units 1, but it is never mounted"),
    ("processors", "processor-4", {"rack_units": 44.0}, "rack_units 44 is outside"),
    ("amplifiers", "amplifier-4x150", {"rack_units": 44.0}, "rack_units 44 is outside"),
    ("switches", "switch-24", {"rack_units": 44.0}, "rack_units 44 is outside"),
    ("loudspeakers", "ceiling-6", {"active": True}, "taps_w are given, but active"),
    ("loudspeakers", "wall-5-active", {"active": False}, "active and powered_from go together"),
    ("loudspeakers", "wall-8", {"powered_from": "mains", "power_w": 9.0}, "go together: an ampl"),
    (
        "loudspeakers",
        "display-pair",
        {"impedance": 2.0},
        "no amplifier feeds its impedance or a line for its taps",
    ),
    ("amplifiers", "line-amplifier-1x120", {"line_voltages": ()}, "it can feed no loudspeaker"),
    ("amplifiers", "line-amplifier-1x120", {"line_voltages": (230.0,)}, "is no usual line"),
    ("amplifiers", "line-amplifier-1x120", {"line_voltages": (100.0, 70.7)}, "must ascend"),
    ("amplifiers", "amplifier-2x40", {"channels": 0}, "channels 0 is outside"),
    ("amplifiers", "amplifier-2x40", {"channel_power_w": 0.04}, "channel_power_w 0.04 W is"),
    ("amplifiers", "amplifier-2x40", {"minimum_impedance": 0.1}, "minimum_impedance 0.1 Ω is"),
    ("amplifiers", "amplifier-2x40", {"powered_from": "none"}, "but it is an amplifier"),
    ("switches", "switch-8", {"network_ports": 1}, "network_ports 1 is outside"),
    ("switches", "switch-8", {"poe_ports": 12}, "poe_ports 12 is outside 0 to 8"),
    ("switches", "switch-8", {"supplies_class": None}, "go together: all or none"),
    ("switches", "switch-8", {"poe_budget_w": 0.0}, "go together: all or none"),
    ("switches", "switch-8", {"supplies_class": 9}, "supplies_class 9 is none of 1 to 8"),
    # Four ports of class 4 supply 4 × 30 W.
    ("switches", "switch-8", {"poe_budget_w": 121.0}, "4 ports of class 4 give, 120 W"),
    ("switches", "switch-8", {"poe_budget_w": 25.0}, "does not last for a single port"),
    ("extenders", "usb-extender-50", {"max_length": 5000.0}, "max_length 5000 m is outside"),
    ("extenders", "usb-extender-50", {"latency_ms": 500.0}, "latency_ms 500 ms is outside"),
    ("extenders", "usb-extender-50", {"carries": "unknown"}, "carries unknown, which no product"),
    ("cables", "twisted-pair", {"id": "Twisted Pair"}, "id must be"),
    ("cables", "twisted-pair", {"name": ""}, "name is missing"),
    ("cables", "twisted-pair", {"price": -1.0}, "price -1 is outside"),
    ("cables", "twisted-pair", {"currency": "USD"}, "currencies are mixed: EUR, USD"),
    ("cables", "twisted-pair", {"price_per_metre": 800.0}, "price_per_metre 800 is outside"),
    ("cables", "twisted-pair", {"price_per_metre": 0.0}, "it has no length of its own"),
    ("cables", "twisted-pair", {"outer_diameter": 6.2}, "outer_diameter 6.2 m is outside"),
    ("cables", "twisted-pair", {"awg": 230}, "awg 230 is outside"),
    ("cables", "twisted-pair", {"pairs": 0}, "pairs 0 is outside"),
    ("cables", "twisted-pair", {"max_length": 0.1}, "max_length 0.1 m is outside"),
    ("cables", "twisted-pair", {"carries": ()}, "carries is empty"),
    ("cables", "twisted-pair", {"carries": ("light",)}, "carries light, which no product has"),
    ("cables", "twisted-pair", {"jackets": ()}, "jackets is empty"),
    ("cables", "twisted-pair", {"jackets": ("general", "riser", "plenum")}, "the highest first"),
    ("cables", "twisted-pair", {"jackets": ("riser", "riser", "general")}, "once each"),
    ("cables", "twisted-pair", {"surcharges_per_metre": (0.9,)}, "as many as jackets, or none"),
    ("cables", "twisted-pair", {"surcharges_per_metre": (-9.0, 0, 0)}, "per_metre -9 is outside"),
    ("cables", "usb-cord-2", {"length": 20.0}, "length 20 m is outside 0.1 to 5 m"),
    ("cables", "usb-cord-2", {"price_per_metre": 2.0}, "its price is for all of its length"),
]


@pytest.mark.parametrize(("collection", "entry_id", "changes", "message"), FAULTS)
def test_a_spoiled_figure_is_noticed(
    collection: str, entry_id: str, changes: dict[str, Any], message: str
) -> None:
    found = problems(spoiled(collection, entry_id, **changes))
    assert any(message in str(problem) for problem in found), found


# Unusual, but right: on the limit, or unknown and said so.
SOUND = [
    ("microphones", "ceiling-head-4", {"successor": ""}),  # nothing takes its place
    ("microphones", "ceiling-head-4", {"last_orders": None}),  # nobody remembers when
    ("microphones", "ceiling-head-3", {"plenum": None}),
    ("microphones", "ceiling-array-16", {"power_w": 12.95}),  # all that class 3 leaves
    ("processors", "bridge-1", {"power_w": 15.0}),  # 3 A at 5 V
    ("microphones", "ceiling-head-3", {"minimum_firmware": ""}),  # no address, no canceller
    ("microphones", "ceiling-array-16", {"positions": ()}),  # its sheet gives none
    ("switches", "switch-8", {"poe_budget_w": 120.0}),  # 4 × 30 W
    ("switches", "switch-8", {"poe_budget_w": 30.0}),  # one port at a time
    ("amplifiers", "amplifier-2x40", {"line_voltages": (25.0, 70.7, 100.0)}),
    ("cables", "twisted-pair", {"surcharges_per_metre": ()}),
    ("cables", "twisted-pair", {"jackets": ("plenum",), "surcharges_per_metre": (0.9,)}),
    ("cables", "usb-cord-2", {"length": 5.0}),
]


@pytest.mark.parametrize(("collection", "entry_id", "changes"), SOUND)
def test_what_is_unusual_but_right_is_let_be(
    collection: str, entry_id: str, changes: dict[str, Any]
) -> None:
    assert problems(spoiled(collection, entry_id, **changes)) == ()


def test_every_problem_is_that_of_its_entry() -> None:
    found = problems(spoiled("switches", "switch-8", poe_budget_w=121.0))
    assert [one.id for one in found] == ["switch-8"]


def test_a_switch_without_power_is_sound() -> None:
    plain = {"poe_ports": 0, "supplies_class": None, "poe_budget_w": 0.0}
    assert problems(spoiled("switches", "switch-8", **plain)) == ()


def test_a_class_that_no_switch_supplies_is_noticed() -> None:
    found = problems(dataclasses.replace(SHIPPED, switches=SHIPPED.switches[:1]))
    assert found == ()  # class 4 is the most that any product asks for
    weak = dataclasses.replace(SHIPPED.switches[0], supplies_class=3, poe_budget_w=60.0)
    found = problems(dataclasses.replace(SHIPPED, switches=(weak,)))
    arrays = {"ceiling-array-48", "ceiling-array-48-24in"}
    assert {one.id for one in found} == {*arrays, "ceiling-6-network"}
    assert all("no switch supplies its class 4" in one.what for one in found)


@pytest.mark.parametrize(
    ("product", "day", "message"),
    [
        ("pendant-subcardioid", datetime.date(2027, 3, 31), ""),
        ("pendant-subcardioid", datetime.date(2027, 4, 1), "last_orders ended on 2027-03-31"),
        ("ceiling-head-4", datetime.date(2025, 12, 31), ""),
        ("ceiling-head-4", datetime.date(2025, 12, 30), "2025-12-31 is to come, but status is"),
    ],
)
def test_last_orders_are_held_against_the_day(
    product: str, day: datetime.date, message: str
) -> None:
    found = [p.what for p in problems(SHIPPED, today=day) if p.id == product]
    found = [what for what in found if "price_date" not in what]
    assert (len(found) == 1 and message in found[0]) if message else found == []


def test_a_cable_priced_in_the_future_is_noticed() -> None:
    before = SHIPPED.cable("twisted-pair").price_date - datetime.timedelta(days=1)
    found = problems(SHIPPED, today=before)
    assert any("twisted-pair: price_date" in str(problem) for problem in found)


def test_a_price_from_the_future_is_noticed() -> None:
    before = SHIPPED.microphone("gooseneck").price_date - datetime.timedelta(days=1)
    found = problems(SHIPPED, today=before)
    assert any("gooseneck: price_date" in str(problem) for problem in found)
