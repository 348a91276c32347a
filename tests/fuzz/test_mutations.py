"""Whatever is done to a document, a table or a length: it is read, or said to be wrong.

``make fuzz`` tries 10,000 mutations of documents and a tenth as many of everything else, other
ones each time; here it is the same few.
"""

from __future__ import annotations

import math
import re
import runpy
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.entries import parse_entries
from wellheard.errors import CatalogError, DocumentError, InputError, Problem, WellheardError
from wellheard.forms.source import read_source
from wellheard.room import codec
from wellheard.room.devices import Device
from wellheard.room.edit import with_devices
from wellheard.units import format_length, parse_length
from wellheard.workflow.design import predict
from wellheard.workflow.load import Loaded, unresolved

MUTATIONS = runpy.run_path(str(Path(__file__).with_name("mutations.py")))
bounded: Callable[[], AbstractContextManager[None]] = MUTATIONS["bounded"]
mutants: Callable[..., st.SearchStrategy[bytes]] = MUTATIONS["mutants"]
tried: Callable[..., settings] = MUTATIONS["tried"]
CATALOGUE = Catalogue.shipped()
TEXTS = [path.read_text("utf-8") for path in MUTATIONS["EXAMPLES"]]
DOCUMENTS = mutants(TEXTS, lambda text: codec.parse_document(text).source.data)


OBEYED = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")


def told(problems: tuple[Problem, ...], *, name: str) -> None:
    """Every problem has a place, says something, and is one line."""
    assert problems
    for problem in problems:
        assert problem.file == name
        assert problem.line >= 1
        assert problem.column >= 1
        assert problem.what.strip()
        assert problem.allowed.strip()
        assert not OBEYED.search(str(problem))
        assert len(str(problem)) < 2500


@tried()
@given(DOCUMENTS)
def test_a_spoilt_document_is_read_or_every_problem_has_its_place(raw: bytes) -> None:
    with bounded():
        try:
            document = codec.parse_document(raw, name="mutant")
        except DocumentError as error:
            told(error.problems, name="mutant")
            return
        room = document.room
        assert codec.parse_data(codec.dump(room)) == room
        codec.edit(document, room)
        assert not room.model_dump_json().count("NaN")


@tried(0.1)
@given(DOCUMENTS)
def test_what_reads_is_predicted_or_refused_in_words(raw: bytes) -> None:
    with bounded():
        try:
            document = codec.parse_document(raw, name="mutant")
        except DocumentError:
            assume(False)
        problems = unresolved(document, CATALOGUE)
        if problems:
            told(tuple(problems), name="mutant")
            return
        try:
            judged = predict(Loaded(document, CATALOGUE))
        except WellheardError:
            return
    for row in judged.evidence.outbound:
        assert all(math.isfinite(q.value) for q in row.quantities)


@tried(0.1)
@given(DOCUMENTS, st.sampled_from(["m1", "mic-9", "0"]), st.floats(0, 5, allow_nan=False))
def test_an_edit_of_what_reads_keeps_every_comment_and_reads_back(
    raw: bytes, name: str, height: float
) -> None:
    try:
        document = codec.parse_document(raw, name="mutant")
    except DocumentError:
        assume(False)
    device = Device(kind="microphone", product="ceiling-head-3", at=(1.0, 1.0, height))
    room = with_devices(document.room, {name: device})
    with bounded():
        try:
            text = codec.edit(document, room)
        except InputError:
            return  # it says so, and leaves the text alone
    assert codec.parse_data(text) == room
    kept = [line.strip() for line in document.text.splitlines() if line.lstrip().startswith("#")]
    for comment in kept:
        assert comment in text


LENGTHS = st.text("0123456789.,-–−+ '\"′″½¼ftincm/eE\u00a0٣", max_size=16) | st.text(max_size=20)


@tried(0.5)
@given(
    LENGTHS | st.floats() | st.integers() | st.booleans() | st.none(),
    st.sampled_from(["m", "ft"]),
)
@example("9" * 40 + " m", "m")
@example("1/0 in", "m")
def test_a_length_is_read_finite_or_refused_in_words(value: Any, unit: Any) -> None:
    try:
        metres = parse_length(value, unit=unit)
    except ValueError as error:
        what, separator, allowed = str(error).partition("; ")
        assert what.strip()
        assert separator
        assert allowed.strip()
        return
    assert math.isfinite(metres)
    assert not math.isinf(float(f"{metres:g}"))
    assert format_length(metres, unit=unit)


PRODUCTS = [path.read_text("utf-8") for path in MUTATIONS["PRODUCTS"] if path.suffix == ".yaml"]


@tried(0.2)
@given(mutants(PRODUCTS, lambda text: read_source(text, name="", wanted="", levels=9)[0].data))
def test_a_spoilt_file_of_products_is_read_or_every_problem_has_its_place(raw: bytes) -> None:
    with bounded():
        try:
            parse_entries(raw, name="mutant.products.yaml")
        except CatalogError as error:
            told(error.problems, name="mutant.products.yaml")
