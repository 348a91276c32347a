"""Which settings a document states, as a short text to compare with what a device was given."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from wellheard.room.document import Room

FORM = 1
"""Of the text that is hashed; a new one gives new digests."""
SHORT = 8
"""Characters of the digest that are printed."""


@dataclass(frozen=True)
class Settings:
    """A digest of what is set, and of how much.

    Attributes
    ----------
    digest : str
        SHA-256 in hexadecimal.
    devices, links, stages : int
        How many of each went into it.
    """

    digest: str
    devices: int
    links: int
    stages: int

    @property
    def short(self) -> str:
        """Digest as it is printed, in two groups."""
        return f"{self.digest[: SHORT // 2]}-{self.digest[SHORT // 2 : SHORT]}"


def settings_of(room: Room) -> Settings:
    """Return the digest of what is to be set in the devices of a document.

    It covers what is loaded or set: kind, product and housing of each device, aim included; which
    port is connected with which; every stage of processing with its figures; and the level that
    playback is set to. It leaves out what nobody sets: where a device hangs, cables and their
    ways, prices, owners, names, and all of the room. The text hashed is JSON with sorted keys
    and without spaces, figures rounded to a millionth, in UTF-8; ends of a link are sorted, since
    which end is which makes no difference.

    Parameters
    ----------
    room : Room
        The document.

    Examples
    --------
    >>> from wellheard.room import codec
    >>> outline = [[0, 0], [4, 0], [4, 3], [0, 3]]
    >>> room = codec.from_data({
    ...     "wellheard": 1, "space": {"outline": outline, "height": 2.5},
    ...     "people": {"seats": {"s1": {"at": [1, 1], "facing": 0}}},
    ... })
    >>> settings_of(room).stages, len(settings_of(room).short)
    (0, 9)
    """
    text = json.dumps(
        _settings(room), sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )
    return Settings(
        digest=hashlib.sha256(text.encode()).hexdigest(),
        devices=len(room.devices),
        links=len(room.links),
        stages=len(room.processing),
    )


def _settings(room: Room) -> dict[str, Any]:
    return {
        "form": FORM,
        "devices": {
            name: {
                "kind": device.kind,
                "product": device.product,
                "equipment": device.equipment,
                "aim_deg": _rounded(device.aim_deg),
                "rotation_deg": _rounded(device.rotation_deg),
            }
            for name, device in room.devices.items()
        },
        "links": sorted(sorted((link.from_, link.to)) for link in room.links.values()),
        "processing": {
            name: {
                "kind": stage.kind,
                "on": stage.on,
                "sources": sorted(stage.sources),
                "reference": stage.reference,
                "bypassed": stage.bypassed,
                "gain_db": _rounded(stage.gain_db),
                "delay_ms": _rounded(stage.delay_ms),
            }
            for name, stage in room.processing.items()
        },
        "playback_level_dba": _rounded(room.targets.playback_level_dba),
    }


def _rounded(value: float | None) -> float | None:
    """To a millionth, with one zero: a change of nothing is no change."""
    return None if value is None else round(float(value), 6) + 0.0
