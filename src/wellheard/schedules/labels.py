"""Labels of cables: short, each different from all others, from end to end as installers write."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from wellheard.room.document import Room

LONGEST = 12
"""Characters of a device's name on a label; what is longer is shortened."""
NUMBER = 6
"""Characters of a cable's number; a link with a longer id gets a running number."""


def short_names(names: Iterable[str], *, most: int = LONGEST) -> dict[str, str]:
    """Return every name as it fits on a label, each different from all others.

    Parameters
    ----------
    names : iterable of str
        Ids of devices and equipment.
    most : int
        Characters; at least 6.

    Examples
    --------
    >>> short_names(["m1", "microphone-north", "microphone-north-2"])
    {'m1': 'm1', 'microphone-north': 'microphone~1', 'microphone-north-2': 'microphone~2'}
    """
    found: dict[str, str] = {}
    shortened = 0
    for name in dict.fromkeys(names):
        found[name] = name
        if len(name) > most:
            # A tilde is in no id: no shortened name is the whole name of something else.
            shortened += 1
            tail = f"~{shortened}"
            found[name] = name[: most - len(tail)].rstrip("-") + tail
    return found


def room_names(room: Room) -> dict[str, str]:
    """Return the short name of everything that a cable of a room can end at, by its id.

    On drawings, on labels and in tables a device has this one name, spelled as in the document.
    """
    return short_names((*room.devices, *room.equipment, *room.furniture))


def numbers(ids: Iterable[str]) -> dict[str, str]:
    """Return the number of every cable: its id where that is short, else a running one.

    Examples
    --------
    >>> numbers(["c01", "to-computer", "x"])
    {'c01': 'c01', 'to-computer': 'c02', 'x': 'x'}
    """
    every = tuple(ids)
    taken = {one for one in every if len(one) <= NUMBER}
    running = (name for count in range(1, 10**NUMBER) if (name := f"c{count:02}") not in taken)
    return {one: one if one in taken else next(running) for one in every}


def natural_order(text: str) -> list[tuple[int, int, str]]:
    """Key that puts s2 before s10.

    Examples
    --------
    >>> sorted(["c10", "c02", "to-wall", "c1"], key=natural_order)
    ['c1', 'c02', 'c10', 'to-wall']
    """
    return [
        (0, int(part), "") if part.isdigit() else (1, 0, part)
        for part in re.findall(r"[0-9]+|[^0-9]+", text)
    ]


def end_labels(number: str, one: str, other: str, *, names: Mapping[str, str]) -> tuple[str, str]:
    """Return what is written on both ends of a cable, each end named first on its own label.

    Parameters
    ----------
    number : str
        Of the cable.
    one, other : str
        Ports, ``device.port``.
    names : mapping of str to str
        Short names of devices and equipment.

    Examples
    --------
    >>> end_labels("c03", "m2.link", "mixer.mic-2", names={"m2": "m2", "mixer": "mixer"})
    ('c03 m2.link → mixer.mic-2', 'c03 mixer.mic-2 → m2.link')
    """
    here, there = (_short(port, names) for port in (one, other))
    return f"{number} {here} → {there}", f"{number} {there} → {here}"


def _short(port: str, names: Mapping[str, str]) -> str:
    device, dot, name = port.partition(".")
    return f"{names.get(device, device)}{dot}{name}"
