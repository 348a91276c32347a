"""Attacks on the workbench over raw connections: none reaches what it is after.

The rows are in ``tests/cases/web/attacks.yaml``. What a check is for is shown by taking it away:
every attack that it alone has to stop then comes through.
"""

from __future__ import annotations

import json
import shutil
import socket
import stat
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.browser.server import Server, started
from tests.web.wire import TOKEN, Answer, Served, Witness, served
from wellheard.errors import InputError
from wellheard.web import serving
from wellheard.web.guard import CHECKS, WRONG_KEYS, Guard
from wellheard.web.sessions import MOST, Sessions

ATTACKS = yaml.safe_load(
    (Path(__file__).parents[1] / "cases" / "web" / "attacks.yaml").read_text("utf-8")
)
BY_GUARD = {check.__name__ for check in CHECKS}


@pytest.fixture(scope="module")
def witnessed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The guard around an application that would answer anything."""
    witness = Witness()
    sessions = Sessions(tmp_path_factory.mktemp("rooms"))

    def make(port: int) -> Guard:
        return Guard(
            witness, token=TOKEN, port=port, sessions=sessions, body_limit=100_000, body_time=0.5
        )

    with served(make) as found:
        found.witness = witness
        yield found


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no test wait as long as an attacker has to."""
    monkeypatch.setattr("wellheard.web.guard.WRONG_KEY_TIME", 0.01)


@pytest.fixture(scope="module")
def cookie(witnessed: Served) -> str:
    return witnessed.cookie()


def _bytes(attack: dict[str, Any], port: int, cookie: str, token: str = TOKEN) -> bytes:
    """The attack as it goes over the wire."""
    words = {
        "{host}": f"127.0.0.1:{port}",
        "{port}": str(port),
        "{cookie}": cookie,
        "{value}": cookie.partition("=")[2],
        "{token}": token,
        "{long}": "a" * 2000,
    }
    lines = [*attack["send"], "Accept: application/json"]
    if "padding" in attack:
        lines.append("X-Padding: " + "p" * attack["padding"])
    text = "\r\n".join(lines) + "\r\n\r\n"
    if "chunks" in attack:
        piece = f"2000{attack.get('beside', '')}\r\n" + "c" * 0x2000 + "\r\n"
        text += piece * attack["chunks"] + "0\r\n\r\n"
    text += attack.get("body", "")
    for word, value in words.items():
        text = text.replace(word, value)
    return text.encode("latin-1")


def _attack(attack: dict[str, Any], served: Served, cookie: str) -> tuple[Answer, list[str]]:
    """What came back, and what reached the application meanwhile."""
    served.witness.reached.clear()
    answer = served.send(_bytes(attack, served.port, cookie))
    return answer, list(served.witness.reached)


def test_there_are_enough_attacks_and_each_has_its_own_name() -> None:
    names = [attack["name"] for attack in ATTACKS]
    assert len(names) > 60
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("attack", ATTACKS, ids=lambda a: a["name"])
def test_an_attack_is_refused_and_reaches_nothing(
    witnessed: Served, cookie: str, attack: dict[str, Any]
) -> None:
    answer, reached = _attack(attack, witnessed, cookie)
    assert answer.status in attack["status"], answer.raw[:300]
    assert reached == []
    assert b"reached" not in answer.raw


