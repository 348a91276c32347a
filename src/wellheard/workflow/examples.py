"""The example rooms that come with the program: all invented."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from wellheard.errors import InputError
from wellheard.store.listing import ENDING

_PACKED = "data/examples"
_CHECKOUT = Path(__file__).parents[3] / "examples"


def folder() -> Path:
    """Where they are: in the package's data, or beside the sources in a checkout.

    Raises
    ------
    InputError
        This installation has none.
    """
    packed = Path(str(resources.files("wellheard"))) / _PACKED
    for place in (packed, _CHECKOUT):
        if place.is_dir():
            return place
    raise InputError(f"{packed}: this installation has no example rooms; install Wellheard again")


def examples() -> tuple[str, ...]:
    """Names of the example rooms.

    Examples
    --------
    >>> "ten-seats" in examples()
    True
    """
    return tuple(sorted(path.parent.name for path in folder().glob(f"*/*{ENDING}")))


def example_text(name: str) -> str:
    """Text of an example room.

    Raises
    ------
    KeyError
        There is none of that name.
    """
    for path in folder().glob(f"*/*{ENDING}"):
        if path.parent.name == name:
            return path.read_text("utf-8")
    raise KeyError(name)
