"""Find a Chromium for the tests in a browser, or get one where that can be done unasked.

``python tests/browser/install.py`` is the first thing that ``make test`` does. Where there is none
afterwards, the tests in a browser are left out, with a line that says how to get one; on CI, where
nobody reads that line, it fails.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

VARIABLE = "WELLHEARD_CHROMIUM"
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
HOW = (
    "no Chromium for the tests in a browser: install one (on Debian and Ubuntu "
    f"'apt-get install chromium'), or name one in {VARIABLE}, and run make test again"
)
PATIENCE = 900.0
"""How long one way of getting it may take. [s]"""


def found(environ: Mapping[str, str] = os.environ) -> str | None:
    """Path of a Chromium that runs; the one that is named is the only one asked."""
    if environ.get(VARIABLE):
        return environ[VARIABLE] if runs(environ[VARIABLE]) else None
    on_path = (shutil.which(name, path=environ.get("PATH")) for name in NAMES)
    return next((path for path in on_path if path and runs(path)), None) or fetched()


def runs(path: str) -> bool:
    """Whether a browser starts: what some systems put in its place only says where to get it."""
    try:
        done = subprocess.run([path, "--version"], capture_output=True, timeout=60, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return False
    return done.returncode == 0


def fetched() -> str | None:
    """Path of the one that Playwright keeps for itself, where it has been fetched."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        path = playwright.chromium.executable_path
    return path if Path(path).exists() and runs(path) else None


def ways(*, root: bool) -> Iterator[list[list[str]]]:
    """Ways to get one, each a list of commands; what the system's own tools need is to be root."""
    fetch = [sys.executable, "-m", "playwright", "install"]
    yield [[*fetch, "--with-deps", "chromium"] if root else [*fetch, "chromium"]]
    if root and shutil.which("apt-get"):
        quiet = ["apt-get", "-qq", "-y"]
        yield [[*quiet, "update"], [*quiet, "install", "--no-install-recommends", "chromium"]]


def get() -> str | None:
    """Try one way after the other until there is a Chromium that runs."""
    for commands in ways(root=hasattr(os, "geteuid") and os.geteuid() == 0):
        print(f"no Chromium was found; trying: {' '.join(commands[-1])}", file=sys.stderr)
        environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
        with contextlib.suppress(OSError, subprocess.SubprocessError):
            for command in commands:
                subprocess.run(
                    command,
                    env=environment,
                    stdin=subprocess.DEVNULL,
                    stdout=sys.stderr,
                    timeout=PATIENCE,
                    check=True,
                )
        if path := found():
            return path
    return None


def on_ci(environ: Mapping[str, str] = os.environ) -> bool:
    """Whether nobody watches."""
    return environ.get("CI", "").lower() in ("1", "true", "yes")


def main() -> int:
    """Find or get one; 1 on CI where there is none."""
    if path := found() or (None if os.environ.get(VARIABLE) else get()):
        print(f"tests in a browser: {path}", file=sys.stderr)
        return 0
    print(f"{HOW}{'' if on_ci() else '; until then they are left out'}", file=sys.stderr)
    return 1 if on_ci() else 0


if __name__ == "__main__":
    sys.exit(main())
