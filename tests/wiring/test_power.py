"""What is fed over its cable is fed: by a switch of its class, through what passes power.

Devices that take their power from the network get it by a link to a port of their class or a
higher one (IEEE 802.3); networked sound wants a switch with multicast filtering (common practice,
no source).
"""

from __future__ import annotations

import dataclasses
from typing import Any

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Switch
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.wiring.asking import task_of
from wellheard.wiring.solve import solve
from wellheard.wiring.ways import Ways
from wellheard.wiring.wired import Wired

SHIPPED = Catalogue.shipped()


def _room(product: str, *allow: str, number: int = 1, long: float = 8.0) -> Room:
    devices: dict[str, Any] = {
        f"m{k}": {"kind": "microphone", "product": product, "at": [1 + k, 2.5, 2.8]}
        for k in range(number)
    }
    return Room.model_validate(
        {
            "wellheard": 1,
            "space": {
                "outline": [[0, 0], [long, 0], [long, 5], [0, 5]],
                "height": 2.8,
                "ceiling": {"kind": "tiles", "module": 0.6, "void_depth": 0.4},
            },
            "people": {"seats": {"s1": {"at": [3, 2], "facing": 0}}},
            "equipment": {
                "rack": {"kind": "rack", "at": [long - 0.4, 0.4, 0.5]},
                "pc": {"kind": "computer", "at": [long - 0.8, 0.4, 0.5]},
            },
            "devices": devices,
            "choices": {"allow": list(allow)},
        }
    )


def _fed_processor(watts: float) -> Catalogue:
    """A processor of four ports that takes class 4 from the network. Invented."""
    processors = tuple(
        dataclasses.replace(one, powered_from="network", poe_class=4, power_w=watts)
        if one.id == "processor-4"
        else one
        for one in SHIPPED.processors
    )
    return dataclasses.replace(SHIPPED, processors=processors)


def _bought(wired: Wired) -> list[str]:
    return sorted(one.product for one in wired.devices.values())


def _with_plain_switch(price: float) -> Catalogue:
    """The switch of eight ports, and one as good that cannot be set. Invented."""
    switch = SHIPPED.product("switch-8")
    assert isinstance(switch, Switch)
    plain = dataclasses.replace(switch, id="switch-8-plain", managed=False, price=price)
    return dataclasses.replace(SHIPPED, switches=(*SHIPPED.switches, plain))


def test_a_processor_that_lives_on_the_network_is_led_to_a_switch_that_feeds_it() -> None:
    wired = solve(task_of(_room("ceiling-head-3", "processor-4"), _fed_processor(22.0)))
    assert _bought(wired) == ["processor-4", "switch-8"]
    joined = {
        frozenset((link.from_.partition(".")[0], link.to.partition(".")[0]))
        for link in wired.links.values()
    }
    switch = next(n for n, d in wired.devices.items() if d.product == "switch-8")
    processor = next(n for n, d in wired.devices.items() if d.product == "processor-4")
    assert frozenset((switch, processor)) in joined


def test_its_power_counts_against_the_budget_of_the_switch() -> None:
    """22 W and four panels of 9.5 W with a fifth more are 72 W: more than the 65 W of one switch,
    which feeds four in any case; the panels alone want 45.6 W."""
    room = _room("ceiling-array-16", "processor-4", "switch-8", number=4)
    plain = _bought(solve(task_of(room, SHIPPED)))
    fed = _bought(solve(task_of(room, _fed_processor(22.0))))
    assert plain == ["processor-4", "switch-8"]
    assert fed == ["processor-4", "switch-8", "switch-8"]


def _speaking(*allow: str, loudspeakers: int = 1) -> Room:
    room = _room("ceiling-head-3", *allow)
    more = {
        f"l{k}": Device.model_validate(
            {"kind": "loudspeaker", "product": "ceiling-6", "at": [3 + k, 2.5, 2.8]}
        )
        for k in range(loudspeakers)
    }
    return room.model_copy(update={"devices": {**room.devices, **more}})


