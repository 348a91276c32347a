"""Browsers that have shown the key of a launch, remembered across restarts of the server."""

from __future__ import annotations

import contextlib
import hashlib
import hmac
import json
import os
import secrets
from pathlib import Path

from wellheard import files
from wellheard.errors import InputError

NAME = ".wellheard"
"""Folder beside the rooms for what the workbench keeps of its own."""
MOST = 16
"""Browsers that are remembered; the one signed in longest ago goes first."""
_LONGEST = 64_000


class Sessions:
    """Sessions of one folder of rooms.

    The file holds digests only, which let nobody in who reads it, and the folder that it was made
    in by its number on this disk: in a copy, such as an archive of rooms that came by mail, it is
    worth nothing.

    Parameters
    ----------
    folder : Path
        The folder of rooms.

    Raises
    ------
    InputError
        The folder cannot be written to.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     value = Sessions(Path(folder)).issue()
    ...     Sessions(Path(folder)).knows(value), Sessions(Path(folder)).knows("guessed")
    (True, False)
    """

    def __init__(self, folder: Path) -> None:
        home = own_folder(folder)
        self._path = home / "session"
        found = os.stat(home)
        self._place = f"{found.st_dev}:{found.st_ino}"
        self._digests = self._read()

    def issue(self) -> str:
        """A new session, on the disk when this returns.

        Raises
        ------
        InputError
            It cannot be kept.
        """
        value = secrets.token_urlsafe(32)
        digests = [*self._digests, _digest(value)][-MOST:]
        kept = json.dumps({"folder": self._place, "sessions": digests}).encode()
        # Saving keeps the mode of what is there.
        with contextlib.suppress(FileExistsError):
            os.close(os.open(self._path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        files.save(self._path, kept)
        self._digests = digests
        return value

    def knows(self, value: str) -> bool:
        """Whether this is a session of ours; takes as long for any value that is none."""
        digest = _digest(value)
        return any([hmac.compare_digest(digest, known) for known in self._digests])

    def _read(self) -> list[str]:
        """What is remembered; a file that is not as we write it remembers nobody."""
        if not self._path.exists():
            return []
        try:
            data = files.read_bytes(self._path, most=_LONGEST, wanted="a file of sessions")
            kept = json.loads(data)
            digests = kept["sessions"] if kept["folder"] == self._place else []
            ours = [d for d in digests if isinstance(d, str) and len(d) == 64 and d.isascii()]
        except (InputError, ValueError, TypeError, KeyError):
            return []
        return ours[-MOST:]


def own_folder(folder: Path) -> Path:
    """Where the workbench keeps what is its own, made if need be.

    Raises
    ------
    InputError
        There is no such folder, or it cannot be written to.
    """
    if not folder.is_dir():
        what = "a file; name the folder that it is in" if folder.exists() else "no such folder"
        raise InputError(f"{folder}: {what}; the folder of your rooms is wanted")
    home = folder / NAME
    try:
        home.mkdir(exist_ok=True)
        if not os.access(home, os.W_OK | os.X_OK):
            raise PermissionError(13, "Permission denied")
    except OSError as error:
        raise InputError(
            f"{folder}: {files.reason(error)}; a folder that can be written to, for rooms and "
            f"their history"
        ) from None
    return home


def _digest(value: str) -> str:
    return hashlib.sha256(value.encode("utf-8", "surrogateescape")).hexdigest()
