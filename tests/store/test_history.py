"""Undo and redo agree with a plain list of states and a place in it."""

from __future__ import annotations

from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as st

from wellheard.store.history import History
from wellheard.store.journal import Entry, Kind

NOW = datetime(2026, 1, 31, tzinfo=UTC)
STEPS = st.lists(st.sampled_from(["edit", "outside", "same", "undo", "redo"]), max_size=60)


def entry(version: int, kind: Kind, shows: int) -> Entry:
    return Entry(version, kind, shows, "", f"what {version}", "", NOW, "")


@given(STEPS)
def test_undo_and_redo_agree_with_a_list_of_states(steps: list[str]) -> None:
    entries = [entry(1, "opened", 1)]
    history = History(entries)
    states, at = [1], 0
    for version, step in enumerate(steps, start=2):
        if step in ("edit", "outside"):
            del states[at + 1 :]
            states.append(version)
            at += 1
            made = entry(version, "edited" if step == "edit" else "outside", version)
        elif step == "same":
            made = entry(version, "same", states[at])
        elif step == "undo":
            if at == 0:
                assert history.before is None
                continue
            at -= 1
            assert history.before is not None
            made = entry(version, "undone", history.before.version)
        else:
            if at + 1 == len(states):
                assert history.again is None
                continue
            at += 1
            assert history.again is not None
            made = entry(version, "redone", history.again.version)
        entries.append(made)
        history.add(made)
        assert made.shows == states[at]
        assert history.shown.version == states[at]
        assert history.undo == (f"what {states[at]}" if at else "")
        again = states[at + 1] if at + 1 < len(states) else None
        assert history.redo == (f"what {again}" if again else "")
    # A restart reads the same entries.
    anew = History(entries)
    assert (anew.shown, anew.undo, anew.redo) == (history.shown, history.undo, history.redo)
    assert anew.last == entries[-1]
