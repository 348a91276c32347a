"""The compiled kernels: found, chosen and called; without them their numpy twins are used.

The library lies beside this file when a C compiler was there at the installation. The variable
``WELLHEARD_KERNEL`` chooses: ``numpy`` never uses it, ``compiled`` insists on it.
"""

from __future__ import annotations

import ctypes
import hashlib
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any, Literal

import numpy as np

from wellheard.errors import UsageError

Kernel = Literal["numpy", "compiled", "plain"]
"""Numpy twins; compiled, the fastest that this machine has; compiled for any machine."""

VARIABLE = "WELLHEARD_KERNEL"
LIBRARY = Path(__file__).with_name(
    "libkernels" + {"win32": ".dll", "darwin": ".dylib"}.get(sys.platform, ".so")
)

OTHER_SOURCES = "they were built from other sources than those beside them"

_chosen: Kernel | None = None


def in_use() -> str:
    """Return which kernels compute: ``compiled, AVX2``, ``compiled`` or ``numpy``."""
    variant = _variant()
    return {None: "numpy", "plain": "compiled", "avx2": "compiled, AVX2"}[variant]


def library() -> ctypes.CDLL | None:
    """Return the library of the kernels, or None where the numpy twins are to be used.

    Raises
    ------
    UsageError
        ``WELLHEARD_KERNEL`` has another value than numpy or compiled, or insists on a library
        that is not there.
    """
    choice = _choice()
    if choice == "numpy":
        return None
    found = _load(LIBRARY)
    if isinstance(found, str) and choice is not None:
        raise UsageError(
            f"the compiled kernels are asked for, but {found}; install wellheard again with a C "
            f"compiler at hand, or leave {VARIABLE} out to compute with numpy"
        )
    return None if isinstance(found, str) else found


def missing() -> str:
    """Say why there is no library to use; empty where there is one."""
    found = _load(LIBRARY)
    return found if isinstance(found, str) else ""


def function(name: str, argtypes: Sequence[Any], restype: Any = None) -> Callable[..., Any] | None:
    """Return a compiled kernel by name, or None where its numpy twin is to be used.

    Parameters
    ----------
    name : str
        As in ``KERNEL(name)`` in its source.
    argtypes : sequence of ctypes types
        Of its parameters; arrays as :func:`array` gives them.
    restype : ctypes type, optional
        What it returns, if anything.

    Notes
    -----
    Python's lock is free while a kernel runs, so several threads may each run one.
    """
    variant = _variant()
    found = library()
    if found is None or variant is None:
        return None
    kernel = getattr(found, f"{name}_{variant}")
    kernel.argtypes, kernel.restype = list(argtypes), restype
    return kernel


@cache
def array(kind: Any) -> Any:
    """Return the ctypes type of a contiguous array: ``array(np.float32)``.

    A call with an array of another kind, or with one that is not contiguous, is refused before
    it reaches the kernel.
    """
    return np.ctypeslib.ndpointer(dtype=kind, flags="C_CONTIGUOUS")


@contextmanager
def using(kernel: Kernel) -> Iterator[None]:
    """Compute with one kind of kernel for a while, in all threads: for tests and benches.

    Raises
    ------
    UsageError
        Compiled ones are asked for and there are none.

    Examples
    --------
    >>> with using("numpy"):
    ...     in_use()
    'numpy'
    """
    global _chosen
    before, _chosen = _chosen, kernel
    try:
        library()
        yield
    finally:
        _chosen = before


def _choice() -> Kernel | None:
    if _chosen is not None:
        return _chosen
    asked = os.environ.get(VARIABLE, "")
    if asked not in ("", "numpy", "compiled"):
        raise UsageError(f"{VARIABLE} is {asked!r}; it may be numpy or compiled")
    return asked or None  # type: ignore[return-value]  # one of the words, as just seen


def _variant() -> Literal["plain", "avx2"] | None:
    found = library()
    if found is None:
        return None
    return "avx2" if _choice() != "plain" and found.has_avx2_plain() else "plain"


@cache
def _load(path: Path) -> ctypes.CDLL | str:
    if not path.is_file():
        return "they were not built when wellheard was installed"
    try:
        found = ctypes.CDLL(str(path))
    except OSError as error:
        return f"they cannot be loaded: {error}"
    made_of = getattr(found, "sources_plain", None)
    if made_of is None:
        return OTHER_SOURCES
    made_of.restype = ctypes.c_char_p
    sources = path.with_name("native")
    if sources.is_dir() and made_of().decode() != _digest(sources):
        return OTHER_SOURCES
    return found


def _digest(folder: Path) -> str:
    """What tells sources of kernels from others, as ``hatch_build.py`` computes it too."""
    found = hashlib.sha256()
    for source in sorted([*folder.glob("*.c"), *folder.glob("*.h")]):
        found.update(source.name.encode())
        found.update(source.read_text(encoding="utf-8").encode())
    return "s" + found.hexdigest()[:16]
