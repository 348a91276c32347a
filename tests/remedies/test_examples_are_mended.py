"""Every change that is offered for an example does what it says, and brings no error."""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from wellheard.remedies.model import Change
from wellheard.room import codec
from wellheard.room.operations import apply
from wellheard.workflow import remedying
from wellheard.workflow.judging import Judged, judge
from wellheard.workflow.load import Loaded, load, resolved
from wellheard.workflow.remedy_effects import Effects
from wellheard.workflow.remedying import Offer, key, offers

pytestmark = pytest.mark.usefixtures("few_rays")

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/*.room.yaml"))
WITH_CHANGES = ("both-ways", "glass-fan", "l-shape", "ten-seats", "training-forty", "two-in-one")
"""Examples that have errors or warnings which a change mends."""


MOST_MADE = 12
"""Changes made one after the other, before it counts as going on for ever."""


def _name(path: Path) -> str:
    return path.parent.name


@cache
def _offered(path: Path) -> tuple[Loaded, Judged, tuple[Offer, ...]]:
    loaded = load(path)
    judged = judge(loaded.room, loaded.catalogue, assumptions=False)
    return loaded, judged, offers(loaded.room, loaded.catalogue, judged)


def _errors(judged: Judged) -> Counter[tuple[str, str]]:
    """Errors of the document, and of every space of every arrangement, by part and name."""
    found = Counter(("", key(f)) for f in judged.errors)
    for part in judged.parts:
        found.update((part.name, key(f)) for f in part.findings if f.severity == "error")
    return found


def _brings(before: Judged, after: Judged) -> Counter[tuple[str, str]]:
    """Errors that were not there."""
    return _errors(after) - _errors(before)


@pytest.mark.parametrize("path", EXAMPLES, ids=_name)
def test_every_offered_change_leaves_no_error_that_was_not_there(path: Path) -> None:
    loaded, before, found = _offered(path)
    rooms = {id(one.room): one for offer in found for one in (offer, *offer.further)}
    assert bool(rooms) == (_name(path) in WITH_CHANGES)
    for one in rooms.values():
        made = apply(loaded.room, one.operations, unit=loaded.room.units).room
        assert made == one.room
        # As somebody has it who takes the change: written down, and read again.
        again = resolved(codec.parse_document(codec.edit(loaded.document, made), name=str(path)))
        after = judge(again.room, again.catalogue, assumptions=False)
        assert not _brings(before, after), one.says
        left = {key(f) for f in after.findings if f.severity in ("error", "warning")}
        assert not left & set(one.mends), one.says
        assert set(one.worsens) <= left, one.says


@pytest.mark.parametrize("path", EXAMPLES, ids=_name)
def test_changes_made_until_none_is_left_bring_no_error(path: Path) -> None:
    loaded, before, found = _offered(path)
    room, judged, made = loaded.room, before, 0
    while found and made < MOST_MADE:
        made += 1
        grave = sum(f.severity in ("error", "warning") for f in judged.findings)
        room, judged = found[0].room, found[0].judged
        assert not _brings(before, judged), found[0].says
        assert sum(f.severity in ("error", "warning") for f in judged.findings) <= grave
        found = offers(room, loaded.catalogue, judged)
    assert not found, "it goes on for ever"
    assert bool(made) == (_name(path) in WITH_CHANGES)


def test_a_change_that_brings_an_error_is_seen_and_is_not_offered(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Nobody decays within 0.1 s: a change that promises it brings an error."""
    path = next(p for p in EXAMPLES if _name(p) == "both-ways")
    loaded, before, _ = _offered(path)
    targets = loaded.room.targets.model_copy(update={"reverberation": 0.1})
    worse = Change("Promise too much.", loaded.room.model_copy(update={"targets": targets}))
    monkeypatch.setattr(remedying, "changes_for", lambda *_: iter((worse,)))
    assert not offers(loaded.room, loaded.catalogue, before)
    monkeypatch.setattr(Effects, "mends_or_eases", lambda *_: True)
    (offer,) = offers(loaded.room, loaded.catalogue, before)
    assert set(_brings(before, offer.judged)) == {
        ("", "target-missed-reverberation@targets.reverberation")
    }


@pytest.mark.parametrize("path", EXAMPLES, ids=_name)
def test_every_offer_mends_its_finding_or_eases_it(path: Path) -> None:
    _, _, found = _offered(path)
    for offer in found:
        finding, after = offer.finding, offer.after
        if after is None:
            left = [f for f in offer.judged.findings if key(f) == offer.key]
            assert finding not in left
            assert (offer.key in offer.mends) == (not left)
        elif after.severity == finding.severity:
            assert finding.value is not None
            assert after.value is not None
            assert finding.limit is not None
            short = abs(after.value - finding.limit)
            assert short <= 0.8 * abs(finding.value - finding.limit)
        else:
            assert (finding.severity, after.severity) == ("error", "warning")


def test_of_many_who_are_missed_all_are_mended_by_one_design() -> None:
    path = next(p for p in EXAMPLES if _name(p) == "training-forty")
    _, before, found = _offered(path)
    missed = [
        f for f in before.findings if f.code.startswith("target-missed-") and f.severity == "error"
    ]
    assert {key(f) for f in missed} <= {one.key for one in found}
    assert len({id(one.room) for one in found}) == 1
    assert not [f for f in found[0].judged.findings if f.severity == "error"]
