"""The workbench itself under attack: nothing beside it is reached, and nothing is left."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.browser.server import Server, started
from tests.web.attacks import ATTACKS, attack_bytes
from tests.web.wire import Served

EXAMPLES = Path(__file__).parents[2] / "examples"
ROOM = "ten-seats"
BEYOND = [
    ("GET /api/rooms/.wellheard/plan", 404),
    ("GET /api/rooms/.wellheard%2Fsession/plan", 400),
    ("GET /api/rooms/session/plan", 404),
    ("GET /static/app.py", 404),
    ("GET /static/js", 404),
    ("GET /_nicegui/3.18.0/resources/wellheard/guard.py", 404),
    ("GET /_nicegui/3.18.0/esm/wellheard/guard.py", 404),
    ("GET /docs", 404),
    ("GET /openapi.json", 404),
    (f"GET /api/rooms/{ROOM}/commit", 404),
]
"""What is asked of the workbench by somebody who is signed in, and is not there."""


@dataclass(frozen=True)
class Real:
    """The workbench in a process of its own, with a browser signed in."""

    server: Server
    served: Served
    cookie: str
    token: str


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Real]:
    """The workbench that ``wellheard serve`` serves, over two rooms."""
    folder = tmp_path_factory.mktemp("real") / "rooms"
    folder.mkdir()
    for name in (ROOM, "huddle-four"):
        shutil.copy(EXAMPLES / name / f"{name}.room.yaml", folder)
    with started(folder) as server:
        token = server.address.partition("token=")[2]
        over = Served(server.port, None, None)
        yield Real(server, over, over.cookie(token), token)


@pytest.fixture
def unharmed(real: Real) -> Iterator[None]:
    """No room is changed, added or taken away."""
    before = {p.name: p.read_bytes() for p in real.server.folder.glob("*.yaml")}
    yield
    assert {p.name: p.read_bytes() for p in real.server.folder.glob("*.yaml")} == before


@pytest.mark.usefixtures("unharmed")
@pytest.mark.parametrize(
    "attack", [a for a in ATTACKS if a["status"] != [408]], ids=lambda a: a["name"]
)
def test_the_workbench_itself_refuses_the_attack(real: Real, attack: dict[str, Any]) -> None:
    # Those that only wait until they are cut off wait longer here, and are left to the witness.
    asked = {
        **attack,
        "send": [line.replace("/rooms/a/", f"/rooms/{ROOM}/") for line in attack["send"]],
    }
    if "chunks" in attack:
        asked["chunks"] = 10 * attack["chunks"]
    answer = real.served.send(attack_bytes(asked, real.server.port, real.cookie, real.token))
    assert answer.status in attack["status"], answer.raw[:300]


@pytest.mark.usefixtures("unharmed")
@pytest.mark.parametrize(("start", "status"), BEYOND, ids=lambda v: str(v))
def test_who_is_signed_in_reaches_nothing_beside_the_workbench(
    real: Real, start: str, status: int
) -> None:
    lines = [f"{start} HTTP/1.1", f"Host: 127.0.0.1:{real.server.port}", f"Cookie: {real.cookie}"]
    # A header that other frameworks take for the method.
    lines += ["X-HTTP-Method-Override: POST", "X-Method-Override: POST", "", ""]
    answer = real.served.send("\r\n".join(lines).encode())
    assert answer.status == status, answer.raw[:300]


def test_who_is_signed_in_reaches_the_workbench(real: Real) -> None:
    lines = [f"GET /api/rooms/{ROOM}/plan HTTP/1.1", f"Host: 127.0.0.1:{real.server.port}"]
    answer = real.served.send("\r\n".join([*lines, f"Cookie: {real.cookie}", "", ""]).encode())
    assert answer.status == 200
    assert json.loads(answer.body)["seats"]
    assert answer.headers["content-security-policy"].endswith("sandbox")
    assert answer.headers["cache-control"] == "no-store"


def test_nothing_is_left_beside_the_folder_of_rooms(real: Real) -> None:
    beside = {p.name for p in real.server.folder.parent.iterdir()}
    assert beside == {"rooms", "rooms.stderr"}
