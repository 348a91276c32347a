"""The workbench without a browser: pages as trees of elements, routes over a client in memory."""

from __future__ import annotations

import multiprocessing
import shutil
import sys
import tempfile
from collections.abc import AsyncIterator, Callable, Iterator
from pathlib import Path

import httpx
import pytest
from nicegui import app
from nicegui.storage import Storage
from nicegui.testing import User
from nicegui.testing.user_simulation import user_simulation

from wellheard.web import jobs, register
from wellheard.web.app import routes
from wellheard.web.workbench import Workbench

EXAMPLES = Path(__file__).parents[2] / "examples"

# Whoever imports it predicts roughly from then on: only the processes of jobs may, not whoever
# looks for doctests.
collect_ignore = ["rough_work.py"]


@pytest.fixture(scope="session", autouse=True)
def _rough_jobs() -> None:
    """Let jobs predict as roughly as the tests that wait for them, see `_rough`."""
    if "forkserver" in multiprocessing.get_all_start_methods():
        jobs._CONTEXT.set_forkserver_preload([*jobs.PRELOADED, "tests.web.rough_work"])


@pytest.fixture(scope="module", autouse=True)
def _rough(few_rays: None, effects_untried: None) -> None:
    """Pages show what was predicted, whatever it is, and none what an assumption does to it."""


@pytest.fixture(scope="session", autouse=True)
def _no_storage_in_the_checkout() -> Iterator[None]:
    """The framework keeps its own storage in the working directory otherwise."""
    with tempfile.TemporaryDirectory() as folder:
        Storage.path = Path(folder)
        app.storage = Storage()
        yield


@pytest.fixture(autouse=True)
def _modules_stay() -> Iterator[None]:
    """The framework drops the modules of pages and all above them; everybody else holds them."""
    before = {name: m for name, m in sys.modules.items() if name.partition(".")[0] == "wellheard"}
    yield
    sys.modules.update(before)


@pytest.fixture
def put(tmp_path: Path) -> Callable[..., Path]:
    """Copy examples into the folder of the workbench, which is returned."""

    def copied(*names: str) -> Path:
        folder = tmp_path / "rooms"
        folder.mkdir(exist_ok=True)
        for name in names:
            shutil.copy(EXAMPLES / name / f"{name}.room.yaml", folder)
        return folder

    return copied


@pytest.fixture
def workbench(put: Callable[..., Path]) -> Iterator[Workbench]:
    """A workbench over a folder with two rooms."""
    bench = Workbench(put("ten-seats", "huddle-four"), watch=False)
    yield bench
    bench.close()


@pytest.fixture
async def user(workbench: Workbench) -> AsyncIterator[User]:
    """Somebody who opens pages of that workbench."""
    async with user_simulation() as somebody:
        register.pages(workbench)
        yield somebody


@pytest.fixture
async def client(workbench: Workbench) -> AsyncIterator[httpx.AsyncClient]:
    """What the scripts of a page would send, without the guard."""
    transport = httpx.ASGITransport(routes(workbench))
    async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as one:
        yield one
