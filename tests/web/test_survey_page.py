"""The page of a survey: questions with their fields, surfaces with their finishes."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from nicegui import ui
from nicegui.element import Element
from nicegui.testing import User

from tests.web.hands import HOSTILE, LONG, fire, press, tagged, texts, until
from wellheard.web.jobs import Job
from wellheard.web.pages import survey
from wellheard.web.workbench import Workbench
from wellheard.workflow.load import Loaded, load

pytestmark = pytest.mark.usefixtures("few_rays")

ADDRESS = "/rooms/small/survey"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A room of 5 m × 4 m with a window and a hostile name."""
    folder = tmp_path / "rooms"
    folder.mkdir()
    made = folder / "small.room.yaml"
    made.write_text(
        json.dumps(
            {
                "wellheard": 1,
                "title": HOSTILE,
                "project": {"client": HOSTILE},
                "space": {
                    "outline": [[0, 0], [5, 0], [5, 4], [0, 4]],
                    "walls": ["south", "east", "north", "west"],
                    "height": 2.5,
                    "finishes": {
                        "floor": "carpet-tile",
                        "walls": "plasterboard",
                        "patches": {
                            "window": {
                                "wall": "south",
                                "from": 1,
                                "to": 3,
                                "bottom": 1,
                                "top": 2,
                                "finish": "double-glazing",
                            }
                        },
                    },
                },
                "people": {"seats": {"s1": {"at": [2, 1.4]}, "s2": {"at": [2, 2.6]}}},
                "devices": {
                    "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2, 2, 2.1]}
                },
            }
        )
    )
    return made


@pytest.fixture
def workbench(path: Path) -> Iterator[Workbench]:
    """A workbench over its folder."""
    bench = Workbench(path.parent, watch=False)
    yield bench
    bench.close()


@pytest.fixture
def unranked(monkeypatch: pytest.MonkeyPatch) -> None:
    """No process is begun to rank the questions, which these tests do not wait for."""
    monkeypatch.setattr("wellheard.web.pages.survey._Survey._rank", lambda _: None)


def loaded(path: Path) -> Loaded:
    """The document as it is on the disk."""
    return load(path)


def form_of(user: User, kind: str, *, saying: str = "") -> Element:
    """The form of a class, in the question that says this."""
    for form in (e for e in tagged(user, "form") if kind in e.classes):
        slot = form.parent_slot
        around = slot.parent if slot is not None else form
        if any(saying in str(getattr(e, "text", "")) for e in around.descendants()):
            return form
    raise AssertionError(f"no form {kind!r} that says {saying!r}")


@pytest.mark.usefixtures("unranked")
async def test_surfaces_have_their_areas_finishes_and_how_they_are_known(user: User) -> None:
    await user.open(ADDRESS)
    said = texts(user)
    # 5 m × 4 m; the south wall of 5 m × 2.5 m less a window of 2 m × 1 m is 10.5 m².
    for words in ("20.0\u00a0m²", "10.5\u00a0m²", "2.0\u00a0m²", "window, on the south wall"):
        assert words in said
    assert "Carpet tile" in said
    assert "nobody has told" in said  # the ceiling


async def test_questions_are_there_at_once_and_ranked_when_the_prediction_is_done(
    user: User,
) -> None:
    await user.open(ADDRESS)
    await user.should_see("In which country and town is the building?")
    await user.should_see("that move the worst place", retries=10 * LONG)
    await user.should_see("Reckoned with the one microphone of the document", retries=LONG)
    await user.should_see("How loud is the empty room", retries=LONG)


async def test_an_answer_is_kept_with_how_it_is_known(user: User, path: Path) -> None:
    await user.open(ADDRESS)
    await user.should_see("that move the worst place", retries=10 * LONG)
    form = form_of(user, "answer", saying="How high is the ceiling above the floor?")
    fire(user, form, "submit", {"value": "9 ft", "basis": "measured"})
    await until(lambda: loaded(path).room.basis.get("space.height") == "measured")
    assert loaded(path).room.space.height == pytest.approx(2.7432, abs=1e-9)


@pytest.mark.usefixtures("unranked")
@pytest.mark.parametrize(
    ("asked", "typed", "said"),
    [
        ("In which country", {"value": " "}, "nothing is here"),
        ("carry return air", {"value": "perhaps", "basis": "told"}, "yes or no"),
        ("carry return air", {"value": "yes", "basis": "a dream"}, "how is it known?"),
        ("What may it cost", {"value": "much"}, "'much' is no number"),
    ],
)
async def test_what_is_no_answer_is_said_at_the_question(
    user: User, path: Path, asked: str, typed: dict[str, str], said: str
) -> None:
    before = path.read_text()
    await user.open(ADDRESS)
    fire(user, form_of(user, "answer", saying=asked), "submit", typed)
    await user.should_see(said, retries=LONG)
    assert path.read_text() == before


