"""What layers and blocks are by their names: rules of a table, and what the user picks instead."""

from __future__ import annotations

import functools
import re
import unicodedata
from collections.abc import Mapping
from typing import Literal

from wellheard.cad import BLOCKS, LAYERS, Role
from wellheard.importers.found import Asked
from wellheard.importers.picks import Picked, Picks
from wellheard.tables import load

TABLE = "import_layers"
OURS = "WELLHEARD-"
_XREF = re.compile(r"^.*(?:\||\$\d+\$)")
_LETTERS = str.maketrans({"Ø": "O", "Æ": "AE", "Œ": "OE"})

Named = Literal["layer", "block"]


def plain(name: str) -> str:
    """Return a name as the rules see it.

    Examples
    --------
    >>> plain("ground|A-Möbel_stühle"), plain("ConfChair01"), plain("Tür 90")
    ('A-MOBEL-STUHLE', 'CONF-CHAIR01', 'TUR-90')
    """
    bare = _XREF.sub("", name)
    bare = re.sub(r"(?<=[a-z])(?=[A-Z])", "-", bare)
    letters = unicodedata.normalize("NFKD", bare.replace("ß", "ss")).upper().translate(_LETTERS)
    letters = "".join(c for c in letters if not unicodedata.combining(c))
    return re.sub(r"[^A-Z0-9]+", "-", letters).strip("-")


@functools.lru_cache(maxsize=1)
def _rules() -> tuple[tuple[str, str, re.Pattern[str]], ...]:
    return tuple((row["role"], row["of"], _compiled(row["pattern"])) for row in load(TABLE).rows)


def _compiled(pattern: str) -> re.Pattern[str]:
    words = re.escape(pattern).replace(r"\*", "[^-]*").replace(r"\?", "[^-]").replace(r"\-", "-")
    return re.compile(rf"(?:^|-){words}(?:-|$)")


def role_by_name(name: str, of: Named) -> Role | None:
    """Return what a layer or block is by its name alone, None where no rule fits.

    Examples
    --------
    >>> role_by_name("A-FURN-CHAR", "layer"), role_by_name("Besprechungstisch 8", "block")
    ('seat', 'table')
    >>> role_by_name("0", "layer") is None
    True
    """
    upper = name.upper()
    if of == "layer":
        for role, ours in LAYERS.items():
            if upper == ours:
                return role
    elif upper.startswith(OURS):
        for role, stem in BLOCKS.items():
            if upper == stem or upper.startswith(f"{stem}-"):
                return role
        return None
    seen = plain(name)
    for text, kind, pattern in _rules():
        if kind in (of, "any") and pattern.search(seen):
            return _ROLES[text]
    return None


_ROLES: Mapping[str, Role] = {role: role for role in LAYERS}


class Roles:
    """What each layer and block of one drawing is, the user's own picks first."""

    def __init__(self, asked: Asked) -> None:
        self.picks = Picks(asked)
        self.named = frozenset(asked.layers)
        self.layer = functools.lru_cache(maxsize=None)(self._layer)
        self.block = functools.lru_cache(maxsize=None)(self._block)

    def ignored(self, name: str) -> bool:
        """Whether the user leaves out a layer or block of this name."""
        return self._pick(name) == "ignore"

    def _pick(self, name: str) -> Picked | None:
        return next(iter(self.picks.all_of(name)), None)

    def picked(self, name: str) -> bool:
        """Whether the user has picked a layer or block of this name for a role."""
        return self._pick(name) not in (None, "ignore")

    def _layer(self, name: str) -> Role | None:
        return self._known(name, "layer")

    def _block(self, name: str) -> Role | None:
        return self._known(name, "block")

    def _known(self, name: str, of: Named) -> Role | None:
        """Return the pick, else the rule's role unless the user has picked that elsewhere."""
        pick = self._pick(name)
        if pick is not None:
            return None if pick == "ignore" else pick
        role = role_by_name(name, of)
        return None if role in self.named else role
