"""Attacks on the workbench over raw connections: none reaches what it is after.

The rows are in ``tests/cases/web/attacks.yaml``. What a check is for is shown by taking it away:
every attack that it alone has to stop then comes through.
"""

from __future__ import annotations

import json
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.web.attacks import ATTACKS, attack_bytes
from tests.web.wire import TOKEN, Answer, Served, Witness, served
from wellheard.web import serving
from wellheard.web.guard import CHECKS, WRONG_KEYS, Guard
from wellheard.web.sessions import Sessions

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


def _attack(attack: dict[str, Any], served: Served, cookie: str) -> tuple[Answer, list[str]]:
    """What came back, and what reached the application meanwhile."""
    served.witness.reached.clear()
    answer = served.send(attack_bytes(attack, served.port, cookie))
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
