"""Who may talk to the workbench: one layer around all of it, pages, interface and sockets alike.

The server listens on this machine only, but everybody's browser is on this machine too: any page
that it shows may send requests here. So a request has to name this server as its host (a name that
somebody else points here is refused), must not come from another site, and must hold the cookie
that only the printed address gives. What is refused is refused before anything else sees it.

Each of ``CHECKS`` stands alone: the tests take one away at a time and look what comes through.
"""

from __future__ import annotations

import asyncio
import hmac
import re
from collections.abc import Awaitable, Callable, Iterable, Mapping, MutableMapping
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from pathlib import Path
from typing import Any, TypeAlias
from urllib.parse import unquote_to_bytes

from wellheard.errors import InputError
from wellheard.web import policies
from wellheard.web.refusals import NOT_SIGNED_IN, TOO_MANY, Refusal
from wellheard.web.sessions import Sessions

Scope: TypeAlias = MutableMapping[str, Any]
Message: TypeAlias = MutableMapping[str, Any]
Receive: TypeAlias = Callable[[], Awaitable[Message]]
Send: TypeAlias = Callable[[Message], Awaitable[None]]
Application: TypeAlias = Callable[[Scope, Receive, Send], Awaitable[None]]

BODY_LIMIT = 4 * 1024 * 1024
"""Largest body that is read; a room document has 2 MB. [bytes]"""
BODY_TIME = 10.0
"""How long a body may take to arrive, from this same machine. [s]"""
PATH_LIMIT = 1024
"""Longest path. [bytes]"""
QUERY_LIMIT = 4096
"""Longest query: a socket says there who it is. [bytes]"""
WRONG_KEY_TIME = 0.5
"""How long each wrong key takes to answer, one after the other. [s]"""
WRONG_KEYS = 16
"""Wrong keys that may wait for their answer; more are turned away unread."""

METHODS = ("GET", "HEAD", "POST")
ENTER = b"/enter"
_ONCE = (
    b"host",
    b"origin",
    b"content-length",
    b"transfer-encoding",
    b"content-type",
    b"sec-fetch-site",
    b"sec-fetch-mode",
    b"sec-fetch-dest",
)
_ESCAPE = re.compile(rb"%(?![0-9A-Fa-f]{2})")
_ODD = re.compile(rb"[\x00-\x1f\x7f\\/]")
"""What no name in a path has: controls and slashes of either kind."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked for, as it came over the wire."""

    socket: bool
    method: str
    path: bytes
    query: bytes
    headers: tuple[tuple[bytes, bytes], ...]

    @classmethod
    def of(cls, scope: Mapping[str, Any]) -> Asked:
        """Take it from ASGI's scope of a request or a socket."""
        return cls(
            socket=scope["type"] == "websocket",
            method=scope.get("method", "GET"),
            path=scope.get("raw_path") or scope["path"].encode(),
            query=scope.get("query_string", b""),
            headers=tuple((name.lower(), value) for name, value in scope["headers"]),
        )

    def all(self, name: bytes) -> list[bytes]:
        """Every value that a header was given."""
        return [value for key, value in self.headers if key == name]

    def header(self, name: bytes) -> bytes | None:
        """A header that is said once, or not at all."""
        return next(iter(self.all(name)), None)

    @property
    def of_interface(self) -> bool:
        """Whether a script asks, not a reader."""
        return self.path.startswith(b"/api/")


@dataclass(frozen=True, slots=True)
class Ours:
    """What this server answers to."""

    port: int
    sessions: Sessions

    @property
    def hosts(self) -> frozenset[bytes]:
        """Names of this machine, as a browser writes them with the port."""
        names = (b"127.0.0.1", b"localhost", b"[::1]")
        usual = frozenset(names) if self.port == 80 else frozenset()
        return usual | {name + b":%d" % self.port for name in names}

    @property
    def cookie(self) -> str:
        """Name of the cookie: a machine's servers share their cookies, whatever their port."""
        return f"wellheard-{self.port}"


Check: TypeAlias = Callable[[Asked, Ours], Refusal | None]


def said_once(asked: Asked, ours: Ours) -> Refusal | None:
    """What others decide by is said once: two readers of it twice may differ."""
    if any(len(asked.all(name)) > 1 for name in _ONCE):
        return Refusal(400, "doubled-header", "A header was said twice that may be said once.")
    return None


def host_is_ours(asked: Asked, ours: Ours) -> Refusal | None:
    """The host is this machine by one of its own names, not a name that somebody points here."""
    host = asked.header(b"host")
    if host is None:
        return Refusal(400, "no-host", "The request does not say which host it is for.")
    if host.lower() not in ours.hosts:
        return Refusal(
            421, "foreign-host", "This is not the host that the request is for; use 127.0.0.1."
        )
    return None


