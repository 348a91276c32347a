"""A folder of documents with its manifest: written as a whole, and never over what is not ours."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import Any

from wellheard import __version__
from wellheard.acoustics import compiled
from wellheard.errors import InputError
from wellheard.folders import recover, save_folder
from wellheard.predict import propagation
from wellheard.room.document import SCHEMA
from wellheard.workflow.load import Loaded

MANIFEST = "manifest.json"


def manifest(loaded: Loaded, files: Mapping[str, bytes]) -> dict[str, Any]:
    """What made these files: document, tool, schema, catalogue, kernel, and every file's hash."""
    return {
        "document": hashlib.sha256(loaded.document.text.encode()).hexdigest(),
        "tool": f"wellheard {__version__}",
        "schema": SCHEMA,
        "catalogue": loaded.catalogue.hash,
        "kernel": compiled.in_use(),
        "seed": propagation.SEED,
        "files": {name: hashlib.sha256(data).hexdigest() for name, data in files.items()},
    }


def write_folder(folder: Path, loaded: Loaded, files: Mapping[str, bytes]) -> None:
    """Write the files and their manifest as a whole folder, or leave what was there.

    Everything is written beside the folder and then put in its place. A folder that holds
    anything else, or a file that was changed since, is never touched.

    Raises
    ------
    InputError
        Something else is there, or it cannot be written.
    """
    check_folder(folder)
    save_folder(folder, with_manifest(loaded, files), last=MANIFEST, check=check_folder)


def with_manifest(loaded: Loaded, files: Mapping[str, bytes]) -> dict[str, bytes]:
    """The files, and last the manifest that tells what made them."""
    return {**files, MANIFEST: json_bytes(manifest(loaded, files))}


def check_folder(folder: Path) -> None:
    """Refuse a folder whose replacement would lose something.

    A folder may be replaced when every file in it was written by wellheard and still is as it was
    written.

    Raises
    ------
    InputError
        Something else is there; the message names it.
    """
    recover(folder)
    if not folder.exists():
        return
    if not folder.is_dir():
        raise InputError(f"{folder}: a file of that name exists; name a folder")
    try:
        inside = sorted(
            p.relative_to(folder).as_posix()
            for p in folder.rglob("*")
            if p.is_symlink() or not p.is_dir() or not any(p.iterdir())
        )
        if not inside:
            return
        written = _written(folder / MANIFEST)
        if written is None:
            raise InputError(
                f"{folder}: not empty, and not written by wellheard ({len(inside)} entries, no "
                f"{MANIFEST} of ours); name another folder"
            )
        ours = {str(parent) for name in written for parent in PurePosixPath(name).parents}
        for name in inside:
            # A folder of ours that is empty is what a killed save left.
            if name == MANIFEST or name in ours:
                continue
            if name not in written:
                raise InputError(
                    f"{folder / name}: not written by wellheard, and would be lost; move it, or "
                    "name another folder"
                )
            if hashlib.sha256((folder / name).read_bytes()).hexdigest() != written[name]:
                raise InputError(
                    f"{folder / name}: changed since it was written, and would be lost; move it, "
                    "or name another folder"
                )
    except OSError as error:
        raise InputError(f"{folder}: {error.strerror}; a folder that can be read") from None


def _written(path: Path) -> dict[str, str] | None:
    """File hashes of a manifest, or None where it is none of ours."""
    try:
        found = json.loads(path.read_bytes())
        files = {str(name): str(digest) for name, digest in found["files"].items()}
        return files if str(found["tool"]).startswith("wellheard ") else None
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


def json_bytes(value: Mapping[str, Any] | Sequence[Any]) -> bytes:
    """A value as the text of a JSON file."""
    return (json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False) + "\n").encode()
