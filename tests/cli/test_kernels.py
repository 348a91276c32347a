"""What computes can be asked, and costs a plain answer nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

import wellheard as package
from wellheard.acoustics import compiled

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard


def test_the_verbose_version_says_which_kernels_compute(wellheard: Wellheard) -> None:
    ended = wellheard("--version", "--verbose")
    assert (ended.code, ended.err) == (0, "")
    assert ended.out.splitlines()[0] == f"wellheard {package.__version__}"
    assert ended.out.splitlines()[1].startswith(f"acoustic kernels: {compiled.in_use()}")


def test_a_kernel_that_there_is_not_is_refused_in_one_line(
    wellheard: Wellheard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WELLHEARD_KERNEL", "fortran")
    ended = wellheard("--version", "--verbose")
    assert (ended.code, ended.out) == (2, "")
    assert "numpy or compiled" in ended.err
    assert len(ended.err.splitlines()) == 1