def path_is_plain(asked: Asked, ours: Ours) -> Refusal | None:
    """The path is short and means the same to whoever reads it, decoded or not."""
    if len(asked.path) > PATH_LIMIT or len(asked.query) > QUERY_LIMIT:
        return Refusal(414, "too-long", "The address is too long.")
    odd = Refusal(400, "odd-path", "The address has no plain path.")
    if not asked.path.startswith(b"/") or _ESCAPE.search(asked.path):
        return odd
    segments = asked.path[1:].split(b"/")
    if any(not s for s in segments[:-1]):
        return odd
    for segment in segments:
        name = unquote_to_bytes(segment)
        if _ODD.search(name) or name in (b".", b".."):
            return odd
        try:
            name.decode("utf-8")
        except UnicodeDecodeError:
            return odd
    return None


def method_is_known(asked: Asked, ours: Ours) -> Refusal | None:
    """Only what the workbench uses: to read is GET or HEAD, to change is POST."""
    if asked.method in METHODS:
        return None
    allow = ((b"allow", ", ".join(METHODS).encode()),)
    return Refusal(405, "unknown-method", "Only GET, HEAD and POST are answered.", allow)


def length_is_clear(asked: Asked, ours: Ours) -> Refusal | None:
    """Where the body ends is said one way only."""
    length, coding = asked.header(b"content-length"), asked.header(b"transfer-encoding")
    if length is not None and (coding is not None or not re.fullmatch(rb"[0-9]{1,18}", length)):
        return Refusal(400, "unclear-length", "The request does not say how long it is.")
    if coding is not None and coding.lower() != b"chunked":
        return Refusal(400, "unclear-length", "The request is coded in a way that is not known.")
    return None


def origin_is_ours(asked: Asked, ours: Ours) -> Refusal | None:
    """A page that sends something, or opens a socket, is one of this very server.

    Another server of this machine is another origin, and so is this one under another name.
    """
    origin = asked.header(b"origin")
    if origin is not None:
        same = origin == b"http://" + (asked.header(b"host") or b"")
    elif asked.socket:
        same = False
    else:
        same = asked.method != "POST" or asked.header(b"sec-fetch-site") == b"same-origin"
    return None if same else Refusal(403, "foreign-origin", "Another site may not do this.")


def site_is_ours(asked: Asked, ours: Ours) -> Refusal | None:
    """Another site may lead a reader here, but not load anything into a page of its own.

    Browsers say which of both it is. A server on another port of this machine counts as the same
    site, so the word for that is not enough.
    """
    if asked.header(b"sec-fetch-site") in (None, b"same-origin", b"none"):
        return None
    goes_there = asked.header(b"sec-fetch-mode") == b"navigate"
    as_page = asked.header(b"sec-fetch-dest") in (None, b"document")
    if goes_there and as_page and asked.method in ("GET", "HEAD") and not asked.socket:
        return None
    return Refusal(403, "foreign-site", "Another site may not load this.")


def session_is_known(asked: Asked, ours: Ours) -> Refusal | None:
    """The browser has shown the key, now or before a restart; the address of the key needs none."""
    if asked.path == ENTER and not asked.socket:
        return None
    shown = list(_cookies(asked, ours.cookie))
    if any(ours.sessions.knows(value) for value in shown):
        return None
    return NOT_SIGNED_IN


def body_is_json(asked: Asked, ours: Ours) -> Refusal | None:
    """What is sent to the interface says that it is JSON, as no form of another site can."""
    if asked.method != "POST" or not asked.of_interface:
        return None
    kind = (asked.header(b"content-type") or b"").partition(b";")[0].strip().lower()
    if kind == b"application/json":
        return None
    return Refusal(415, "not-json", "Only application/json is read here.")


CHECKS: tuple[Check, ...] = (
    said_once,
    host_is_ours,
    path_is_plain,
    method_is_known,
    length_is_clear,
    origin_is_ours,
    site_is_ours,
    session_is_known,
    body_is_json,
)
"""Asked in this order; the first that refuses answers."""


def _cookies(asked: Asked, name: str) -> Iterable[str]:
    """Values of a cookie: another server of this machine may have set more of that name."""
    for pair in b";".join(asked.all(b"cookie")).split(b";")[:50]:
        try:
            found = SimpleCookie(pair.strip().decode("ascii"))
        except (UnicodeDecodeError, CookieError):
            continue
        if name in found:
            yield found[name].value


