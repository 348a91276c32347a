"""Jobs of these tests predict roughly: loaded by the process that they are forked from.

As in the tests themselves, where the fixtures ``few_rays`` and ``effects_untried`` see to it.
"""

from __future__ import annotations

import contextlib

from tests.effort import FEW_RAYS, effects, rays

ROUGH = contextlib.ExitStack()
ROUGH.enter_context(rays(*FEW_RAYS))
ROUGH.enter_context(effects(tried=False))
