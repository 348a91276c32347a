"""What stands round the plan: each part talks to the server through the desk of its page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from nicegui.element import Element


class _Part(Element):
    """A part of the page of one room.

    Parameters
    ----------
    room : str
        Key of the room, as addresses name it.
    """

    def __init__(self, room: str) -> None:
        super().__init__()
        self._props["room"] = room


class Ledger(_Part, component="ledger.js"):
    """One row a place with its state, its figures and its range; worst first."""


class FindingList(_Part, component="findings.js"):
    """What is wrong, what to do about it, and where."""


class WayBack(_Part, component="back.js"):
    """What the room hears of the far end, what comes back as echo, and how late."""


class Wiring(_Part, component="wiring.js"):
    """What is joined to what: diagram, cable schedule and bill."""


class Diagram(_Part, component="diagram.js"):
    """The wiring diagram by itself, as large as the sheet allows."""


class Panel(_Part, component="panel.js"):
    """The properties of one item, or of the room, to read and to change."""


class Strip(_Part, component="strip.js"):
    """One voice path, stage by stage, every figure with its working."""


class Solid(_Part, component="solid.js"):
    """The room in space, read only when it is first shown."""


class Capture(_Part, component="capture.js"):
    """Records from the microphone of this machine, or takes a file, for one session.

    Parameters
    ----------
    room, session : str
        Key of the room, name of the session.
    plan : dict
        What the script may not work out itself; see ``static/js/capture/capture.js``.
    """

    def __init__(self, room: str, session: str, plan: Mapping[str, Any]) -> None:
        super().__init__(room)
        self._props["session"] = session
        self._props["plan"] = dict(plan)


class Plan(_Part, component="plan.js"):
    """A sheet on which the room is drawn and changed."""

    def arrived(self, version: int) -> None:
        """Tell the page that the document has become another version."""
        self.run_method("arrived", version)

    def propose(self, drawn: Mapping[str, Any] | None) -> None:
        """Draw what is suggested and not in the room; None takes it away."""
        self.run_method("propose", drawn)
