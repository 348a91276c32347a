from __future__ import annotations

import pytest

from wellheard.errors import (
    CatalogError,
    DocumentError,
    InputError,
    Problem,
    UsageError,
    WellheardError,
)


def test_everything_raised_on_purpose_has_one_base() -> None:
    assert issubclass(DocumentError, InputError)
    assert issubclass(CatalogError, InputError)
    for kind in (InputError, UsageError):
        assert issubclass(kind, WellheardError)
    assert not issubclass(UsageError, InputError)


def test_a_document_error_says_every_problem_on_a_line_of_its_own() -> None:
    first = Problem("a.room.yaml", 2, 1, "titel", "unknown field", "did you mean title?")
    second = Problem("a.room.yaml", 4, 9, "", "a second document begins", "one document")
    error = DocumentError(iter([first, second]))
    assert error.problems == (first, second)
    assert str(error).splitlines() == [
        "a.room.yaml:2:1: titel: unknown field; did you mean title?",
        "a.room.yaml:4:9: a second document begins; one document",
    ]


def test_a_problem_without_a_line_is_said_without_one() -> None:
    assert str(Problem("<data>", 0, 0, "units", "found 'yd'", "m or ft")) == (
        "<data>: units: found 'yd'; m or ft"
    )


def test_an_input_error_may_carry_problems_too() -> None:
    problem = Problem("x.csv", 3, 0, "price", "'cheap' is no number", "a number")
    with pytest.raises(InputError) as caught:
        raise CatalogError("x.csv: one row cannot be read", [problem])
    assert caught.value.problems == (problem,)