@pytest.mark.parametrize("check", sorted(BY_GUARD))
def test_every_check_stops_what_nothing_else_stops(
    witnessed: Served, cookie: str, check: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert witnessed.guard is not None
    left = tuple(c for c in CHECKS if c.__name__ != check)
    monkeypatch.setattr(witnessed.guard, "checks", left)
    alone = [attack for attack in ATTACKS if attack["check"] == check]
    assert alone
    for attack in alone:
        answer, reached = _attack(attack, witnessed, cookie)
        assert reached or answer.status == 303, (attack["name"], answer.raw[:200])


def test_without_its_limit_a_body_in_pieces_comes_through(
    witnessed: Served, cookie: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(witnessed.guard, "body_limit", 10_000_000)
    for attack in (a for a in ATTACKS if "chunks" in a and "beside" not in a):
        answer, reached = _attack(attack, witnessed, cookie)
        assert (answer.status, reached) == (200, ["POST /upload"])
        assert len(witnessed.witness.bodies[-1]) == 100 * 0x2000


# The workbench itself ---------------------------------------------------------------------------

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
    answer = real.served.send(_bytes(asked, real.server.port, real.cookie, real.token))
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


# What is let through ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    "lines",
    [
        ["GET / HTTP/1.1"],
        ["HEAD / HTTP/1.1"],
        ["GET /rooms/sitzung%20ä HTTP/1.1".replace("ä", "%C3%A4")],
        ["GET /static/js/plan/view.js?v=1 HTTP/1.1", "Sec-Fetch-Site: same-origin"],
        ["GET / HTTP/1.1", "Sec-Fetch-Site: none", "Sec-Fetch-Mode: navigate"],
        [
            "GET / HTTP/1.1",
            "Sec-Fetch-Site: cross-site",
            "Sec-Fetch-Mode: navigate",
            "Sec-Fetch-Dest: document",
        ],
        ["POST /x HTTP/1.1", "Content-Length: 0", "Sec-Fetch-Site: same-origin"],
        ["POST /x HTTP/1.1", "Content-Length: 0", "Origin: http://{host}"],
        [
            "POST /api/x HTTP/1.1",
            "Content-Length: 2",
            "Origin: http://{host}",
            "Content-Type: application/json; charset=utf-8",
        ],
    ],
    ids=lambda lines: " ".join(lines)[:60],
)
def test_a_browser_that_is_signed_in_comes_through(
    witnessed: Served, cookie: str, lines: list[str]
) -> None:
    host = f"127.0.0.1:{witnessed.port}"
    text = "\r\n".join([*lines, f"Host: {host}", f"Cookie: a=b; {cookie}; c=d"])
    body = "{}" if "Length: 2" in text else ""
    answer = witnessed.send((text.replace("{host}", host) + "\r\n\r\n" + body).encode())
    assert answer.status == 200, answer.raw
    assert witnessed.witness.bodies[-1] == body.encode()


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost", "LOCALHOST", "[::1]"])
def test_this_machine_goes_by_three_names(witnessed: Served, cookie: str, name: str) -> None:
    text = f"GET / HTTP/1.1\r\nHost: {name}:{witnessed.port}\r\nCookie: {cookie}\r\n\r\n"
    assert witnessed.send(text.encode()).status == 200


def test_a_socket_of_our_own_page_is_opened(witnessed: Served, cookie: str) -> None:
    attack = next(a for a in ATTACKS if a["name"] == "a socket without a cookie")
    allowed = {**attack, "send": [*attack["send"], "Cookie: {cookie}"]}
    answer, reached = _attack(allowed, witnessed, cookie)
    assert answer.status == 101
    assert reached == ["SOCKET /_nicegui_ws/socket.io/"]


def test_a_body_in_pieces_within_the_limit_arrives_whole(witnessed: Served, cookie: str) -> None:
    host = f"127.0.0.1:{witnessed.port}"
    head = (
        f"POST /x HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nCookie: {cookie}\r\n"
        "Transfer-Encoding: chunked\r\n\r\n"
    )
    answer = witnessed.send(head.encode(), b"3;a=b\r\nabc\r\n", b"2\r\nde\r\n0\r\n\r\n")
    assert answer.status == 200
    assert witnessed.witness.bodies[-1] == b"abcde"


def test_a_cookie_that_another_port_tosses_beside_ours_does_not_sign_out(
    witnessed: Served, cookie: str
) -> None:
    host = f"127.0.0.1:{witnessed.port}"
    tossed = f"wellheard-{witnessed.port}=tossed; {cookie}"
    text = f"GET / HTTP/1.1\r\nHost: {host}\r\nCookie: {tossed}\r\n\r\n"
    assert witnessed.send(text.encode()).status == 200


# The key ---------------------------------------------------------------------------------------


def _enter(served: Served, query: str, *more: str) -> Answer:
    lines = [f"GET /enter{query} HTTP/1.1", f"Host: 127.0.0.1:{served.port}", *more]
    return served.send(("\r\n".join(lines) + "\r\n\r\n").encode())


def test_the_key_is_taken_for_a_cookie_that_no_script_reads_and_no_site_sends(
    witnessed: Served,
) -> None:
    answer = _enter(witnessed, f"?token={TOKEN}")
    assert (answer.status, answer.headers["location"]) == (303, "/")
    pair, *attributes = answer.headers["set-cookie"].split("; ")
    assert set(attributes) == {"HttpOnly", "SameSite=Strict", "Path=/"}
    name, _, value = pair.partition("=")
    assert name == f"wellheard-{witnessed.port}"
    assert TOKEN not in value
    assert len(value) >= 43  # 32 random bytes in base 64
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["referrer-policy"] == "no-referrer"


def test_every_browser_gets_a_session_of_its_own(witnessed: Served) -> None:
    assert witnessed.cookie() != witnessed.cookie()


@pytest.mark.parametrize(
    "query",
    [
        "",
        "?",
        "?token=",
        "?token=of-the-launch-before",
        f"?token={TOKEN[:-1]}",
        f"?token={TOKEN}x",
        f"?token={TOKEN}&token={TOKEN}",
        f"?x=1&token={TOKEN}",
        f"?token={TOKEN.upper()}",
        "?token=%00",
    ],
)
def test_a_missing_a_wrong_and_an_old_key_get_the_same_answer(
    witnessed: Served, query: str
) -> None:
    answer = _enter(witnessed, query)
    other = witnessed.send(f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{witnessed.port}\r\n\r\n".encode())
    assert (answer.status, answer.body) == (401, other.body)
    assert "set-cookie" not in answer.headers


def test_keys_are_compared_in_a_time_that_tells_nothing(
    witnessed: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The library's comparison is the one whose time depends on lengths only.
    import hmac

    compared: list[tuple[bytes, bytes]] = []

    def seen(a: bytes, b: bytes) -> bool:
        compared.append((a, b))
        return a == b

    monkeypatch.setattr(hmac, "compare_digest", seen)
    _enter(witnessed, "?token=wrong")
    assert (b"token=wrong", b"token=" + TOKEN.encode()) in compared


def test_wrong_keys_wait_for_each_other_and_too_many_are_turned_away(
    witnessed: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("wellheard.web.guard.WRONG_KEY_TIME", 0.1)
    answers: list[int] = []
    threads = [
        threading.Thread(target=lambda: answers.append(_enter(witnessed, "?token=a").status))
        for _ in range(WRONG_KEYS + 8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(answers) == {401, 429}
    assert WRONG_KEYS <= answers.count(401) < len(threads)
    assert _enter(witnessed, f"?token={TOKEN}").status == 303


def test_the_page_of_who_is_not_signed_in_says_what_to_do_and_needs_nothing_else(
    witnessed: Served,
) -> None:
    host = f"127.0.0.1:{witnessed.port}"
    text = f"GET /rooms/a<b> HTTP/1.1\r\nHost: {host}\r\nAccept: text/html,*/*\r\n\r\n"
    answer = witnessed.send(text.encode())
    page = answer.body.decode()
    assert answer.status == 401
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert "Not signed in" in page
    assert "wellheard serve" in page
    assert "try this page again" in page
    assert "<script" not in page
    assert "src=" not in page
    assert "a<b>" not in page


def test_a_script_is_told_in_json(witnessed: Served) -> None:
    host = f"127.0.0.1:{witnessed.port}"
    text = f"GET /api/rooms/a/plan HTTP/1.1\r\nHost: {host}\r\nAccept: text/html\r\n\r\n"
    answer = witnessed.send(text.encode())
    assert set(json.loads(answer.body)) == {"error", "message"}
    assert json.loads(answer.body)["error"] == "not-signed-in"


def test_what_is_refused_closes_the_connection(witnessed: Served) -> None:
    answer = _enter(witnessed, "")
    assert answer.headers["connection"] == "close"


# Sessions --------------------------------------------------------------------------------------


def test_a_session_outlives_the_server_but_not_the_folder(tmp_path: Path) -> None:
    value = Sessions(tmp_path).issue()
    assert Sessions(tmp_path).knows(value)
    other = tmp_path / "copy"
    other.mkdir()
    Sessions(other)
    kept = (tmp_path / ".wellheard" / "session").read_bytes()
    (other / ".wellheard" / "session").write_bytes(kept)
    assert not Sessions(other).knows(value)


def test_the_file_of_sessions_is_its_owners_alone_and_lets_nobody_in_who_reads_it(
    tmp_path: Path,
) -> None:
    value = Sessions(tmp_path).issue()
    path = tmp_path / ".wellheard" / "session"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    kept = path.read_text("utf-8")
    assert value not in kept
    digest = json.loads(kept)["sessions"][0]
    assert not Sessions(tmp_path).knows(digest)


@pytest.mark.parametrize(
    "kept", ["", "{", "[]", '{"folder": 1}', '{"folder": "x", "sessions": [""]}', "\x00" * 70_000]
)
def test_a_file_of_sessions_that_is_spoilt_remembers_nobody(tmp_path: Path, kept: str) -> None:
    sessions = Sessions(tmp_path)
    (tmp_path / ".wellheard" / "session").write_text(kept, "utf-8")
    assert not Sessions(tmp_path).knows("")
    value = sessions.issue()
    assert Sessions(tmp_path).knows(value)


def test_so_many_sessions_are_kept_and_the_oldest_go(tmp_path: Path) -> None:
    sessions = Sessions(tmp_path)
    values = [sessions.issue() for _ in range(MOST + 2)]
    assert [sessions.knows(v) for v in values] == [False, False] + [True] * MOST


def test_a_folder_that_is_none_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such folder"):
        Sessions(tmp_path / "absent")
    (tmp_path / "a.room.yaml").write_text("", "utf-8")
    with pytest.raises(InputError, match="a file; name the folder"):
        Sessions(tmp_path / "a.room.yaml")


# Answers ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def page(witnessed: Served, cookie: str) -> Answer:
    host = f"127.0.0.1:{witnessed.port}"
    return witnessed.send(
        f"GET / HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\n\r\n".encode(), wait=1.0
    )


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-opener-policy", "same-origin"),
        ("cross-origin-resource-policy", "same-origin"),
        ("x-frame-options", "DENY"),
        ("cache-control", "no-store"),
    ],
)
def test_every_answer_says_what_a_browser_may_do_with_it(
    witnessed: Served, page: Answer, name: str, value: str
) -> None:
    assert page.headers[name] == value
    assert _enter(witnessed, "").headers[name] == value


def test_the_policy_of_a_page_allows_this_server_only(page: Answer) -> None:
    rules = {
        rule.split()[0]: rule.split()[1:]
        for rule in page.headers["content-security-policy"].split("; ")
    }
    assert rules["default-src"] == rules["frame-ancestors"] == rules["base-uri"] == ["'none'"]
    words = {word for rule in rules.values() for word in rule}
    assert words <= {"'none'", "'self'", "'unsafe-inline'", "'unsafe-eval'", "data:", "blob:"}
    assert "data:" not in rules["script-src"]


def test_an_application_shares_nothing_with_other_sites_although_it_would(page: Answer) -> None:
    assert page.body == b"reached"
    assert not [name for name in page.headers if name.startswith("access-control")]
    assert "server" not in page.headers


# Time ------------------------------------------------------------------------------------------


def test_a_request_that_never_ends_is_cut_off(
    witnessed: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serving, "REQUEST_TIME", 0.3)
    start = time.monotonic()
    answer = witnessed.send(b"GET / HTTP/1.1\r\nHost:", wait=10.0)
    assert answer.raw == b""
    assert time.monotonic() - start < 9.0  # closed by the server, not given up by us


def test_a_second_request_that_never_ends_is_cut_off_too(
    witnessed: Served, cookie: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serving, "REQUEST_TIME", 0.3)
    host = f"127.0.0.1:{witnessed.port}"
    whole = f"GET / HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\n\r\n".encode()
    with socket.create_connection(("127.0.0.1", witnessed.port), timeout=10.0) as line:
        line.sendall(whole)
        assert line.recv(65536).startswith(b"HTTP/1.1 200")
        line.sendall(b"GET / HTTP/1.1\r\nX: ")
        while line.recv(65536):
            pass


def test_one_slow_request_keeps_nobody_waiting(witnessed: Served, cookie: str) -> None:
    host = f"127.0.0.1:{witnessed.port}"
    slow = [socket.create_connection(("127.0.0.1", witnessed.port)) for _ in range(20)]
    try:
        for line in slow:
            line.sendall(b"GET / HTTP/1.1\r\nHost:")
        whole = f"GET / HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\n\r\n"
        assert witnessed.send(whole.encode(), wait=1.0).status == 200
    finally:
        for line in slow:
            line.close()


@pytest.mark.parametrize("left", [True, False])
async def test_an_answer_that_nobody_waits_for_is_no_error(tmp_path: Path, left: bool) -> None:
    async def framework(scope: Any, receive: Any, send: Any) -> None:
        await receive()
        if left:
            assert (await receive())["type"] == "http.disconnect"
        raise RuntimeError("No response returned.")

    async def nobody(message: Any) -> None:
        raise AssertionError(message)

    sessions = Sessions(tmp_path)
    heard = iter([{"type": "http.request", "body": b""}, {"type": "http.disconnect"}])

    async def receive() -> Any:
        return next(heard)

    scope = {
        "type": "http",
        "method": "GET",
        "path": "/",
        "headers": [
            (b"host", b"127.0.0.1:8000"),
            (b"cookie", f"wellheard-8000={sessions.issue()}".encode()),
        ],
    }
    asked = Guard(framework, token=TOKEN, port=8000, sessions=sessions)(scope, receive, nobody)
    if left:
        await asked
    else:
        with pytest.raises(RuntimeError, match="No response"):
            await asked