@pytest.mark.usefixtures("unranked")
async def test_a_choice_shows_what_it_does_and_is_kept(user: User, path: Path) -> None:
    await user.open(ADDRESS)
    choices = [e for e in tagged(user, "button") if "choice" in e.classes]
    heavy = next(
        e
        for e in choices
        if any(getattr(d, "text", "") == "Heavy carpet on concrete" for d in e.descendants())
    )
    fire(user, heavy, "click")
    await user.should_see("mean of 500\u00a0Hz and 1\u00a0kHz", retries=5 * LONG)
    assert user.client is not None
    drawn = [e.content for e in user.client.elements.values() if isinstance(e, ui.html)]
    assert any("now: Carpet tile" in text for text in drawn)
    fire(user, form_of(user, "use"), "submit", {"basis": "measured"})
    key = "space.finishes.floor"
    await until(lambda: loaded(path).room.basis.get(key) == "measured")
    assert loaded(path).room.space.finishes.floor == "carpet-heavy-on-concrete"


@pytest.mark.usefixtures("unranked")
async def test_one_wall_differs_from_the_others_when_it_is_told(user: User, path: Path) -> None:
    await user.open(ADDRESS)
    press(user, "east wall")
    await user.should_see("10.0\u00a0m² · ", retries=LONG)
    octaves = form_of(user, "octaves")
    figures = ("0.1", "0.2", "0.3", "0.4", "0.5", "0.6", "0.7")
    bands = ("125", "250", "500", "1000", "2000", "4000", "8000")
    fire(user, octaves, "submit", dict(zip(bands, figures, strict=True)))
    await user.should_see("mean of 500\u00a0Hz and 1\u00a0kHz", retries=5 * LONG)
    fire(user, form_of(user, "use"), "submit", {"basis": "drawing"})
    await until(lambda: "space.finishes.walls.east" in loaded(path).room.basis)
    room = loaded(path).room
    east = room.space.wall_finish("east")
    assert not isinstance(east, str)
    assert east.absorption == (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7)
    assert room.space.wall_finish("west") == "plasterboard"


@pytest.mark.usefixtures("unranked")
async def test_absorption_that_cannot_be_is_refused_by_octave(user: User, path: Path) -> None:
    before = path.read_text()
    await user.open(ADDRESS)
    bands = ("125", "250", "500", "1000", "2000", "4000", "8000")
    typed = {**dict.fromkeys(bands, "0.5"), "500": "1.3", "8000": "soft"}
    fire(user, form_of(user, "octaves"), "submit", typed)
    await user.should_see("1.3 at 500 Hz; 0 to 1.2 is allowed", retries=LONG)
    await user.should_see("'soft' is no number at 8k Hz; 0 to 1.2 is allowed")
    wrong = {e.props["name"] for e in tagged(user, "input", **{"aria-invalid": "true"})}
    assert wrong == {"500", "8000"}
    assert path.read_text() == before


@pytest.mark.usefixtures("unranked")
async def test_names_are_shown_as_text(user: User) -> None:
    await user.open(ADDRESS)
    await user.should_see(HOSTILE)
    assert user.client is not None
    markup = [e.content for e in user.client.elements.values() if isinstance(e, ui.html)]
    assert not [text for text in markup if "onerror" in text or "{{" in text]


async def test_the_ranking_of_what_has_changed_is_ended(
    user: User, workbench: Workbench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(survey, "SETTLED", 0.0)
    monkeypatch.setattr(survey, "RANKING", "tests.web.slow_work:patient")
    await user.open(ADDRESS)
    desk = workbench.desk(workbench.shelf.rooms()[0].key)
    first = desk.state.version

    def ranking(version: int) -> Job | None:
        return workbench.jobs.last(survey.RANKING, f"{desk.key}@{version}")

    await until(lambda: ranking(first) is not None)
    old = ranking(first)
    second = desk.commit(
        [{"path": "space.height", "set": 2.6}], base=first, key="lower", what="lower", unit="m"
    ).state.version
    await until(lambda: ranking(second) is not None)
    assert old is not None
    assert old.state == "cancelled"


async def test_a_room_that_is_not_there_is_said(user: User) -> None:
    answer = await user.http_client.get("/rooms/nowhere/survey")
    assert answer.status_code == 404
    assert "There is nothing at this address." in answer.text
