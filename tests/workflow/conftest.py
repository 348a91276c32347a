"""What the tests of workflows share."""

from __future__ import annotations

import pytest


@pytest.fixture(scope="module", autouse=True)
def _effects_untried(effects_untried: None) -> None:
    """Hardly any test here asks what an assumption does to the worst seat."""
