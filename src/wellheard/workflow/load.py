"""A document with its catalogue: read, and every id in it resolved."""

from __future__ import annotations

import difflib
import hashlib
import os
from dataclasses import dataclass, field

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.entries import Entries
from wellheard.catalog.own import join
from wellheard.checks.registry import rules
from wellheard.errors import CatalogError, DocumentError, Problem
from wellheard.predict import scene as scenes
from wellheard.predict.scene import Scene
from wellheard.room import codec
from wellheard.room.codec import Document
from wellheard.room.document import Room
from wellheard.room.house_limits import HOUSE_LIMITS, REASONABLE
from wellheard.workflow.products import companions, own_entries


@dataclass(frozen=True)
class Loaded:
    """A room document, read and resolved."""

    document: Document
    catalogue: Catalogue
    own: tuple[Entries, ...] = field(default=(), repr=False)
    """The user's files of products in that catalogue."""

    @property
    def room(self) -> Room:
        """The room itself."""
        return self.document.room

    def scene(self) -> Scene:
        """The room made ready for prediction."""
        return scenes.build(self.room, self.catalogue)

    def companions(self, room: Room | None = None) -> dict[str, bytes]:
        """Files of products that go with this room, or with what has become of it, by name."""
        return companions(room or self.room, self.catalogue, self.own)


def document_hash(text: str) -> str:
    """Short name of a document's exact text, as printed in title blocks."""
    digest = hashlib.sha256(text.encode()).hexdigest()
    return f"{digest[:4]}-{digest[4:8]}"


def load(path: str | os.PathLike[str]) -> Loaded:
    """Read a document and resolve every catalogue id in it.

    Ids are those of the shipped catalogue, of the user's own, and of files of products in the
    document's folder (`wellheard.workflow.products`).

    Raises
    ------
    InputError
        The file cannot be opened.
    CatalogError
        One of the user's own products cannot be read, or takes an id that is taken.
    DocumentError
        It is no valid document, or names something that the catalogue does not have; every
        problem at once, with line and column.
    """
    return resolved(codec.load(path))


def load_text(text: str | bytes, path: str | os.PathLike[str]) -> Loaded:
    """Read a document from a text, as if it stood in a file.

    Parameters
    ----------
    text : str or bytes
        One YAML document, UTF-8.
    path : path
        What messages call it; files of products are looked for in its folder. Not opened.

    Raises
    ------
    CatalogError, DocumentError
        As in `load`.
    """
    return resolved(codec.parse_document(text, name=os.fspath(path)))


def resolved(document: Document) -> Loaded:
    """A document with its catalogue; its name says in which folder products are looked for.

    Raises
    ------
    CatalogError, DocumentError
        As in `load`.
    """
    own = own_entries(beside=os.path.dirname(document.name) or ".")
    catalogue = join(Catalogue.shipped(), own)
    problems = unresolved(document, catalogue)
    if problems:
        raise DocumentError(sorted(problems, key=lambda p: (p.line, p.column)))
    return Loaded(document, catalogue, own)


def unresolved(document: Document, catalogue: Catalogue) -> list[Problem]:
    """Catalogue ids of a document that do not resolve, or resolve to another kind of thing."""
    problems: list[Problem] = []
    for path, kind, name in document.room.references():
        if kind == "finish":
            known = [f.id for f in catalogue.finishes if not f.per_item]
            if name not in known:
                problems.append(document.problem(path, f"no finish {name!r}", _near(name, known)))
        elif kind == "cable":
            known = [c.id for c in catalogue.cables]
            if name not in known:
                problems.append(document.problem(path, f"no cable {name!r}", _near(name, known)))
        elif kind == "product":
            try:
                product = catalogue.product(name)
            except CatalogError:
                known = [p.id for p in catalogue.products]
                problems.append(document.problem(path, f"no product {name!r}", _near(name, known)))
                continue
            steps = path.split(".")
            if steps[0] != "devices":
                continue
            stated = document.room.devices[steps[1]].kind
            if stated not in product.device_kinds:
                kinds = " or ".join(product.device_kinds)
                problems.append(
                    document.problem(
                        f"devices.{steps[1]}.kind",
                        f"{name} is a {product.kind}, not a {stated}",
                        f"kind: {kinds}, or another product",
                    )
                )
            colour = document.room.devices[steps[1]].colour
            if colour is not None and colour not in product.colours:
                problems.append(
                    document.problem(
                        f"devices.{steps[1]}.colour",
                        f"{name} does not come in {colour}",
                        f"{' or '.join(product.colours) or 'null'}, or another product",
                    )
                )
    wish = document.room.choices.colour
    colours = sorted({colour for product in catalogue.products for colour in product.colours})
    if wish is not None and wish not in colours:
        problems.append(
            document.problem(
                "choices.colour",
                f"no product comes in {wish}",
                _near(wish, colours, "a colour of the catalogue", ", ".join(colours)),
            )
        )
    for code, entry in document.room.targets.house_rules.items():
        known = [*rules(), *HOUSE_LIMITS]
        if code not in known:
            problems.append(
                document.problem(
                    f"targets.house_rules.{code}",
                    f"no rule {code!r}",
                    _near(code, known, "the code of a rule", "see docs/rules.md"),
                )
            )
        elif code in HOUSE_LIMITS and entry.limit is not None:
            unit = HOUSE_LIMITS[code].unit
            low, high = REASONABLE[unit]
            if not low <= entry.limit <= high:
                problems.append(
                    document.problem(
                        f"targets.house_rules.{code}.limit",
                        f"a limit of {entry.limit:g} {unit}".rstrip(),
                        f"{low:g} to {high:g} {unit}".rstrip(),
                    )
                )
    return problems


def _near(
    name: str,
    known: list[str],
    what: str = "an id of the catalogue",
    look: str = "see wellheard catalog list",
) -> str:
    close = difflib.get_close_matches(name, known, n=3, cutoff=0.5)
    if close:
        return f"{what} (did you mean {' or '.join(close)}?)"
    return f"{what}; {look}"
