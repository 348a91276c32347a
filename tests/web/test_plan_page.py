"""A floor plan brought in: nothing is written before it is accepted, everything can be settled."""

from __future__ import annotations

import base64
import io
from pathlib import Path
from xml.etree import ElementTree

import pytest
from ezdxf.filemanagement import new as new_drawing
from nicegui.testing import User

from tests.web.hands import HOSTILE, fire, press, tagged, texts, until
from wellheard.room import codec
from wellheard.web.pages.plans import LARGEST
from wellheard.web.workbench import Workbench

OUTLINE = [(0, 0), (6400, 0), (6400, 4600), (0, 4600)]
TABLE = [(1600, 1700), (4800, 1700), (4800, 2900), (1600, 2900)]
NEXT = [(7000, 0), (11000, 0), (11000, 4600), (7000, 4600)]


def drawing(*, unit: int = 4, rooms: int = 1, name: str = "Tide Room", high: str = "") -> bytes:
    """A plan in millimetres: rooms as outlines, a table in the first, luminaires on a layer."""
    made = new_drawing("R2010", units=unit)
    space = made.modelspace()
    for outline in (OUTLINE, NEXT)[:rooms]:
        space.add_lwpolyline(outline, close=True, dxfattribs={"layer": "A-AREA"})
    space.add_lwpolyline(TABLE, close=True, dxfattribs={"layer": "A-FURN-TABL"})
    lamp = [(2600, 2200), (3800, 2200), (3800, 2400), (2600, 2400)]
    space.add_lwpolyline(lamp, close=True, dxfattribs={"layer": "ODD-THINGS"})
    space.add_text(name, height=200, dxfattribs={"insert": (3000, 4000), "layer": "A-AREA-IDEN"})
    if high:
        at = {"insert": (3000, 3600), "layer": "A-AREA-IDEN"}
        space.add_text(high, height=150, dxfattribs=at)
    out = io.StringIO()
    made.write(out)
    return out.getvalue().encode()


def hand_over(
    user: User, raw: bytes, name: str = "level-3.dxf", *, size: int | None = None
) -> None:
    """Choose a file; the browser sends it in two pieces."""
    sent = base64.b64encode(raw).decode()
    half = len(sent) // 8 * 4
    file = next(iter(tagged(user, "input", type="file")))
    for piece, first in ((sent[:half], True), (sent[half:], False)):
        told = {"name": name, "size": size or len(raw), "piece": piece}
        fire(user, file, "change", {**told, "first": first, "last": not first})


def chosen(user: User, label: str, value: str) -> None:
    fire(user, next(iter(tagged(user, "select", **{"aria-label": label}))), "change", value)


def picture(user: User) -> str:
    """Text of the drawing that is shown."""
    (shown,) = tagged(user, "img")
    data = str(shown.props["src"]).removeprefix("data:image/svg+xml;base64,")
    svg = ElementTree.fromstring(base64.b64decode(data))
    return "\n".join(text for text in svg.itertext() if text.strip())


def make(user: User, **typed: str) -> None:
    """Press the button that makes the room; the browser sends what is typed by then."""
    found = [e for e in tagged(user, "button") if getattr(e, "text", "") == "make this room"]
    fire(user, found[0], "click", {"title": "Ebb Room", "height": "2.9", "seats": "6", **typed})


def rooms_of(workbench: Workbench) -> list[Path]:
    return sorted(workbench.shelf.folder.glob("*.room.yaml"))


async def test_empty_it_says_one_sentence_and_offers_one_action(user: User) -> None:
    await user.open("/plan")
    said = texts(user)
    assert "The plan will be shown here. Nothing is written before you accept it." in said
    assert "choose a plan …" in said


async def test_a_plan_is_looked_at_settled_and_made_a_room(
    user: User, workbench: Workbench
) -> None:
    before = rooms_of(workbench)
    await user.open("/plan")
    hand_over(user, drawing())
    await until(lambda: "What becomes of it" in texts(user))
    assert rooms_of(workbench) == before
    assert "Nothing is written yet." in picture(user)
    assert "6.40 m × 4.60 m" in texts(user)
    assert "The plan does not say how high the room is: 2.70 m is taken." in texts(user)
    form = next(e for e in tagged(user, "form") if "plan-form" in e.classes)
    fire(user, form, "submit", {"title": "Ebb Room", "height": "2.9", "seats": "6"})
    await until(lambda: "The plan has no chairs: 6 seats are put round its tables." in texts(user))
    assert rooms_of(workbench) == before
    make(user)
    await until(lambda: len(rooms_of(workbench)) == len(before) + 1)
    (path,) = set(rooms_of(workbench)) - set(before)
    room = codec.read(path)
    assert (room.title, room.space.height, len(room.people.seats)) == ("Ebb Room", 2.9, 6)
    assert "table" in room.furniture


