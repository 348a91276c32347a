"""How a session was measured: source, people, air, processing and sweep, to read and to change."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeAlias, get_args

from nicegui.element import Element

from wellheard.errors import InputError, WellheardError
from wellheard.measurement.session import Active, SessionFolder
from wellheard.web.elements import tag
from wellheard.web.typed import Field, Form, hide, submitted
from wellheard.web.workbench import Workbench
from wellheard.workflow import session_text
from wellheard.workflow.desk import Desk

Number: TypeAlias = tuple[str, str, str, float]
"""Field of the session, word, unit, and how many of that unit are one of the field's."""

STATE: tuple[Number, ...] = (
    ("occupancy", "Seats taken", "%", 100.0),
    ("climate.temperature_c", "Air", "°C", 1.0),
    ("climate.humidity", "Humidity", "%", 100.0),
)
SOURCE: tuple[Number, ...] = (
    ("source.dba_at_1m", "Speech noise at 1 m", "dBA", 1.0),
    ("source.sigma_db", "that is known to ±", "dB", 1.0),
)
SWEEP: tuple[Number, ...] = (
    ("signal.from_hz", "from", "Hz", 1.0),
    ("signal.to_hz", "to", "Hz", 1.0),
    ("signal.seconds", "in", "s", 1.0),
    ("signal.silence", "then silence of", "s", 1.0),
    ("signal.repeats", "played", "times", 1.0),
    ("signal.level_dbfs", "peak re full scale", "dB", 1.0),
)
NUMBERS = (*STATE, *SOURCE, *SWEEP)

SOURCES = {"human": "like a talker", "omni": "alike all round"}
PROCESSING: dict[Active, str] = {
    "canceller": "echo canceller",
    "gate": "gate",
    "mixer": "automatic mixer",
    "leveller": "automatic gain",
    "noise-reduction": "noise reduction",
    "codec": "codec of a call",
}
SWEPT = (
    "Sweeps that are recorded already are read as this says: change it only before the first one."
)


class Settings:
    """The settings of one session on a page.

    Parameters
    ----------
    changed : callable
        Told the session once they are saved.
    """

    def __init__(
        self,
        workbench: Workbench,
        desk: Desk,
        folder: Path,
        changed: Callable[[SessionFolder], None],
    ) -> None:
        self.workbench, self.desk = workbench, desk
        self.folder, self.changed = folder, changed
        self.fields: dict[str, Field] = {}

    def open(self, found: SessionFolder) -> Element:
        """Build them."""
        session = found.session
        source = session.source.directivity
        arrangements = self.desk.state.loaded.room.arrangements
        stands = {"": "not said", **{key: key for key in arrangements}} if arrangements else {}
        with tag("section", classes="prove-settings", aria_label="How it was measured") as made:
            tag("h2", "How it was measured")
            tag(
                "p",
                "The prediction is made again for this state before anything is compared.",
                classes="note",
            )
            with tag("form", novalidate=True) as form:
                for legend, numbers in (("Room", STATE), ("Source", SOURCE), ("Sweep", SWEEP)):
                    with tag("fieldset"):
                        tag("legend", legend)
                        with tag("div", classes="prove-numbers"):
                            if numbers is SOURCE:
                                _choice("Sounds", "directivity", SOURCES, source)
                            if numbers is STATE and stands:
                                _choice("Divided as", "arrangement", stands, session.arrangement)
                            for number in numbers:
                                self._number(found, *number)
                with tag("fieldset"):
                    tag("legend", "Active in the path while recording")
                    for active in get_args(Active):
                        with tag("label", classes="tick"):
                            tag(
                                "input",
                                type="checkbox",
                                name_=f"active-{active}",
                                value="yes",
                                checked=active in session.processing,
                            )
                            tag("span", PROCESSING[active])
                if any(one.kind == "sweep" for one in session.recordings.values()):
                    tag("p", SWEPT, classes="note")
                with tag("div", classes="capture-acts"):
                    tag("button", "save this", type="submit", classes="press")
                    self.said = tag("span", "", classes="note", role="status")
                self.wrong = tag("p", classes="wrong", role="alert", hidden=True)
            submitted(form, self._saved)
        return made

    def _number(self, found: SessionFolder, path: str, word: str, unit: str, scale: float) -> None:
        value: Any = found.session
        for step in path.split("."):
            value = getattr(value, step)
        shown = "" if value is None else f"{round(value * scale, 6):g}".replace("-", "−")
        with tag("label", classes="prove-number"):
            tag("span", word)
            self.fields[path] = Field(path, shown, label=word, classes="num")
            tag("span", unit, classes="soft")

    async def _saved(self, form: Form) -> None:
        for one in self.fields.values():
            one.wrong("")
        hide(self.wrong, True)
        self.said.set_text("")
        try:
            settings = self._typed(form)
            found = await self.workbench.surely(session_text.settle, self.folder, settings)
        except _Mistyped:
            return
        except WellheardError as error:
            self._refused(error)
            return
        self.said.set_text("saved")
        self.changed(found)

    def _typed(self, form: Form) -> dict[str, Any]:
        settings: dict[str, Any] = {}
        for path, _, _, scale in NUMBERS:
            text = form.get(path, "").strip().replace(",", ".").replace("−", "-")
            try:
                number = float(text) / scale if text else None
            except ValueError:
                self.fields[path].wrong(f"{text!r:.20} is no number")
                raise _Mistyped from None
            whole = path == "signal.repeats" and number is not None and number.is_integer()
            settings[path] = int(number) if whole and number is not None else number
        source = form.get("directivity", "")
        settings["source.directivity"] = source if source in SOURCES else None
        settings["arrangement"] = form.get("arrangement") or None
        active = [one for one in get_args(Active) if form.get(f"active-{one}") == "yes"]
        settings["processing"] = active or None
        return settings

    def _refused(self, error: WellheardError) -> None:
        """Say each problem at its field, what has none below."""
        left = []
        for problem in error.problems if isinstance(error, InputError) else ():
            field = self.fields.get(problem.path)
            if field is None:
                left.append(f"{problem.path}: {problem.what}; {problem.allowed}")
            else:
                field.wrong(f"{problem.what}; {problem.allowed}")
                left.append("")
        text = "\n".join(filter(None, left)) if left else str(error)
        self.wrong.set_text(text)
        hide(self.wrong, not text)


class _Mistyped(Exception):
    """Said at its field already."""


def _choice(word: str, name: str, words: Mapping[str, str], now: str | None) -> None:
    with tag("label", classes="prove-number"):
        tag("span", word)
        with tag("select", classes="field", name_=name):
            for value, shown in words.items():
                option = tag("option", shown, value=value)
                if value == (now or ""):
                    option.props["selected"] = True
