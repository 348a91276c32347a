"""The server of the workbench: where it listens, how long it waits, how it ends."""

from __future__ import annotations

import asyncio
import contextlib
import errno
import os
import socket
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType
from typing import Any

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from wellheard import files
from wellheard.errors import InputError
from wellheard.web.guard import BODY_LIMIT, Application
from wellheard.web.sessions import own_folder

ADDRESS = "127.0.0.1"
"""This machine, and nobody beside it."""
USUAL_PORT = 8735
"""Tried first, so that an address that was kept leads back after a restart."""
REQUEST_TIME = 10.0
"""How long a request may take to say what it wants. [s]"""
HEADER_LIMIT = 32 * 1024
"""Longest start of a request, all its headers included. [bytes]"""
CONNECTIONS = 200
"""Connections at a time; a browser opens six and a socket for each page."""
END_TIME = 2.0
"""How long the end may take: what was acknowledged is on the disk long before. [s]"""


def listen(port: int | None) -> socket.socket:
    """A socket that listens on this machine only.

    Parameters
    ----------
    port : int or None
        0 takes any that is free; None the usual one, or any where that is taken.

    Raises
    ------
    InputError
        The port is taken or not ours to use.
    """
    if port is None:
        try:
            return _listening(USUAL_PORT)
        except OSError:
            return _listening(0)
    try:
        return _listening(port)
    except OSError as error:
        why = {
            errno.EADDRINUSE: "is taken by another program",
            errno.EACCES: "is not yours to use",
        }.get(error.errno or 0, files.reason(error))
        raise InputError(
            f"port {port}: {why}; another port, or leave out --port for one that is free"
        ) from None


def _listening(port: int) -> socket.socket:
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name != "nt":  # there the word means that a port may be taken from who has it
            made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind((ADDRESS, port))
        made.listen(128)
    except OSError:
        made.close()
        raise
    return made


@contextlib.contextmanager
def alone(folder: Path, port: int) -> Iterator[None]:
    """Serve a folder from one process at a time: two would each keep a history of their own.

    Raises
    ------
    InputError
        It is served already, or cannot be written to.
    """
    name = own_folder(folder) / "served"
    try:
        handle = os.open(name, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as error:
        raise InputError(f"{name}: {files.reason(error)}; a file that can be written") from None
    try:
        if files.fcntl is not None and not files.locked(handle, alone=True):
            where = os.read(handle, 200).decode("ascii", "replace").strip()
            raise InputError(
                f"{folder}: is served already{where and ', at ' + where}; use that one, or stop it"
            )
        os.ftruncate(handle, 0)
        os.write(handle, f"http://{ADDRESS}:{port}/\n".encode())
        yield
    finally:
        os.close(handle)


class PatientProtocol(H11Protocol):
    """Reads requests, and waits for each only so long: the base waits for ever."""

    _late: asyncio.TimerHandle | None = None

    # The base narrows what its own base takes: a listening socket brings nothing else.
    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Start to wait with the connection."""
        super().connection_made(transport)
        self._wait()

    def handle_events(self) -> None:
        """Stop waiting when a request has said what it wants."""
        super().handle_events()
        if self.cycle is not None and not self.cycle.response_complete:
            self._stop_waiting()

    def handle_websocket_upgrade(self, event: Any) -> None:
        """Sockets stay open."""
        self._stop_waiting()
        super().handle_websocket_upgrade(event)

    def on_response_complete(self) -> None:
        """Wait for the next request over the same connection."""
        self._wait()
        super().on_response_complete()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        self._stop_waiting()
        super().connection_lost(exc)

    def _wait(self) -> None:
        self._stop_waiting()
        self._late = self.loop.call_later(REQUEST_TIME, self.transport.close)

    def _stop_waiting(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None


class Server(uvicorn.Server):
    """Says when it is ready, and ends in time even where a thread still computes.

    Parameters
    ----------
    app : callable
        A guarded application.
    ready : callable
        Called once, when requests are answered.
    ended : callable
        Called in the end where the orderly one took too long; the process ends after it.
    """

    def __init__(
        self,
        app: Application,
        *,
        ready: Callable[[], None],
        ended: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(
            uvicorn.Config(
                app,
                http=PatientProtocol,
                ws="websockets-sansio",
                ws_max_size=BODY_LIMIT,
                lifespan="on",
                log_config=None,
                log_level="error",
                access_log=False,
                proxy_headers=False,
                server_header=False,
                h11_max_incomplete_event_size=HEADER_LIMIT,
                limit_concurrency=CONNECTIONS,
                timeout_keep_alive=30,
                timeout_graceful_shutdown=1,
            )
        )
        self._ready = ready
        self._ended = ended

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then say so."""
        await super().startup(sockets)
        if self.started:
            self._ready()

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Begin to end, and see to it that it comes to an end."""
        if not self.should_exit:
            last = threading.Timer(END_TIME, self._leave)
            last.daemon = True
            last.start()
        super().handle_exit(sig, frame)

    def _leave(self) -> None:
        """End the process although a thread computes: it holds nothing that is not saved."""
        self._ended()
        os._exit(130)
