"""What ``session.yaml`` may say, and how it is told where it says something else."""

from __future__ import annotations

from pathlib import Path

import pytest

from wellheard.errors import DocumentError
from wellheard.measurement.session import FILE, SessionFolder, parse_session


def session(recording: str, *, head: str = "") -> SessionFolder:
    text = f"wellheard_session: 1\n{head}recordings:\n  one: {{file: a.wav, {recording}}}\n"
    return parse_session(text, Path(FILE))


@pytest.mark.parametrize(
    ("place", "at"),
    [
        ("s1", "s1"),
        ("12", "12"),  # a number to YAML
        ("presenter.1", "presenter.1"),
        ("far-end", "far-end"),
        ("[1, 2ft, 1.2]", (1.0, 0.6096, 1.2)),  # 0.3048 m to the foot
    ],
)
def test_a_place_is_an_id_or_a_point(place: str, at: object) -> None:
    found = session(f"kind: noise, to: {place}").session.recordings["one"].to
    assert found == pytest.approx(at) if isinstance(at, tuple) else found == at


def test_bare_lengths_of_a_point_are_in_the_units_of_the_session() -> None:
    found = session("kind: noise, to: [1, 2, 4]", head="units: ft\n")
    assert found.session.recordings["one"].to == pytest.approx((0.3048, 0.6096, 1.2192))


@pytest.mark.parametrize(
    ("recording", "said"),
    [
        ("kind: noise, to: [1, 2]", "recordings.one.to: a list of 2 is no point in the room"),
        ("kind: noise, to: [1, 2, x]", "recordings.one.to.2: "),
        ("kind: noise, to: S1", "recordings.one.to: 'S1' is no id"),
        ("kind: noise, to: 1.5", "recordings.one.to: "),
        ("kind: echo, near_alone: [5, 2]", "recordings.one.near_alone: from 5 s to 2 s; two times"),
        ("kind: echo, both: [-1, 2]", "recordings.one.both: from -1 s to 2 s; two times"),
        ("kind: noise, far: b.wav", "recordings.one: far of a recording of kind noise; of kind"),
    ],
)
def test_what_a_recording_cannot_say_is_told_once_and_where(recording: str, said: str) -> None:
    with pytest.raises(DocumentError) as refused:
        session(recording)
    (problem,) = str(refused.value).splitlines()
    assert said in problem
    assert "function-" not in problem
