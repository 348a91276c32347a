"""A guarded application on a real socket, and raw bytes to try it with."""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from wellheard.web import serving
from wellheard.web.guard import Application, Guard, Message, Receive, Scope, Send

TOKEN = "the-key-of-this-launch"


class Witness:
    """An application that answers everything and remembers what reached it."""

    def __init__(self) -> None:
        self.reached: list[str] = []
        self.bodies: list[bytes] = []

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer 200, or accept the socket."""
        if scope["type"] == "lifespan":
            await _lifespan(receive, send)
            return
        self.reached.append(f"{scope.get('method', 'SOCKET')} {scope['path']}")
        if scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.accept"})
            await send({"type": "websocket.close", "code": 1000})
            return
        body, more = b"", True
        while more:
            message = await receive()
            body += message.get("body", b"")
            more = message.get("more_body", False)
        self.bodies.append(body)
        headers = [
            (b"content-type", b"text/html; charset=utf-8"),
            (b"content-length", b"7"),
            (b"access-control-allow-origin", b"*"),
            (b"access-control-allow-credentials", b"true"),
            (b"content-security-policy", b"default-src *"),
            (b"cache-control", b"public, max-age=31536000"),
        ]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": b"reached"})


async def _lifespan(receive: Receive, send: Send) -> None:
    while True:
        message: Message = await receive()
        await send({"type": f"{message['type']}.complete"})
        if message["type"] == "lifespan.shutdown":
            return


@dataclass
class Answer:
    """What came back over a raw connection until it was closed or fell silent."""

    raw: bytes

    @property
    def status(self) -> int:
        """Status of the first answer; 0 where none came."""
        return int(self.raw.split(b" ", 2)[1]) if self.raw.startswith(b"HTTP/1.1 ") else 0

    @property
    def headers(self) -> dict[str, str]:
        """Headers of the first answer; those said twice are joined."""
        lines = self.raw.partition(b"\r\n\r\n")[0].decode("latin-1").split("\r\n")[1:]
        found: dict[str, str] = {}
        for name, _, value in (line.partition(": ") for line in lines):
            found[name.lower()] = f"{found[name.lower()]}, {value}" if name in found else value
        return found

    @property
    def body(self) -> bytes:
        """Everything after the first headers."""
        return self.raw.partition(b"\r\n\r\n")[2]


@dataclass
class Served:
    """Somebody who listens; the server and its guard where they are in this process."""

    port: int
    server: serving.Server | None
    guard: Guard | None
    witness: Witness = field(default_factory=Witness)

    def send(self, *pieces: bytes, wait: float = 5.0, end: bool = False) -> Answer:
        """Send bytes as they are over a new connection; all that comes back.

        ``end`` says that nothing more will come, ``wait`` how long an answer may take. [s]
        """
        with socket.create_connection(("127.0.0.1", self.port), timeout=wait) as line:
            got = b""
            try:
                for piece in pieces:
                    line.sendall(piece)
                if end:
                    line.shutdown(socket.SHUT_WR)
                while chunk := line.recv(65536):
                    got += chunk
                    if _whole(got, headless=pieces[0].startswith(b"HEAD ")):
                        break
            except (TimeoutError, ConnectionError):
                pass
            return Answer(got)

    def cookie(self, token: str = TOKEN) -> str:
        """Sign in; the cookie as a browser sends it."""
        host = f"127.0.0.1:{self.port}"
        answer = self.send(f"GET /enter?token={token} HTTP/1.1\r\nHost: {host}\r\n\r\n".encode())
        assert answer.status == 303, answer.raw
        return answer.headers["set-cookie"].partition(";")[0]


def _whole(got: bytes, *, headless: bool) -> bool:
    head, found, body = got.partition(b"\r\n\r\n")
    for line in head.lower().split(b"\r\n"):
        if line.startswith(b"content-length: "):
            return bool(found) and (headless or len(body) >= int(line.split()[1]))
    return b" 101 " in head[:16] and bool(found)


@contextlib.contextmanager
def served(make: Callable[[int], Application]) -> Iterator[Served]:
    """Serve in a thread what is made for the port that was found free."""
    listening = serving.listen(0)
    port = listening.getsockname()[1]
    app = make(port)
    ready = threading.Event()
    server = serving.Server(app, ready=ready.set)
    # A socket of its own: the loop closes it, and ends with the thread.
    thread = threading.Thread(target=lambda: server.run([listening]), daemon=True)
    thread.start()
    assert ready.wait(20)
    yield Served(port, server, app if isinstance(app, Guard) else None)
    server.should_exit = True
    thread.join(10)
    assert not thread.is_alive()
