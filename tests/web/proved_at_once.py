"""A verdict that is there at once, for the page that shows it; in a process of its own.

Little is imported: the process would load it every time.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from wellheard.workflow import session_text
from wellheard.workflow.load import document_hash
from wellheard.workflow.passages import Passage
from wellheard.workflow.proved import Chart, Proved, ProvedRow, session_hash

HOSTILE = "<img src=x onerror=alert(2)> {{6*6}}"


def proved_by_hand(*, text: str, path: str, folder: str, say: Callable[[str], None]) -> Proved:
    """A verdict without a measurement: two promises, one broken, in hostile words."""
    drawn = b'<svg xmlns="http://www.w3.org/2000/svg"/>'
    say("1 of 1 recordings: r0")
    session_text.opened(Path(folder))
    return Proved(
        sentence="Not all that was promised is kept.",
        state="broken",
        head=("Place", "Measured"),
        right=(False, True),
        rows=(
            ProvedRow(("s1", "0.90 s"), "broken", "broken", HOSTILE),
            ProvedRow(("s2", "0.50 s"), "kept", "kept", "Well within."),
        ),
        rule="Kept is 90 % or more.",
        notes=("quiet: not recorded yet.",),
        charts=(Chart("decay", "Decay by octave", {"white": drawn, "slate": drawn}),),
        measured=(Passage("heading", (("Set alike",),)),),
        document=document_hash(text),
        session=session_hash(Path(folder)),
        answer=b'{"word": "broken"}',
    )