def _fed_amplifier(watts: float, **other: Any) -> Catalogue:
    """A networked amplifier that takes its power, class 4, from the network. Invented."""
    amplifiers = tuple(
        dataclasses.replace(
            one, **{"powered_from": "network", "poe_class": 4, "power_w": watts, **other}
        )
        if one.id == "amplifier-4x150"
        else one
        for one in SHIPPED.amplifiers
    )
    return dataclasses.replace(SHIPPED, amplifiers=amplifiers)


def test_an_amplifier_that_lives_on_the_network_is_led_to_a_switch_that_feeds_it() -> None:
    """Lines of a bridge without networked audio feed it: it is on a switch all the same."""
    room = _speaking("bridge-2", "amplifier-4x150", "switch-8")
    plain = solve(task_of(room, SHIPPED))
    assert _bought(plain) == ["amplifier-4x150", "bridge-2"]
    fed = solve(task_of(room, _fed_amplifier(22.0)))
    assert _bought(fed) == ["amplifier-4x150", "bridge-2", "switch-8"]
    ends = {frozenset(p.partition(".")[0] for p in (k.from_, k.to)) for k in fed.links.values()}
    names = {device.product: name for name, device in fed.devices.items()}
    assert frozenset((names["amplifier-4x150"], names["switch-8"])) in ends
    assert frozenset((names["amplifier-4x150"], names["bridge-2"])) in ends


def test_the_power_of_amplifiers_counts_against_the_budget_of_the_switch() -> None:
    """Three of 25 W with a fifth more are 90 W, two are 60 W: one switch has 65 W."""
    allow = ("processor-4", "amplifier-4x150", "switch-8")
    # One loudspeaker on each: one channel, at low impedance, that bears no two side by side.
    single = _fed_amplifier(25.0, channels=1, line_voltages=(), minimum_impedance=8.0)
    two, three = (solve(task_of(_speaking(*allow, loudspeakers=n), single)) for n in (2, 3))
    assert [_bought(one).count("amplifier-4x150") for one in (two, three)] == [2, 3]
    assert _bought(two).count("switch-8") == 1
    assert _bought(three).count("switch-8") == 2


def test_an_amplifier_that_no_switch_feeds_is_not_used() -> None:
    """Class 6 wants more than the class 4 of the only switch that may be bought."""
    room = _speaking("bridge-2", "amplifier-4x150", "switch-8")
    wired = solve(task_of(room, _fed_amplifier(45.0, poe_class=6)))
    assert "amplifier-4x150" not in _bought(wired)
    assert [one.port for one in wired.unwired] == ["l0.in"]


def test_no_switch_that_cannot_be_set_is_bought_for_networked_sound() -> None:
    room = _room("ceiling-array-16", "processor-4")
    assert _bought(solve(task_of(room, _with_plain_switch(90.0)))) == ["processor-4", "switch-8"]
    named = _room("ceiling-array-16", "processor-4", "switch-8-plain")
    wired = solve(task_of(named, _with_plain_switch(90.0)))
    assert _bought(wired) == ["processor-4", "switch-8-plain"]


def test_a_link_that_brings_power_goes_through_nothing_that_keeps_it() -> None:
    blind = tuple(
        dataclasses.replace(one, passes_power=False) if one.carries == "twisted-pair" else one
        for one in SHIPPED.extenders
    )
    room = _room("ceiling-head-3", "processor-4", long=45.0)
    keeps = dataclasses.replace(SHIPPED, extenders=blind)
    assert SHIPPED.microphone("ceiling-head-3").powered_from == "link"
    assert not solve(task_of(room, SHIPPED)).unwired
    assert [one.port for one in solve(task_of(room, keeps)).unwired] == ["m0.link"]
    # A line that brings none may go through it.
    way = Ways(room, keeps).way("twisted-pair", "audio", "m0.link", "rack.mic", limit=30.0)
    assert not isinstance(way, str)
