"""``wellheard serve``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from wellheard.cli.exits import Exit

STOPPED = "stopped; everything is saved"


def serve(
    folder: Path = Path("."),
    /,
    *,
    port: int | None = None,
    no_open: Annotated[bool, Parameter(name="--no-open", negative="")] = False,
) -> int:
    """Open the workbench in the browser, for a folder of rooms.

    It answers to this machine only, and only to who opens the address that it
    prints: the address holds a key, a new one at every start. Ctrl-C stops it.

    Parameters
    ----------
    folder
        Folder of room documents.
    port
        0 for any that is free; without it 8735, or another if need be.
    no_open
        Only print the address.
    """
    import secrets
    import signal
    import sys

    from wellheard.cli.output import payload, say
    from wellheard.errors import UsageError

    if port is not None and not 0 <= port <= 65535:
        raise UsageError(f"--port {port}: a number from 0 to 65535")
    from wellheard.web import serving  # slow: whoever mistyped need not wait for it
    from wellheard.web.sessions import own_folder

    own_folder(folder)
    listening = serving.listen(port)
    found: int = listening.getsockname()[1]
    token = secrets.token_urlsafe(32)

    def ready() -> None:
        if port is None and found != serving.USUAL_PORT:
            say(f"port {serving.USUAL_PORT} is taken by another program; took {found}")
        address = f"http://{serving.ADDRESS}:{found}/enter?token={token}"
        payload(address)
        sys.stdout.flush()
        say(f"{folder.resolve()}: open in the browser until Ctrl-C")
        if not no_open:
            _open(address)

    with listening, serving.alone(folder, found):
        from wellheard.web.app import build

        server = serving.Server(
            build(folder, token=token, port=found), ready=ready, ended=lambda: say(STOPPED)
        )
        # Who ends it by the system's word ends it as in order as who presses Ctrl-C.
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        try:
            server.run(sockets=[listening])
        except KeyboardInterrupt:
            say(STOPPED)
            return Exit.INTERRUPTED
    return Exit.FAILED


def _open(address: str) -> None:
    """Show the address in the browser, where there is one; it is printed anyway."""
    import threading
    import webbrowser

    def tried() -> None:
        try:
            webbrowser.open(address)
        except Exception:  # a browser's own trouble is no trouble of ours
            return

    # Some browsers hold up whoever starts them until they are closed.
    threading.Thread(target=tried, daemon=True).start()
