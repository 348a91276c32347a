"""Answers to questions: each becomes a change that the document takes, or is refused in words."""

from __future__ import annotations

import json

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.room import codec
from wellheard.room.operations import apply
from wellheard.workflow import answering, finishing
from wellheard.workflow.answering import Answerable
from wellheard.workflow.load import Loaded

BASES = (("told", "told"), ("measured", "measured"))


def loaded(**changed: object) -> Loaded:
    """A room of 5 m × 4 m × 2.5 m with one seat."""
    data: dict[str, object] = {
        "wellheard": 1,
        "space": {
            "outline": [[0, 0], [5, 0], [5, 4], [0, 4]],
            "walls": ["south", "east", "north", "west"],
            "height": 2.5,
        },
        "people": {"seats": {"s1": {"at": [2, 1.4]}}},
    }
    text = json.dumps({**data, **changed})
    return Loaded(codec.parse_document(text, name="a.room.yaml"), Catalogue.shipped())


@pytest.mark.parametrize(
    ("field", "typed", "path", "value"),
    [
        (Answerable("space.height", "length", "", bases=BASES), "9 ft", "space.height", 2.7432),
        (
            Answerable("people.occupancy", "percent", "", bases=BASES),
            "70 %",
            "people.occupancy",
            0.7,
        ),
        (
            Answerable("space.ceiling.kind", "choice", "", options=(("hard", "h"),)),
            "hard",
            "space.ceiling.kind",
            "hard",
        ),
        (
            Answerable("choices.new_holes", "toggle", "", options=(("no", "no"),)),
            "no",
            "choices.new_holes",
            False,
        ),
        (Answerable("targets.price", "number", ""), "4200", "targets.price", 4200.0),
        (Answerable("site.region", "text", ""), "north", "site.region", "north"),
    ],
)
def test_an_answer_is_a_change_that_the_document_takes(
    field: Answerable, typed: str, path: str, value: object
) -> None:
    room = loaded().room
    changes = answering.operations(field, {"value": typed, "basis": "measured"})
    after = apply(room, changes, unit="m").room
    found: object = after
    for step in path.split("."):
        found = getattr(found, step)
    assert found == (pytest.approx(value) if isinstance(value, float) else value)
    assert after.basis.get(path) == ("measured" if field.bases else None)


@pytest.mark.parametrize(("part", "name"), [("nc", "nc"), ("dba", "dba"), ("odd", "nc")])
def test_a_noise_is_answered_in_the_form_that_is_chosen(part: str, name: str) -> None:
    field = Answerable("noise.background", "noise", "", options=(("nc", "NC"), ("dba", "dBA")))
    changes = answering.operations(field, {"value": "34", "part": part})
    background = apply(loaded().room, changes, unit="m").room.noise.background
    assert getattr(background, name) == 34.0


def test_a_source_is_known_as_a_whole() -> None:
    field = Answerable("noise.sources.vent.dba_at_1m", "number", "", bases=BASES)
    changes = answering.operations(field, {"value": "31", "basis": "measured"})
    assert changes[1] == {"path": "basis.noise.sources.vent", "set": "measured"}


@pytest.mark.parametrize("text", ["", "  ", "loud", "nan", "1e99", "3,5"])
def test_what_is_no_number_is_refused_in_words(text: str) -> None:
    with pytest.raises(ValueError, match=r"nothing is here|is no number"):
        answering.operations(Answerable("targets.price", "number", ""), {"value": text})


def test_every_question_of_an_empty_document_can_be_shown() -> None:
    shown = answering.unranked(loaded().room, unit="ft")
    assert [one.rank for one in shown] == list(range(1, len(shown) + 1))
    assert {one.field.path for one in shown if one.field} >= {"site.region", "targets.price"}


# Surfaces ----------------------------------------------------------------------------------------


def test_areas_are_those_of_the_plan_less_what_covers_them() -> None:
    patch = {"wall": "south", "from": 1, "to": 3, "bottom": 1, "top": 2, "finish": "curtain"}
    space = {
        "outline": [[0, 0], [5, 0], [5, 4], [0, 4]],
        "walls": ["south", "east", "north", "west"],
        "height": 2.5,
        "finishes": {"patches": {"curtain": patch}},
        # A column of 0.5 m × 0.5 m up to the ceiling takes its foot from floor and ceiling.
        "obstacles": {"column": {"outline": [[1, 1], [1.5, 1], [1.5, 1.5], [1, 1.5]]}},
    }
    rows = {one.name: one.area for one in finishing.surface_rows(loaded(space=space))}
    by_hand = {
        "floor": 20 - 0.25,
        "ceiling": 20 - 0.25,
        "south wall": 12.5 - 2,
        "east wall": 10.0,
        "north wall": 12.5,
        "west wall": 10.0,
        "window curtain, on the south wall": 2.0,
        "column": 4 * 0.5 * 2.5,
    }
    assert rows == pytest.approx(by_hand)


def test_a_wall_is_known_as_the_one_finish_of_all_walls_is() -> None:
    space = {
        "outline": [[0, 0], [5, 0], [5, 4], [0, 4]],
        "height": 2.5,
        "finishes": {"walls": "concrete"},
    }
    measured = loaded(space=space, basis={"space.finishes.walls": "measured"})
    rows = [one for one in finishing.surface_rows(measured) if "wall" in one.name]
    assert {one.said for one in rows} == {"measured"}


def test_more_absorption_never_lengthens_the_decay() -> None:
    room = loaded()
    change = finishing.operations("space.finishes.floor", (0.9,) * 7, "told")
    found = finishing.effect(room, change, unit="m")
    assert all(after < before for before, after in zip(found.before, found.after, strict=True))


def test_a_measured_decay_stands_and_that_is_said() -> None:
    space = {
        "outline": [[0, 0], [5, 0], [5, 4], [0, 4]],
        "height": 2.5,
        "measured_reverberation": [0.5] * 7,
    }
    change = finishing.operations("space.finishes.floor", "concrete-floor", "told")
    found = finishing.effect(loaded(space=space), change, unit="m")
    assert found.before == found.after == (0.5,) * 7
    assert found.note == finishing.MEASURED


@pytest.mark.parametrize("word", ["carpet", "CARPET heavy", "plasterboard ceiling"])
def test_choices_have_every_word_and_are_finishes_of_surfaces(word: str) -> None:
    found = finishing.choices(Catalogue.shipped(), word)
    assert found
    for one in found:
        finish = Catalogue.shipped().finish(one.id)
        assert not finish.per_item
        text = f"{one.id} {one.name} {one.note}".casefold()
        assert all(part in text for part in word.casefold().split())


def test_the_source_of_each_choice_is_told() -> None:
    assert all(one.source and one.trust for one in finishing.choices(Catalogue.shipped()))
