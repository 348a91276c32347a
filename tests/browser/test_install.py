"""How a browser for the tests is found and got, with stand-ins for every command."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.browser import install


def _program(folder: Path, name: str, code: int = 0) -> str:
    path = folder / name
    path.write_text(f"#!/bin/sh\nexit {code}\n", "utf-8")
    path.chmod(0o755)
    return os.fspath(path)


@pytest.fixture(autouse=True)
def none_fetched(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(install, "fetched", lambda: None)


def test_the_one_that_is_named_comes_first(tmp_path: Path) -> None:
    _program(tmp_path, "chromium")
    named = _program(tmp_path, "mine")
    environ = {"PATH": os.fspath(tmp_path), install.VARIABLE: named}
    assert install.found(environ) == named


def test_one_that_is_named_and_does_not_run_is_not_passed_over(tmp_path: Path) -> None:
    _program(tmp_path, "chromium")
    environ = {"PATH": os.fspath(tmp_path), install.VARIABLE: os.fspath(tmp_path / "absent")}
    assert install.found(environ) is None


def test_a_stand_in_that_only_says_where_to_get_it_is_passed_over(tmp_path: Path) -> None:
    _program(tmp_path, "chromium", code=1)
    second = _program(tmp_path, "google-chrome")
    assert install.found({"PATH": os.fspath(tmp_path)}) == second


def test_nothing_on_the_path_is_nothing(tmp_path: Path) -> None:
    assert install.found({"PATH": os.fspath(tmp_path)}) is None


@pytest.fixture
def bare(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A machine without a browser, whose commands are stand-ins."""
    monkeypatch.setenv("PATH", os.fspath(tmp_path))
    monkeypatch.delenv(install.VARIABLE, raising=False)
    monkeypatch.delenv("CI", raising=False)
    monkeypatch.setattr("sys.executable", _program(tmp_path, "python", code=1))
    return tmp_path


def test_on_ci_it_fails_and_says_how_to_get_one(
    bare: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("CI", "true")
    assert install.main() == 1
    assert install.HOW in capsys.readouterr().err


def test_elsewhere_it_says_how_to_get_one_and_lets_the_tests_run(
    bare: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert install.main() == 0
    assert "until then they are left out" in capsys.readouterr().err


def test_the_packages_of_the_system_are_asked_when_the_first_way_fails(
    bare: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    script = f'#!/bin/sh\ncase "$*" in *install*) printf "#!/bin/sh\\n" > {bare}/chromium;\n'
    script += f"/bin/chmod 755 {bare}/chromium;; esac\n"
    (bare / "apt-get").write_text(script, "utf-8")
    (bare / "apt-get").chmod(0o755)
    monkeypatch.setattr("os.geteuid", lambda: 0)
    assert install.get() == os.fspath(bare / "chromium")


def test_who_is_not_root_is_asked_for_no_password(bare: Path) -> None:
    _program(bare, "apt-get")
    commands = [command for way in install.ways(root=False) for command in way]
    assert [c[1:] for c in commands] == [["-m", "playwright", "install", "chromium"]]
