"""What a page of somebody else can do to the workbench in the very browser that is signed in.

Each attack runs in a real Chromium, as a script of a page from another server of this machine (the
same site to a browser, so that cookies go along), from this server under another name, or from a
name that somebody pointed here. Where browsers themselves stop it, that is as good.
"""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from tests.browser.conftest import REBOUND
from tests.browser.server import Server

ROOM = "/api/rooms/ten-seats"


class _Empty(BaseHTTPRequestHandler):
    """A page of another server, for scripts to run in."""

    def do_GET(self) -> None:
        """Answer an empty page to everything."""
        body = b"<!doctype html><title>elsewhere</title>"
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:
        """Say nothing."""


@pytest.fixture(scope="module")
def elsewhere() -> Iterator[str]:
    """Another server of this machine; its host and port."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), _Empty)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"127.0.0.1:{server.server_port}"
    server.shutdown()
    server.server_close()


@pytest.fixture(scope="module")
def signed_in(browser: Browser, standing: Server) -> Iterator[BrowserContext]:
    """A browser that holds the cookie."""
    context = browser.new_context()
    page = context.new_page()
    answer = page.goto(standing.address)
    assert answer is not None
    assert answer.status == 200
    page.close()
    yield context
    context.close()


@pytest.fixture
def edit(signed_in: BrowserContext, standing: Server) -> str:
    """An edit that would be done if it came from a page of ours."""
    version = signed_in.request.get(f"{standing.origin}{ROOM}/plan").json()["version"]
    return json.dumps(
        {
            "base": version,
            "key": "an-edit-of-the-attacks",
            "what": "remove a seat",
            "unit": "m",
            "operations": [{"do": "remove", "items": ["people.seats.s1"]}],
        }
    )


@pytest.fixture
def attacker(signed_in: BrowserContext, elsewhere: str) -> Iterator[Page]:
    """A tab with a page of the other server."""
    page = signed_in.new_page()
    page.goto(f"http://{elsewhere}/")
    yield page
    page.close()


@pytest.fixture(autouse=True)
def unharmed(standing: Server) -> Iterator[None]:
    """No attack changes a room, adds one or takes one away."""
    before = _rooms(standing.folder)
    yield
    assert _rooms(standing.folder) == before


def _rooms(folder: Path) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.glob("*.room.yaml")}


def test_who_attacks_holds_the_cookie(signed_in: BrowserContext, standing: Server) -> None:
    # Otherwise the attacks below would fail for want of it, and show nothing.
    (cookie,) = [c for c in signed_in.cookies() if c["name"] == f"wellheard-{standing.port}"]
    assert cookie["httpOnly"]
    assert cookie["sameSite"] == "Strict"
    page = signed_in.new_page()
    answer = page.goto(f"{standing.origin}{ROOM}/plan")
    assert answer is not None
    assert answer.status == 200
    page.goto(standing.origin + "/")
    assert cookie["name"] not in page.evaluate("document.cookie")
    page.close()


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded"])
def test_a_script_elsewhere_sends_nothing(
    attacker: Page, standing: Server, edit: str, kind: str
) -> None:
    with attacker.expect_event("requestfailed"):
        failed = attacker.evaluate(
            """([url, body, kind]) => fetch(url, {method: 'POST', mode: 'no-cors', body,
               credentials: 'include', headers: {'Content-Type': kind}}).then(() => '', String)""",
            [f"{standing.origin}{ROOM}/commit", edit, kind],
        )
    assert "TypeError" in failed


def test_a_script_elsewhere_sends_no_json(attacker: Page, standing: Server, edit: str) -> None:
    failed = attacker.evaluate(
        """([url, body]) => fetch(url, {method: 'POST', credentials: 'include',
           headers: {'Content-Type': 'application/json'}, body}).then(() => '', String)""",
        [f"{standing.origin}{ROOM}/commit", edit],
    )
    assert "TypeError" in failed


def test_a_script_elsewhere_reads_nothing(attacker: Page, standing: Server) -> None:
    failed = attacker.evaluate(
        "url => fetch(url, {credentials: 'include'}).then(r => r.text(), String)",
        f"{standing.origin}{ROOM}/plan",
    )
    assert "TypeError" in failed


def test_a_form_elsewhere_sends_nothing(attacker: Page, standing: Server, edit: str) -> None:
    with attacker.expect_response(f"**{ROOM}/commit") as told, attacker.expect_navigation():
        attacker.evaluate(
            """([url, body]) => {
                const form = Object.assign(document.createElement('form'),
                  {method: 'post', action: url, enctype: 'text/plain'});
                const [start, ...rest] = body.split(':');
                form.append(Object.assign(document.createElement('input'),
                  {name: start, value: rest.join(':')}));
                document.body.append(form);
                form.submit();
            }""",
            [f"{standing.origin}{ROOM}/commit", edit],
        )
    assert told.value.status == 403


@pytest.mark.parametrize(
    ("tag", "path"), [("img", "section.svg?unit=m"), ("script", "plan"), ("script", "figures")]
)
def test_nothing_is_loaded_into_a_page_elsewhere(
    attacker: Page, standing: Server, tag: str, path: str
) -> None:
    ended = attacker.evaluate(
        """([tag, url]) => new Promise(done => {
            const made = document.createElement(tag);
            made.onload = made.onerror = event => done(event.type);
            made.src = url;
            document.body.append(made);
        })""",
        [tag, f"{standing.origin}{ROOM}/{path}"],
    )
    assert ended == "error"


@pytest.mark.parametrize("tag", ["iframe", "embed"])
def test_no_page_is_shown_in_a_page_elsewhere(attacker: Page, standing: Server, tag: str) -> None:
    with attacker.expect_response(standing.origin + "/") as told:
        attacker.evaluate(
            """([tag, url]) => document.body.append(
               Object.assign(document.createElement(tag), {src: url}))""",
            [tag, standing.origin + "/"],
        )
    assert told.value.status == 403


def test_no_socket_is_opened_from_elsewhere(attacker: Page, standing: Server) -> None:
    host = urlsplit(standing.origin).netloc
    ended = attacker.evaluate(
        """url => new Promise(done => {
            const socket = new WebSocket(url);
            socket.onopen = () => done('open');
            socket.onerror = () => done('refused');
        })""",
        f"ws://{host}/_nicegui_ws/socket.io/?EIO=4&transport=websocket",
    )
    assert ended == "refused"


def test_a_window_opened_from_elsewhere_is_cut_off_from_it(
    attacker: Page, standing: Server
) -> None:
    with attacker.context.expect_page() as opened:
        attacker.evaluate("url => { window.other = window.open(url) }", standing.origin + "/")
    opened.value.wait_for_load_state()
    assert opened.value.evaluate("window.opener") is None
    seen = attacker.evaluate(
        "() => { try { return String(window.other.document.title) } catch (e) { return e.name } }"
    )
    assert seen in ("SecurityError", "TypeError")
    opened.value.close()


def test_a_name_that_somebody_points_here_shows_nothing(
    browser: Browser, signed_in: BrowserContext, standing: Server
) -> None:
    page = signed_in.new_page()
    answer = page.goto(f"http://{REBOUND}:{standing.port}/")
    assert answer is not None
    assert answer.status == 421
    status = page.evaluate("url => fetch(url).then(r => r.status)", f"{ROOM}/plan")
    assert status == 421
    page.close()


def test_a_link_from_another_site_asks_to_try_again_and_then_opens(
    signed_in: BrowserContext, standing: Server, elsewhere: str
) -> None:
    # To a browser, localhost is another site than 127.0.0.1, so the cookie stays behind.
    page = signed_in.new_page()
    page.goto(f"http://localhost:{elsewhere.rpartition(':')[2]}/")
    page.evaluate(
        """url => document.body.append(Object.assign(document.createElement('a'),
           {href: url, textContent: 'rooms'}))""",
        standing.origin + "/",
    )
    with page.expect_response(standing.origin + "/") as first:
        page.get_by_text("rooms").click()
    assert first.value.status == 401
    with page.expect_response(standing.origin + "/") as second:
        page.get_by_text("try this page again").click()
    assert second.value.status == 200
    page.close()


def test_a_page_of_ours_sends_nothing_to_anybody_else(
    signed_in: BrowserContext, standing: Server, elsewhere: str
) -> None:
    page = signed_in.new_page()
    page.goto(standing.origin + "/")
    ruled = ["connect-src", "img-src", "script-src-elem", "frame-src", "object-src"]
    ruled += ["form-action", "base-uri"]
    got_out: list[str] = []
    page.on("response", lambda r: got_out.append(r.url) if elsewhere in r.url else None)
    said = page.evaluate(
        """async ([host, wanted]) => {
            const broken = [];
            document.addEventListener('securitypolicyviolation',
              event => broken.push(event.effectiveDirective));
            await fetch(`http://${host}/a`, {mode: 'no-cors'}).catch(() => {});
            for (const [tag, name] of [['img', 'src'], ['script', 'src'], ['iframe', 'src'],
                                       ['object', 'data']]) {
              const made = document.createElement(tag);
              made[name] = `http://${host}/${tag}`;
              document.body.append(made);
            }
            const form = Object.assign(document.createElement('form'),
              {action: `http://${host}/form`, method: 'post'});
            document.body.append(form);
            form.submit();
            const base = Object.assign(document.createElement('base'), {href: `http://${host}/`});
            document.head.append(base);
            for (let i = 0; i < 100 && !wanted.every(name => broken.includes(name)); i++) {
              await new Promise(done => setTimeout(done, 100));
            }
            return broken;
        }""",
        [elsewhere, ruled],
    )
    assert set(said) >= set(ruled)
    assert got_out == []
    page.close()


def test_the_same_edit_from_a_page_of_ours_is_done(
    signed_in: BrowserContext, standing: Server, edit: str
) -> None:
    # What shows that the attacks above failed for where they came from.
    before = _rooms(standing.folder)
    page = signed_in.new_page()
    page.goto(standing.origin + "/")
    send = """([url, body]) => fetch(url, {method: 'POST',
       headers: {'Content-Type': 'application/json'}, body}).then(r => r.status)"""
    assert page.evaluate(send, [f"{ROOM}/commit", edit]) == 200
    assert _rooms(standing.folder) != before
    undo = json.dumps({"key": "undo-of-the-attacks"})
    assert page.evaluate(send, [f"{ROOM}/undo", undo]) == 200
    page.close()
