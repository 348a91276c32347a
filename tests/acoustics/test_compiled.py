"""The compiled kernels are found, chosen, and left out where they cannot be."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from wellheard.acoustics import compiled
from wellheard.errors import UsageError

ROOT = Path(__file__).parents[2]


def test_numpy_can_be_chosen_and_is_left_again() -> None:
    before = compiled.in_use()
    with compiled.using("numpy"):
        assert compiled.in_use() == "numpy"
        assert compiled.library() is None
        assert compiled.function("has_avx2", []) is None
    assert compiled.in_use() == before


@pytest.mark.skipif(bool(compiled.missing()), reason="no C compiler was there")
def test_the_kernel_for_any_machine_can_be_chosen() -> None:
    with compiled.using("plain"):
        assert compiled.in_use() == "compiled"


def test_an_unknown_kernel_is_refused_with_what_is_allowed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(compiled.VARIABLE, "fortran")
    with pytest.raises(UsageError, match="numpy or compiled"):
        compiled.library()


def test_a_missing_library_means_numpy_unless_it_is_insisted_on(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(compiled, "LIBRARY", tmp_path / "nothing.so")
    monkeypatch.delenv(compiled.VARIABLE, raising=False)
    assert compiled.in_use() == "numpy"
    assert "not built" in compiled.missing()
    monkeypatch.setenv(compiled.VARIABLE, "compiled")
    with pytest.raises(UsageError, match="not built"):
        compiled.library()


def test_a_file_that_is_no_library_means_numpy_and_says_why(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    broken = tmp_path / "broken.so"
    broken.write_bytes(b"no library")
    monkeypatch.setattr(compiled, "LIBRARY", broken)
    monkeypatch.delenv(compiled.VARIABLE, raising=False)
    assert compiled.in_use() == "numpy"
    assert "cannot be loaded" in compiled.missing()


def _wheel(folder: Path, **environment: str) -> tuple[Path, str]:
    """Build a wheel from the checkout as an installer does, and return what was said."""
    program = (
        "import sys, hatchling.build as back_end\n"
        f"sys.stdout.write(back_end.build_wheel({str(folder)!r}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=ROOT,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    return folder / done.stdout.strip().splitlines()[-1], done.stderr


def _libraries(wheel: Path) -> list[str]:
    with zipfile.ZipFile(wheel) as archive:
        return [name for name in archive.namelist() if Path(name).name == compiled.LIBRARY.name]


@pytest.mark.skipif(bool(compiled.missing()), reason="no C compiler was there")
def test_a_wheel_carries_the_library_for_any_python_on_its_platform(tmp_path: Path) -> None:
    wheel, _ = _wheel(tmp_path)
    assert _libraries(wheel) == [f"wellheard/acoustics/{compiled.LIBRARY.name}"]
    assert "-py3-none-" in wheel.name
    assert not wheel.name.endswith("-any.whl")


def test_without_a_compiler_the_wheel_is_pure_and_one_line_says_why(tmp_path: Path) -> None:
    wheel, said = _wheel(tmp_path, CC="no-such-compiler")
    assert _libraries(wheel) == []
    assert wheel.name.endswith("-py3-none-any.whl")
    assert len(said.strip().splitlines()) == 1
    assert "no-such-compiler, was not found" in said
    assert "numpy" in said


def test_a_compiler_that_fails_leaves_a_pure_wheel(tmp_path: Path) -> None:
    wheel, said = _wheel(tmp_path, CC=f"{sys.executable} -c 'import sys; sys.exit(3)'")
    assert _libraries(wheel) == []
    assert "failed" in said
    assert "numpy" in said


def test_a_source_archive_has_what_the_library_is_built_from(tmp_path: Path) -> None:
    program = f"import hatchling.build as b; print(b.build_sdist({str(tmp_path)!r}))"
    subprocess.run([sys.executable, "-c", program], cwd=ROOT, check=True, timeout=120)
    (archive,) = tmp_path.glob("*.tar.gz")
    with tarfile.open(archive) as opened:
        names = {name.partition("/")[2] for name in opened.getnames()}
    native = Path("src/wellheard/acoustics/native")
    wanted = {(native / p.name).as_posix() for p in (ROOT / native).iterdir()}
    assert {*wanted, "hatch_build.py"} <= names
    assert not any(Path(name).name == compiled.LIBRARY.name for name in names)


@pytest.mark.skipif(bool(compiled.missing()), reason="no C compiler was there")
def test_kernels_of_other_sources_are_not_used(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """After an update without an installation arguments may have changed: numpy is safe."""
    library = tmp_path / compiled.LIBRARY.name
    shutil.copy(compiled.LIBRARY, library)
    shutil.copytree(compiled.LIBRARY.with_name("native"), tmp_path / "native")
    monkeypatch.setattr(compiled, "LIBRARY", library)
    compiled._load.cache_clear()
    assert compiled.missing() == ""
    with (tmp_path / "native" / "rays.c").open("a") as source:
        source.write("/* newer */\n")
    compiled._load.cache_clear()
    assert "other sources" in compiled.missing()
    compiled._load.cache_clear()