class Guard:
    """The layer around an application of ASGI.

    Parameters
    ----------
    app : callable
        What is guarded.
    token : str
        The key of this launch, which ``/enter?token=…`` takes for a session.
    port : int
        Where the server listens.
    sessions : Sessions
        Who has shown a key.
    body_limit : int
        Longest body. [bytes]
    body_time : float
        How long a body may take. [s]
    """

    def __init__(
        self,
        app: Application,
        *,
        token: str,
        port: int,
        sessions: Sessions,
        body_limit: int = BODY_LIMIT,
        body_time: float = BODY_TIME,
    ) -> None:
        self.app = app
        self.ours = Ours(port, sessions)
        self.checks = CHECKS
        self.body_limit = body_limit
        self.body_time = body_time
        self._token = token.encode()
        self._turn = asyncio.Lock()
        self._waiting = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, refuse, or hand on what was asked for."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        asked = Asked.of(scope)
        refusal = next((r for c in self.checks if (r := c(asked, self.ours))), None)
        if asked.socket:
            if refusal is None:
                await self.app(scope, receive, send)
            else:
                await _refuse_socket(refusal, scope, send)
            return
        send = _with_headers(send, asked.path)
        if refusal is None and asked.path == ENTER:
            refusal = await self._enter(asked, send)
        elif refusal is None:
            refusal = await self._hand_on(asked, scope, receive, send)
        if refusal is not None:
            await _refuse(refusal, asked, send)

    async def _enter(self, asked: Asked, send: Send) -> Refusal | None:
        """Take the key for a session and leave the address that holds it."""
        if asked.method != "GET":
            return Refusal(405, "unknown-method", "This address is opened.", ((b"allow", b"GET"),))
        if self._waiting >= WRONG_KEYS:
            return TOO_MANY
        if not hmac.compare_digest(asked.query, b"token=" + self._token):
            await self._delay()
            return NOT_SIGNED_IN
        try:
            value = self.ours.sessions.issue()
        except InputError as error:
            return Refusal(500, "not-kept", f"The session could not be kept. {error}")
        cookie = f"{self.ours.cookie}={value}; Path=/; HttpOnly; SameSite=Strict"
        headers = [(b"location", b"/"), (b"set-cookie", cookie.encode()), (b"content-length", b"0")]
        await send({"type": "http.response.start", "status": 303, "headers": headers})
        await send({"type": "http.response.body", "body": b""})
        return None

    async def _delay(self) -> None:
        """Let wrong keys wait for each other, so that guessing has a bound however many try."""
        self._waiting += 1
        try:
            async with self._turn:
                await asyncio.sleep(WRONG_KEY_TIME)
        finally:
            self._waiting -= 1

    async def _hand_on(
        self, asked: Asked, scope: Scope, receive: Receive, send: Send
    ) -> Refusal | None:
        """Read the whole body within its bounds, then let the application have it."""
        length = int(asked.header(b"content-length") or 0)
        try:
            async with asyncio.timeout(self.body_time):
                body = await _body(receive, self.body_limit, length)
        except TimeoutError:
            return Refusal(408, "too-slow", "The request took too long to arrive.")
        except _Gone:
            return None
        if body is None:
            return Refusal(
                413, "too-large", f"Larger than {self.body_limit / 1e6:.1f} MB, which is the most."
            )
        replayed = gone = False

        async def again() -> Message:
            nonlocal replayed, gone
            if replayed:
                message = await receive()
                gone = gone or message["type"] == "http.disconnect"
                return message
            replayed = True
            return {"type": "http.request", "body": body, "more_body": False}

        try:
            await self.app(scope, again, send)
        except RuntimeError:
            # The framework complains so of every answer that nobody waited for.
            if not gone:
                raise
        return None


def guarded(app: Application, folder: Path, *, token: str, port: int) -> Guard:
    """Put the guard around an application that serves a folder of rooms.

    Raises
    ------
    InputError
        The folder cannot be written to.
    """
    return Guard(app, token=token, port=port, sessions=Sessions(folder))


class _Gone(Exception):
    """Whoever asked has left."""


async def _body(receive: Receive, limit: int, announced: int) -> bytes | None:
    """The body; None where it is longer than it may be, by what it says or by what it is.

    What is too long is read on for a while and thrown away: a browser reads no answer before it
    has sent everything, and would take a closed connection for a lost one and send it again.
    """
    parts = bytearray()
    total, kept = 0, announced <= limit
    while max(total, announced) <= 8 * limit:
        message = await receive()
        if message["type"] == "http.disconnect":
            raise _Gone
        part = message.get("body", b"")
        total += len(part)
        kept = kept and total <= limit
        if kept:
            parts += part
        else:
            parts.clear()
        if not message.get("more_body", False):
            return bytes(parts) if kept else None
    return None


def _with_headers(send: Send, path: bytes) -> Send:
    """Say with every answer what a browser may do with it, whatever the application says."""

    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = policies.headers(message.get("headers", ()), path)
        await send(message)

    return sent


async def _refuse(refusal: Refusal, asked: Asked, send: Send) -> None:
    """Say no, and close the connection: what still comes over it is not read."""
    reader = b"text/html" in (asked.header(b"accept") or b"") and not asked.of_interface
    body = refusal.as_page() if reader else refusal.as_json()
    kind = b"text/html; charset=utf-8" if reader else b"application/json"
    headers = [
        (b"content-type", kind),
        (b"content-length", b"%d" % len(body)),
        (b"connection", b"close"),
        *refusal.headers,
    ]
    await send({"type": "http.response.start", "status": refusal.status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


async def _refuse_socket(refusal: Refusal, scope: Scope, send: Send) -> None:
    if "websocket.http.response" not in scope.get("extensions", {}):
        await send({"type": "websocket.close", "code": 1008})
        return
    body = refusal.as_json()
    headers = [(b"content-type", b"application/json"), (b"content-length", b"%d" % len(body))]
    start = {"status": refusal.status, "headers": [*headers, *refusal.headers]}
    await send({"type": "websocket.http.response.start", **start})
    await send({"type": "websocket.http.response.body", "body": body})
