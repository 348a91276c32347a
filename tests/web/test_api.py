"""What the scripts of a page ask for and send: forms of answers, and that errors have one form."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import httpx
import pytest

from wellheard.room import codec
from wellheard.web.pages.design import PALETTE
from wellheard.web.workbench import Workbench
from wellheard.workflow import tasks

ROOM = "/api/rooms/ten-seats"


async def _commit(
    client: httpx.AsyncClient, *operations: dict[str, Any], base: int, key: str = "key-00000001"
) -> httpx.Response:
    body = {"base": base, "key": key, "what": "an edit", "operations": list(operations)}
    return await client.post(f"{ROOM}/commit", json=body)


async def _version(client: httpx.AsyncClient) -> int:
    return int((await client.get(f"{ROOM}/plan")).json()["version"])


async def test_a_plan_has_every_seat_of_the_document(
    client: httpx.AsyncClient, workbench: Workbench
) -> None:
    plan = (await client.get(f"{ROOM}/plan?unit=ft")).json()
    room = codec.read(workbench.desk("ten-seats").path)
    assert [s["id"] for s in plan["seats"]] == list(room.people.seats)
    assert plan["undo"] == ""


async def test_a_commit_is_in_the_file_when_it_is_answered(
    client: httpx.AsyncClient, workbench: Workbench
) -> None:
    base = await _version(client)
    answer = await _commit(client, {"path": "people.seats.s1.at", "set": [1.5, 1.25]}, base=base)
    assert answer.status_code == 200, answer.text
    assert answer.json()["version"] > base
    room = codec.read(workbench.desk("ten-seats").path)
    assert room.people.seats["s1"].at == pytest.approx((1.5, 1.25))


async def test_the_same_commit_sent_twice_is_one(client: httpx.AsyncClient) -> None:
    base = await _version(client)
    add = {"do": "add", "kind": "seat", "at": [1.0, 0.5]}
    first = (await _commit(client, add, base=base)).json()
    second = (await _commit(client, add, base=base)).json()
    assert (second["version"], second["created"]) == (first["version"], first["created"])
    seats = (await client.get(f"{ROOM}/plan")).json()["seats"]
    assert len({s["id"] for s in seats}) == len(seats)
    assert [s["path"] for s in seats].count(first["created"][0]) == 1


async def test_undo_gives_back_the_very_text(
    client: httpx.AsyncClient, workbench: Workbench
) -> None:
    path = workbench.desk("ten-seats").path
    before = path.read_bytes()
    await _commit(
        client, {"do": "remove", "items": ["people.seats.s2"]}, base=await _version(client)
    )
    assert path.read_bytes() != before
    undone = await client.post(f"{ROOM}/undo", json={"key": "key-undo-1"})
    assert undone.status_code == 200
    assert path.read_bytes() == before
    await client.post(f"{ROOM}/redo", json={"key": "key-redo-1"})
    assert "s2:" not in path.read_text("utf-8")


async def test_two_hands_on_two_things_are_both_kept(client: httpx.AsyncClient) -> None:
    base = await _version(client)
    await _commit(client, {"path": "people.seats.s1.at", "set": [1.5, 1.25]}, base=base)
    other = await _commit(
        client, {"path": "people.seats.s2.at", "set": [2.5, 1.25]}, base=base, key="key-00000002"
    )
    assert other.json()["merged"] is True
    seats = {s["id"]: s["at"] for s in (await client.get(f"{ROOM}/plan")).json()["seats"]}
    assert (seats["s1"], seats["s2"]) == ([1.5, 1.25], [2.5, 1.25])


async def test_two_hands_on_one_thing_are_shown_to_each_other(client: httpx.AsyncClient) -> None:
    base = await _version(client)
    await _commit(client, {"path": "people.seats.s1.at", "set": [1.5, 1.25]}, base=base)
    other = await _commit(
        client, {"path": "people.seats.s1.at", "set": [2.5, 1.0]}, base=base, key="key-00000002"
    )
    assert other.status_code == 409
    (clash,) = other.json()["clashes"]
    assert clash["path"] == "people.seats.s1.at"
    assert "" not in (clash["yours"], clash["theirs"])
    assert clash["yours"] != clash["theirs"]
    seats = {s["id"]: s["at"] for s in (await client.get(f"{ROOM}/plan")).json()["seats"]}
    assert seats["s1"] == [1.5, 1.25]


async def test_an_edit_that_makes_no_valid_room_writes_nothing(
    client: httpx.AsyncClient, workbench: Workbench
) -> None:
    before = workbench.desk("ten-seats").path.read_bytes()
    answer = await _commit(
        client,
        {"path": "people.seats.s1.at", "set": [99.0, 99.0]},
        base=await _version(client),
    )
    assert answer.status_code == 422
    assert answer.json()["error"] == "refused"
    assert any("s1" in p["where"] for p in answer.json()["problems"])
    assert workbench.desk("ten-seats").path.read_bytes() == before


BODIES = [
    ({}, 400),
    ([], 400),
    ({"base": 1, "key": "k", "operations": [{"path": "title", "set": "x"}]}, 400),
    ({"base": -1, "key": "key-00000001", "operations": [{"path": "title", "set": "x"}]}, 400),
    ({"base": 1, "key": "key-00000001", "operations": []}, 400),
    ({"base": 1, "key": "key-00000001", "operations": [{"do": "explode"}]}, 422),
    ({"base": 1, "key": "key-00000001", "operations": [{"path": "__class__", "set": 1}]}, 422),
    ({"base": 1, "key": "key-00000001", "operations": [{"path": "a." * 500, "set": 1}]}, 422),
    ({"base": 1, "key": "key-00000001", "operations": [{"path": "title", "set": 1e999}]}, 422),
    ({"base": 1, "key": "../../../../x", "operations": [{"path": "title", "set": "x"}]}, 400),
]


@pytest.mark.parametrize(("body", "status"), BODIES)
async def test_what_is_no_commit_is_said_so_in_one_form(
    client: httpx.AsyncClient, body: Any, status: int
) -> None:
    text = json.dumps(body)
    answer = await client.post(
        f"{ROOM}/commit", content=text, headers={"content-type": "application/json"}
    )
    assert answer.status_code == status, answer.text
    assert {"error", "message"} <= set(answer.json())
    assert "Traceback" not in answer.text


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", ""])
async def test_only_json_that_says_so_is_read(client: httpx.AsyncClient, kind: str) -> None:
    answer = await client.post(
        f"{ROOM}/commit", content='{"base": 1}', headers={"content-type": kind}
    )
    assert answer.status_code in (400, 415, 422)


@pytest.mark.parametrize(
    "room", ["nothing", "..%2F..%2Fetc%2Fpasswd", "%00", "a" * 3000, "{{7*7}}"]
)
async def test_a_room_that_is_not_there_is_not_there(client: httpx.AsyncClient, room: str) -> None:
    answer = await client.get(f"/api/rooms/{room}/plan")
    assert answer.status_code == 404


@pytest.mark.parametrize(
    "asked", ["plan?unit=inch", "figures?worst=perhaps", "section.svg?theme=mauve"]
)
async def test_a_parameter_that_is_none_is_told_in_the_form_of_all_errors(
    client: httpx.AsyncClient, asked: str
) -> None:
    answer = await client.get(f"{ROOM}/{asked}")
    assert answer.status_code == 400
    assert set(answer.json()) == {"error", "message"}
    assert asked.partition("?")[2].partition("=")[0] in answer.json()["message"]


@pytest.mark.parametrize("rest", [False, True])
@pytest.mark.parametrize("at", ["[1e308, 1]", "[NaN, 1]", '{"by": [0, -Infinity]}'])
async def test_a_move_to_no_place_is_refused(
    client: httpx.AsyncClient, at: str, rest: bool
) -> None:
    body = f'{{"seq": 1, "moves": {{"people.seats.s1": {at}}}, "rest": {str(rest).lower()}}}'
    headers = {"content-type": "application/json"}
    answer = await client.post(f"{ROOM}/live", content=body, headers=headers)
    assert answer.status_code == 400, answer.text
    assert answer.json()["error"] == "not-understood"


async def test_an_error_of_ours_is_told_as_one_and_in_one_line(
    client: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("of nothing")

    monkeypatch.setattr("wellheard.web.api.planmodel.plan", broken)
    answer = await client.get(f"{ROOM}/plan")
    assert answer.status_code == 500
    assert answer.json() == {
        "error": "own-fault",
        "message": "an error of Wellheard itself (ZeroDivisionError: of nothing)",
    }


async def test_figures_of_a_room_without_microphones_say_why_there_are_none(
    client: httpx.AsyncClient,
) -> None:
    figures = (await client.get(f"{ROOM}/figures")).json()
    assert figures["map"] is None
    assert figures["map_words"]
    assert {row["state"] for row in figures["ledger"]["rows"]} == {"not assessed"}
    assert all(row["why"] for row in figures["ledger"]["rows"])


async def test_figures_agree_with_the_command_line(
    client: httpx.AsyncClient, workbench: Workbench
) -> None:
    from wellheard.workflow.design import predict
    from wellheard.workflow.load import load

    await _commit(
        client,
        {"do": "add", "kind": "microphone", "at": [3.0, 2.0], "product": "ceiling-head-3"},
        base=await _version(client),
    )
    figures = (await client.get(f"{ROOM}/figures")).json()
    judged = predict(load(workbench.desk("ten-seats").path))
    printed = {row["id"]: row["sti"] for row in figures["ledger"]["rows"]}
    assert printed == {row.talker.id: f"{row.path.sti:.2f}" for row in judged.evidence.outbound}
    assert figures["map"]["target"] == judged.evidence.room.targets.sti_outbound


async def test_a_drag_is_answered_and_changes_nothing(
    client: httpx.AsyncClient, workbench: Workbench
) -> None:
    created = (
        await _commit(
            client,
            {"do": "add", "kind": "microphone", "at": [3.0, 2.0], "product": "ceiling-head-3"},
            base=await _version(client),
        )
    ).json()["created"]
    before = workbench.desk("ten-seats").path.read_bytes()
    plan = (await client.get(f"{ROOM}/plan")).json()
    z = plan["devices"][0]["at"][2]
    body = {"seq": 7, "moves": {created[0]: [1.5, 1.0, z]}}
    answer = (await client.post(f"{ROOM}/live", json=body)).json()
    assert answer["seq"] == 7
    assert answer["map"]["bands"]
    resting = (await client.post(f"{ROOM}/live", json={**body, "rest": True})).json()
    assert {r["id"]: r["sti"] for r in answer["rows"]} == {
        r["id"]: r["sti"] for r in resting["ledger"]["rows"]
    }
    assert workbench.desk("ten-seats").path.read_bytes() == before


async def test_symbols_are_those_of_the_drawings(client: httpx.AsyncClient) -> None:
    from wellheard.drawings.symbols import library

    served = (await client.get("/static/symbols.json")).json()
    assert set(served) == set(library())
    assert {symbol for _, _, symbol in PALETTE} <= set(served)


async def test_fonts_and_styles_are_served_from_here(client: httpx.AsyncClient) -> None:
    for name in ("fonts/Barlow-Regular.woff2", "tokens.css", "sheet.css", "js/desk.js"):
        assert (await client.get(f"/static/{name}")).status_code == 200, name
    assert (await client.get("/static/../app.py")).status_code == 404
    assert (
        "http"
        not in (Path(__file__).parents[2] / "src/wellheard/web/static/tokens.css").read_text()
    )


async def test_the_wiring_has_a_picture_and_names_the_version_it_is_of(
    client: httpx.AsyncClient,
) -> None:
    wiring = (await client.get(f"{ROOM}/wiring?unit=ft")).json()
    assert wiring["version"] == await _version(client)
    assert wiring["diagram"]["boxes"]
    drawn = await client.get(f"{ROOM}/wiring.svg?unit=ft&theme=slate")
    assert drawn.headers["content-type"] == "image/svg+xml"
    assert drawn.text.startswith("<svg")
    assert (await client.get(f"{ROOM}/wiring.svg?theme=pink")).status_code == 400


async def test_an_exact_edit_is_refused_on_any_other_text_and_answered_twice_alike(
    client: httpx.AsyncClient,
) -> None:
    base = await _version(client)
    other = {"path": "title", "set": "Changed meanwhile"}
    exact = {
        "base": base,
        "key": "key-exact-1",
        "what": "a tried change",
        "operations": [{"path": "people.seats.s1.facing", "set": 90}],
        "exact": True,
    }
    first = await client.post(f"{ROOM}/commit", json=exact)
    assert first.status_code == 200
    assert (await _commit(client, other, base=base, key="key-other-1")).status_code == 200
    # Sent again under its key after a lost answer, it was taken and stays so.
    assert (await client.post(f"{ROOM}/commit", json=exact)).status_code == 200
    again = await client.post(f"{ROOM}/commit", json={**exact, "key": "key-exact-2"})
    assert again.status_code == 422
    assert "has changed since this was tried" in again.json()["message"]


async def test_changes_are_tried_for_the_text_that_is_there_now(
    client: httpx.AsyncClient, workbench: Workbench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tasks, "REMEDY", "tests.web.slow_work:patient")
    first = (await client.get(f"{ROOM}/remedies")).json()
    assert (first["state"], first["rows"]) == ("trying", [])
    assert first["version"] == await _version(client)
    job = workbench.jobs.last(tasks.REMEDY, "ten-seats")
    assert job is not None
    assert (await client.get(f"{ROOM}/remedies")).json()["state"] == "trying"
    assert workbench.jobs.last(tasks.REMEDY, "ten-seats") is job
    edit = {"path": "title", "set": "Another text"}
    await _commit(client, edit, base=first["version"], key="key-title-1")
    second = (await client.get(f"{ROOM}/remedies")).json()
    assert second["version"] > first["version"]
    assert job.state == "cancelled"
    assert workbench.jobs.last(tasks.REMEDY, "ten-seats") is not job
