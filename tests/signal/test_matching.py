"""Largest matching of microphones with ports, against another library and by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching

from wellheard.signal.matching import largest_matching


@pytest.mark.parametrize("seed", range(12))
def test_as_many_have_a_port_as_another_library_finds(seed: int) -> None:
    """Rival: ``maximum_bipartite_matching`` of scipy (Hopcroft and Karp)."""
    chance = np.random.default_rng(seed)
    fits = chance.random((chance.integers(1, 14), chance.integers(1, 14))) < 0.25
    matched = largest_matching(
        {i: [int(j) for j in np.flatnonzero(row)] for i, row in enumerate(fits)}
    )
    assert all(fits[i, j] for i, j in matched.items())
    assert len(set(matched.values())) == len(matched)
    rival = maximum_bipartite_matching(csr_matrix(fits), perm_type="column")
    assert len(matched) == int((rival >= 0).sum())


def test_who_has_a_port_keeps_one_and_the_last_go_without() -> None:
    assert list(largest_matching({"a": [1], "b": [1, 2], "c": [2], "d": [1]})) == ["a", "b"]


def test_the_first_port_that_fits_is_preferred() -> None:
    assert largest_matching({"a": [3, 1], "b": [3, 2]}) == {"a": 3, "b": 2}


def test_without_ports_nobody_has_one() -> None:
    assert largest_matching({"a": [], "b": []}) == {}
