"""The catalogue: everything that documents may name, looked up by id."""

from __future__ import annotations

import dataclasses
import difflib
import functools
import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias, TypeVar

from wellheard import tables
from wellheard.catalog import finishes as finish_tables
from wellheard.catalog import prices, reading
from wellheard.catalog import treatments as treatment_tables
from wellheard.catalog.finishes import Finish
from wellheard.catalog.products import (
    Accessory,
    Amplifier,
    AnyProduct,
    Cable,
    Extender,
    Fit,
    Loudspeaker,
    Microphone,
    Processor,
    Switch,
)
from wellheard.catalog.treatments import Treatment
from wellheard.errors import CatalogError

Entry = TypeVar("Entry", Finish, Accessory, Cable, AnyProduct)


Space: TypeAlias = Literal["finish", "product", "accessory", "cable"]
"""What ids are unique in."""


@dataclass(frozen=True, slots=True)
class Origin:
    """Where an entry of a user's own stands."""

    space: Space
    id: str
    file: str
    line: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}"


@dataclass(frozen=True)
class Catalogue:
    """Finishes, devices, cables and accessories; never changed.

    Parameters
    ----------
    finishes, microphones, processors, loudspeakers, accessories, amplifiers, switches, extenders,
    cables : tuples
        In the order they are listed to people.
    treatments : tuple of Treatment
        Products whose figures are among the finishes, under the same ids.
    own : tuple of Origin
        Where the entries stand that a user has added; no figure depends on it.

    Raises
    ------
    CatalogError
        Two entries share an id. Products share one space of ids; finishes, cables and
        accessories have their own.

    Examples
    --------
    >>> shipped = Catalogue.shipped()
    >>> shipped.finish("carpet-tile").absorption[3]
    0.2
    >>> shipped.microphone("ceiling-head-3").rated_distances
    (1.5, 3.0, 4.6)
    >>> shipped.product("ceiling-hed-3")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    wellheard.errors.CatalogError: no product 'ceiling-hed-3' in the catalogue; did you mean ...
    """

    finishes: tuple[Finish, ...]
    microphones: tuple[Microphone, ...]
    processors: tuple[Processor, ...]
    loudspeakers: tuple[Loudspeaker, ...]
    accessories: tuple[Accessory, ...]
    amplifiers: tuple[Amplifier, ...] = ()
    switches: tuple[Switch, ...] = ()
    extenders: tuple[Extender, ...] = ()
    cables: tuple[Cable, ...] = ()
    treatments: tuple[Treatment, ...] = ()
    own: tuple[Origin, ...] = field(default=(), repr=False, compare=False)

    def __post_init__(self) -> None:
        for what, entries in (
            ("finish", self.finishes),
            ("product", self.products),
            ("accessory", self.accessories),
            ("cable", self.cables),
        ):
            ids = [entry.id for entry in entries]
            twice = sorted({one for one in ids if ids.count(one) > 1})
            if twice:
                raise CatalogError(f"{what} {', '.join(twice)}: there twice; each id once")

    @staticmethod
    @functools.cache
    def shipped() -> Catalogue:
        """Return the catalogue that comes with the program: published finishes, invented products.

        Raises
        ------
        CatalogError
            A packaged table is damaged.
        """
        try:
            read = reading.from_tables(
                reading.ProductTables(
                    **{
                        field.name: tables.load(field.name)
                        for field in dataclasses.fields(reading.ProductTables)
                    }
                )
            )
            finishes = finish_tables.from_table(tables.load("finishes"))
            treatments = treatment_tables.from_table(tables.load("treatments"))
        except ValueError as error:
            raise CatalogError(f"the shipped catalogue is damaged: {error}") from error
        absorbing = tuple(one.finish for one in treatments)
        return Catalogue(finishes=(*finishes, *absorbing), treatments=treatments, **vars(read))

    @property
    def products(self) -> tuple[AnyProduct, ...]:
        """All devices: microphones, processors, loudspeakers, amplifiers, switches, extenders."""
        return (
            *self.microphones,
            *self.processors,
            *self.loudspeakers,
            *self.amplifiers,
            *self.switches,
            *self.extenders,
        )

    @functools.cached_property
    def hash(self) -> str:
        """SHA-256 of every figure in the catalogue, hexadecimal, for a manifest."""
        figures = dataclasses.asdict(dataclasses.replace(self, own=()))
        del figures["own"]
        content = json.dumps(figures, sort_keys=True, default=str, ensure_ascii=True)
        return hashlib.sha256(content.encode()).hexdigest()

    def origin(self, entry_id: str, space: Space = "product") -> Origin | None:
        """Return where an entry of a user's own stands; None for a shipped one."""
        return self._origins.get((space, entry_id))

    def finish(self, finish_id: str) -> Finish:
        """Return a finish; CatalogError with the nearest ids if there is none."""
        return _look_up(self._finishes, finish_id, "finish")

    def product(self, product_id: str) -> AnyProduct:
        """Return a product of any kind; CatalogError with the nearest ids if there is none."""
        return _look_up(self._products, product_id, "product")

    def microphone(self, product_id: str) -> Microphone:
        """Return a microphone; CatalogError if the id is unknown or names something else."""
        found = self.product(product_id)
        if not isinstance(found, Microphone):
            raise _wrong_kind(found, "microphone")
        return found

    def processor(self, product_id: str) -> Processor:
        """Return a processor; CatalogError if the id is unknown or names something else."""
        found = self.product(product_id)
        if not isinstance(found, Processor):
            raise _wrong_kind(found, "processor")
        return found

    def loudspeaker(self, product_id: str) -> Loudspeaker:
        """Return a loudspeaker; CatalogError if the id is unknown or names something else."""
        found = self.product(product_id)
        if not isinstance(found, Loudspeaker):
            raise _wrong_kind(found, "loudspeaker")
        return found

    def accessory(self, accessory_id: str) -> Accessory:
        """Return an accessory; CatalogError with the nearest ids if there is none."""
        return _look_up(self._accessories, accessory_id, "accessory")

    def cable(self, cable_id: str) -> Cable:
        """Return a cable; CatalogError with the nearest ids if there is none."""
        return _look_up(self._cables, cable_id, "cable")

    def installed_price(
        self,
        product: AnyProduct | str,
        mounting: str,
        drop: float | None = None,
        *,
        fit: Fit | None = None,
    ) -> prices.Price:
        """Return the price of a product as mounted; see `wellheard.catalog.prices`."""
        found = self.product(product) if isinstance(product, str) else product
        return prices.installed_price(found, mounting, drop, accessories=self._accessories, fit=fit)

    def with_entries(
        self,
        *,
        finishes: Iterable[Finish] = (),
        microphones: Iterable[Microphone] = (),
        processors: Iterable[Processor] = (),
        loudspeakers: Iterable[Loudspeaker] = (),
        accessories: Iterable[Accessory] = (),
        amplifiers: Iterable[Amplifier] = (),
        switches: Iterable[Switch] = (),
        extenders: Iterable[Extender] = (),
        cables: Iterable[Cable] = (),
        own: Iterable[Origin] = (),
    ) -> Catalogue:
        """Return a catalogue with further entries after these; ``own`` says where they stand.

        Raises
        ------
        CatalogError
            An id is taken: an entry never silently replaces another. Choose a new id.
        """
        return Catalogue(
            finishes=(*self.finishes, *finishes),
            microphones=(*self.microphones, *microphones),
            processors=(*self.processors, *processors),
            loudspeakers=(*self.loudspeakers, *loudspeakers),
            accessories=(*self.accessories, *accessories),
            amplifiers=(*self.amplifiers, *amplifiers),
            switches=(*self.switches, *switches),
            extenders=(*self.extenders, *extenders),
            cables=(*self.cables, *cables),
            treatments=self.treatments,
            own=(*self.own, *own),
        )

    @functools.cached_property
    def _finishes(self) -> Mapping[str, Finish]:
        return {entry.id: entry for entry in self.finishes}

    @functools.cached_property
    def _products(self) -> Mapping[str, AnyProduct]:
        return {entry.id: entry for entry in self.products}

    @functools.cached_property
    def _origins(self) -> Mapping[tuple[Space, str], Origin]:
        return {(one.space, one.id): one for one in self.own}

    @functools.cached_property
    def _cables(self) -> Mapping[str, Cable]:
        return {entry.id: entry for entry in self.cables}

    @functools.cached_property
    def _accessories(self) -> Mapping[str, Accessory]:
        return {entry.id: entry for entry in self.accessories}


def _look_up(entries: Mapping[str, Entry], wanted: str, what: str) -> Entry:
    if wanted in entries:
        return entries[wanted]
    near = difflib.get_close_matches(wanted, entries, n=3, cutoff=0.6)
    hint = f"did you mean {', '.join(near)}?" if near else f"there are: {', '.join(entries)}"
    raise CatalogError(f"no {what} {wanted!r} in the catalogue; {hint}")


def _wrong_kind(
    found: AnyProduct, wanted: Literal["microphone", "processor", "loudspeaker"]
) -> CatalogError:
    return CatalogError(f"{found.id} is a {found.kind}; a {wanted} is wanted")