async def test_a_drawing_without_a_unit_is_asked_how_large_it_is(
    user: User, workbench: Workbench
) -> None:
    await user.open("/plan")
    hand_over(user, drawing(unit=0))
    await until(lambda: "The drawing does not say its unit" in texts(user))
    press(user, "6.40 m × 4.60 m, drawn in mm")
    await until(lambda: "What becomes of it" in texts(user))


async def test_of_several_rooms_one_is_chosen(user: User) -> None:
    await user.open("/plan")
    hand_over(user, drawing(rooms=2))
    await until(lambda: "Which room?" in texts(user))
    assert "make this room" not in texts(user)
    second = tagged(user, "input", type="radio")[1]
    fire(user, second, "change")
    await until(lambda: "make this room" in texts(user))
    assert "4.00 m × 4.60 m" in texts(user)


async def test_a_layer_is_set_right_and_the_plan_read_again(user: User) -> None:
    await user.open("/plan")
    hand_over(user, drawing())
    await until(lambda: "What becomes of it" in texts(user))
    chosen(user, "What is on ODD-THINGS", "luminaire")
    await until(lambda: "luminaire" in texts(user))
    await until(lambda: "1 luminaire" in picture(user))


async def test_kinds_of_things_are_left_out_by_a_tick(user: User, workbench: Workbench) -> None:
    before = rooms_of(workbench)
    await user.open("/plan")
    hand_over(user, drawing())
    await until(lambda: "What becomes of it" in texts(user))
    (box,) = tagged(user, "input", type="checkbox")
    fire(user, box, "change")
    make(user)
    await until(lambda: len(rooms_of(workbench)) == len(before) + 1)
    (path,) = set(rooms_of(workbench)) - set(before)
    assert not codec.read(path).furniture


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"", "the file is empty"),
        (b"Dear architect", "neither DXF nor IFC"),
        (drawing()[:4000], "level-3.dxf: "),
    ],
    ids=["empty", "a letter", "cut off"],
)
async def test_what_cannot_be_read_is_told_and_another_can_be_chosen(
    user: User, raw: bytes, said: str
) -> None:
    await user.open("/plan")
    hand_over(user, raw)
    await until(lambda: said in texts(user))
    assert "wellheard-plan-" not in texts(user)  # the path of our own copy is nobody's business
    hand_over(user, drawing())
    await until(lambda: "What becomes of it" in texts(user))


async def test_a_file_beyond_the_limit_is_refused_by_its_size(user: User) -> None:
    await user.open("/plan")
    hand_over(user, drawing(), size=LARGEST + 1)
    await until(lambda: "at most 32 MB" in texts(user))


async def test_names_in_a_plan_are_text_wherever_they_stand(user: User) -> None:
    await user.open("/plan")
    hand_over(user, drawing(name=HOSTILE), HOSTILE)
    await until(lambda: "What becomes of it" in texts(user))
    assert HOSTILE in picture(user) or "<img" in picture(user)
    ElementTree.fromstring(base64.b64decode(str(tagged(user, "img")[0].props["src"]).split(",")[1]))


@pytest.mark.parametrize(
    ("typed", "height", "basis"), [("2.74 m", 2.743, "drawing"), ("2.6", 2.6, "told")]
)
async def test_a_height_left_as_shown_stays_that_of_the_plan_to_the_millimetre(
    user: User, workbench: Workbench, typed: str, height: float, basis: str
) -> None:
    before = set(rooms_of(workbench))
    await user.open("/plan")
    hand_over(user, drawing(high="CH 2743"))
    await until(lambda: "What becomes of it" in texts(user))
    (field,) = [e for e in tagged(user, "input") if e.props.get("name") == "height"]
    assert str(field.props[".value"]).replace("\N{NO-BREAK SPACE}", " ") == "2.74 m"
    make(user, height=str(field.props[".value"]) if typed == "2.74 m" else typed)
    await until(lambda: len(rooms_of(workbench)) == len(before) + 1)
    (path,) = set(rooms_of(workbench)) - before
    room = codec.read(path)
    assert room.space.height == height
    assert room.basis["space.height"] == basis


async def test_a_height_that_is_none_is_said_at_its_field(user: User) -> None:
    await user.open("/plan")
    hand_over(user, drawing())
    await until(lambda: "What becomes of it" in texts(user))
    form = next(e for e in tagged(user, "form") if "plan-form" in e.classes)
    fire(user, form, "submit", {"title": "x", "height": "tall"})
    await until(lambda: "'tall' is no length" in texts(user))
    make(user, height="high")
    await until(lambda: "'high' is no length" in texts(user))
