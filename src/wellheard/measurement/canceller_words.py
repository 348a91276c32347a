"""What is said of a trial of an echo canceller that cannot be told, or was found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from wellheard.measurement.results import Fault

_WHO = {"near_alone": "only the near end talks", "both": "both ends talk"}
_PLAY = "let the far end talk alone for 10 s from the start, and record both signals together"

NO_FAR_END: Final = Fault(
    "no-far-end",
    "error",
    "the far end does not talk: nothing that could come back",
    f"check which channel or file holds what the far end sent; {_PLAY}",
)
UNSETTLED: Final = Fault(
    "unsettled",
    "warning",
    "the return loss does not stay near any value: the canceller does not settle",
    "check that the reference is what the loudspeakers play, and that no volume is moved after it",
)
UNDER_ECHO: Final = Fault(
    "near-end-drowned",
    "warning",
    "while both talk the near end is no louder than the echo that is left and the noise: what is "
    "kept of it cannot be told",
    "let the near end talk louder or nearer, and record again",
)
NOTHING_AFTER: Final = Fault(
    "no-talk-after",
    "note",
    "the far end does not talk alone for long enough before and after both do: echo after double "
    "talk cannot be told",
    "let the far end go on alone for 3 s",
)


def too_short(seconds: float, least: float) -> Fault:
    """The far end hardly talks alone [s]."""
    return Fault(
        "no-far-end-alone",
        "error",
        f"the far end talks alone for {seconds:.1f} s; {least:g} s are needed at least",
        _PLAY,
    )


def no_echo(least_db: float) -> Fault:
    """No correlation: the near end is louder than the echo, or there is none."""
    return Fault(
        "no-echo",
        "error",
        "no echo of the far end is found: the near end or its noise is louder all the time; its "
        f"loss is {least_db:.0f} dB at least".replace("-", "−"),
        "keep the near end quiet while the far end talks, start with the canceller reset, and "
        "check that both recordings are of the same time",
    )


def drowned(after: float) -> Fault:
    """Noise sets the settled loss [dB]."""
    return Fault(
        "echo-in-noise",
        "warning",
        f"the echo that is left goes under in noise: its loss is {after:.0f} dB at least",
        "play the far end louder, or make the room quieter",
    )


def busy(after: float) -> Fault:
    """The near end sets the settled loss [dB]."""
    return Fault(
        "near-end-talks",
        "warning",
        "the near end is as loud in pauses of the far end as its echo is: the loss is "
        f"{after:.0f} dB at least",
        "keep the near end quiet but for the spans that near_alone and both name",
    )


def nothing_added(added: float | None) -> Fault:
    """Hardly more loss in the end than at the beginning [dB]."""
    shown = "an unknown loss" if added is None else f"{added:.1f} dB".replace("-", "−")
    return Fault(
        "nothing-added",
        "note",
        f"from its beginning the canceller adds {shown}: it was converged already, or does nothing",
        "reset it before the far end begins",
    )


def no_overlap(lacking: Sequence[str]) -> Fault:
    """There is no span of these names, or not a second of it."""
    named = " and no ".join(f"{name} ({_WHO[name]}) of 1 s" for name in lacking)
    return Fault(
        "no-double-talk",
        "note",
        f"what is kept of the near end in double talk cannot be told: no {named}",
        "let the near end say some sentences alone, and the same again while the far end talks, "
        "and write the times of both into session.yaml",
    )


def found_span(name: str, span: tuple[float, float]) -> Fault:
    """When somebody talks, by name of its field [s, s]."""
    return Fault(
        f"found-{name.replace('_', '-')}",
        "note",
        f"from {span[0]:.2f} to {span[1]:.2f} s {_WHO[name]}, by the levels",
        f"write {name}: [{span[0]:.2f}, {span[1]:.2f}] into session.yaml, or what is right",
    )
