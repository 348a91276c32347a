"""Which images of a concave room are seen, and how strong, against a second simulator."""

from __future__ import annotations

import numpy as np
import pytest

from tests.oracle.comparisons import image_sets
from tests.oracle.rooms import random_box, random_l_shape


@pytest.mark.parametrize("seed", range(5))
def test_an_l_shaped_room_has_the_images_of_the_simulator(seed: int) -> None:
    # 5 rooms × 3 × 2 pairs; the bench takes 60
    drawn = random_l_shape(seed, sources=3, microphones=2)
    for source in drawn.sources:
        for microphone in drawn.microphones:
            ours, theirs = image_sets(drawn, source, microphone)
            assert len(ours) == len(theirs)
            np.testing.assert_allclose(ours[:, 0], theirs[:, 0], atol=1e-4)
            np.testing.assert_allclose(ours[:, 1:], theirs[:, 1:], rtol=1e-3)


def test_a_box_has_all_of_them() -> None:
    drawn = random_box(1, sources=1, microphones=1)
    ours, theirs = image_sets(drawn, drawn.sources[0], drawn.microphones[0])
    assert len(ours) == len(theirs) > 50
    np.testing.assert_allclose(ours, theirs, rtol=1e-3)
