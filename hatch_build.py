"""Build the compiled kernels of the acoustic engine, and pack the example rooms into a wheel.

The kernels are one plain shared library that ``wellheard.acoustics.compiled`` loads; no file of
Python's own is needed to build it. Without a C compiler, or when it fails, the installation goes on
and the numpy twin of each kernel is used.

``python hatch_build.py`` builds the library again in place, for work on the kernels.
"""

from __future__ import annotations

import hashlib
import os
import platform
import shlex
import shutil
import subprocess
import sys
import sysconfig
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent
PACKAGE = ROOT / "src" / "wellheard" / "acoustics"
SOURCES = PACKAGE / "native"
SUFFIX = {"win32": ".dll", "darwin": ".dylib"}.get(sys.platform, ".so")
LIBRARY = f"libkernels{SUFFIX}"

FLAGS = ("-std=gnu11", "-O3", "-Wall", "-Wextra", "-Wno-psabi", "-fvisibility=hidden")
"""Never ``-ffast-math``: at the link it can change the float mode of the whole process."""

RELAXED = ("-fno-math-errno", "-fno-trapping-math")
"""Change no result, and let square roots run eight at a time."""

EXACT = {"rays.c": ("-ffp-contract=off",)}
"""What must follow the same paths as its twin, to the last bit, does without fused products."""

VARIANTS = {"plain": (), "avx2": ("-mavx2", "-mfma")}
"""Every source is compiled once for each; which one runs is decided when the library is loaded."""


class BuildFailed(Exception):
    """Why there is no library, in one line."""


def build(target: Path) -> None:
    """Compile every source into one library; the file at ``target`` is replaced at once.

    Raises
    ------
    BuildFailed
        There is no compiler, or it failed.
    """
    compiler = find_compiler()
    made_of = f"-DSOURCES={digest(SOURCES)}"
    with tempfile.TemporaryDirectory() as folder:
        objects = []
        for source in sorted(SOURCES.glob("*.c")):
            for variant, extra in _variants().items():
                made = Path(folder, f"{source.stem}_{variant}.o")
                exact = EXACT.get(source.name, ())
                flags = [*FLAGS, *RELAXED, *exact, *_machine_flags(), *extra]
                _run([*compiler, *flags, f"-DVARIANT={variant}", made_of, "-c", source, "-o", made])
                objects.append(made)
        # In the folder of the target, so that the replacement is one step and no process that
        # has the old library open sees it change.
        linked = target.with_name(f".{target.name}.{os.getpid()}")
        try:
            _run([*compiler, "-shared", *_machine_flags(), *objects, "-lm", "-o", linked])
            linked.replace(target)
        finally:
            linked.unlink(missing_ok=True)


def digest(folder: Path) -> str:
    """Return what tells sources of kernels from others, as ``compiled`` computes it too."""
    found = hashlib.sha256()
    for source in sorted([*folder.glob("*.c"), *folder.glob("*.h")]):
        found.update(source.name.encode())
        found.update(source.read_text(encoding="utf-8").encode())
    return "s" + found.hexdigest()[:16]


def find_compiler() -> list[str]:
    """Return the command of the C compiler: ``$CC``, else the first of cc, gcc and clang."""
    named = shlex.split(os.environ.get("CC", ""))
    if named:
        if shutil.which(named[0]) is None:
            raise BuildFailed(f"the C compiler that CC names, {named[0]}, was not found")
        return named
    for name in ("cc", "gcc", "clang"):
        if shutil.which(name):
            return [name]
    raise BuildFailed("no C compiler was found (cc, gcc or clang)")


def wheel_tag() -> str:
    """Return the tag of a wheel that holds the library: any Python 3, this platform."""
    name = sysconfig.get_platform().replace("universal2", platform.machine())
    return f"py3-none-{name.replace('-', '_').replace('.', '_')}"


def _variants() -> dict[str, tuple[str, ...]]:
    if platform.machine().lower() in {"x86_64", "amd64"}:
        return VARIANTS
    return {"plain": VARIANTS["plain"]}


def _machine_flags() -> tuple[str, ...]:
    if sys.platform == "win32":
        return ()
    if sys.platform == "darwin":
        oldest = sysconfig.get_platform().split("-")[1]
        return ("-fPIC", "-arch", platform.machine(), f"-mmacosx-version-min={oldest}")
    return ("-fPIC",)


def _run(command: list[str | Path]) -> None:
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    except OSError as error:
        raise BuildFailed(f"{command[0]} could not be run: {error.strerror}") from error
    if done.returncode != 0:
        said = [line for line in done.stderr.splitlines() if "error" in line]
        reason = (said or done.stderr.splitlines() or [f"exit code {done.returncode}"])[0]
        raise BuildFailed(f"{command[0]} failed: {reason}")
    if done.stderr:
        print(done.stderr, file=sys.stderr, end="")


def _warn(reason: BuildFailed) -> None:
    print(f"wellheard: {reason}; the slower numpy kernels will be used", file=sys.stderr)


try:
    from hatchling.builders.hooks.plugin.interface import BuildHookInterface
except ImportError:  # run as a program where the build back-end is not installed
    BuildHookInterface = object  # type: ignore[assignment,misc]


class KernelBuildHook(BuildHookInterface):  # type: ignore[type-arg]
    """In place for an editable installation, into the archive for a wheel.

    A wheel gets the example rooms as well. An editable installation reads them where they are,
    which the build back-end's own table of files to include cannot tell apart.
    """

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Build the library and tell the wheel builder of it."""
        if version == "editable":
            try:
                build(PACKAGE / LIBRARY)
            except BuildFailed as reason:
                # One that was built from other sources is worse than none.
                (PACKAGE / LIBRARY).unlink(missing_ok=True)
                _warn(reason)
            return
        for room in (ROOT / "examples").glob("*/*.room.yaml"):
            packed = f"wellheard/data/{room.relative_to(ROOT).as_posix()}"
            build_data["force_include"][str(room)] = packed
        self._folder = tempfile.mkdtemp()
        made = Path(self._folder, LIBRARY)
        try:
            build(made)
        except BuildFailed as reason:
            _warn(reason)
            return
        build_data["force_include"][str(made)] = f"wellheard/acoustics/{LIBRARY}"
        build_data["pure_python"] = False
        build_data["tag"] = wheel_tag()

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        """Leave nothing behind."""
        if version != "editable":
            shutil.rmtree(self._folder, ignore_errors=True)


if __name__ == "__main__":
    try:
        build(PACKAGE / LIBRARY)
    except BuildFailed as reason:
        sys.exit(f"wellheard: {reason}")
    print(PACKAGE / LIBRARY)
