"""Plain HTML forms: what is typed in, and what is wrong with it, said at the field."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from typing import Any, TypeAlias

from nicegui.element import Element
from nicegui.events import GenericEventArguments

from wellheard.web.elements import tag

Form: TypeAlias = Mapping[str, str]
Answer: TypeAlias = Awaitable[None] | None

_SENT = """(e) => {
  e.preventDefault();
  emit(Object.fromEntries([...new FormData(e.target)].filter(([, v]) => typeof v === "string")));
}"""
_LONGEST = 2_000
"""Characters of a field that are looked at."""


def submitted(form: Element, told: Callable[[Form], Answer]) -> None:
    """Tell the text of every named field when a form is sent, by its button or by Enter."""

    def hear(event: GenericEventArguments) -> Answer:
        return told(as_form(event.args))

    form.on("submit", hear, js_handler=_SENT)


def as_form(sent: Any) -> Form:
    """What a browser sent as a form: text by name, nothing else."""
    if not isinstance(sent, dict):
        return {}
    return {str(k): v[:_LONGEST] for k, v in sent.items() if isinstance(v, str)}


def changed(element: Element, told: Callable[[str], Answer], *, event: str = "change") -> None:
    """Tell the value of a field or list when it is changed."""

    element.on(event, _hearing(told), js_handler="(e) => emit(e.target.value)")


def ticked(box: Element, told: Callable[[bool], None]) -> None:
    """Tell whether a box is ticked whenever that is changed."""

    def hear(heard: GenericEventArguments) -> None:
        told(heard.args is True)

    box.on("change", hear, js_handler="(e) => emit(e.target.checked)")


def searched(element: Element, told: Callable[[str], Answer]) -> None:
    """Tell what is in a field of search whenever the hand rests."""
    element.on(
        "input",
        _hearing(told),
        throttle=0.15,
        leading_events=False,
        js_handler="(e) => emit(e.target.value)",
    )


def _hearing(told: Callable[[str], Answer]) -> Callable[[GenericEventArguments], Answer]:
    return lambda heard: told(heard.args[:_LONGEST] if isinstance(heard.args, str) else "")


def button(
    word: str, act: Callable[[], Awaitable[None]], *, classes: str = "word", aria_label: str = ""
) -> Element:
    """A button that does something when it is pressed."""
    made = tag("button", word, classes=classes, type="button")
    if aria_label:
        made.props["aria-label"] = aria_label
    made.on("click", lambda _: act(), args=[])
    return made


def hide(element: Element, hidden: bool) -> None:
    """Take an element out of sight and out of reach, or bring it back."""
    if hidden:
        element.props["hidden"] = True
    else:
        element.props.pop("hidden", None)
    element.update()


def typed_line(
    name: str, text: str, *, label: str = "", classes: str = "", kind: str = "text"
) -> Element:
    """A line to type on, with a text to begin with.

    What is typed there stays, whatever else changes on the page; only another text from here
    takes its place. A page is drawn anew as a whole at every change, and a plain ``value`` would
    be set back each time.
    """
    line = tag(
        "input",
        classes=f"field {classes}".strip(),
        type=kind,
        name_=name,
        autocomplete="off",
        spellcheck="false",
        maxlength=200,
    )
    if label:
        line.props["aria-label"] = label
    put_text(line, text)
    return line


def put_text(line: Element, text: str) -> None:
    """Begin a line or a larger field with this text, in place of what was put there before."""
    line.props[".value"] = text
    line.update()


class Field:
    """A line to type on, and below it the place for what is wrong.

    Parameters
    ----------
    name : str
        In the form that it is part of.
    value : str
        What stands in it at first.
    label : str
        What it is, for those who do not see what stands round it.
    classes : str
        Further CSS classes of the line.
    problems : Element, optional
        Where to say what is wrong; right behind the line unless given.
    """

    def __init__(
        self,
        name: str,
        value: str,
        *,
        label: str,
        classes: str = "",
        problems: Element | None = None,
        **attributes: str | int,
    ) -> None:
        self.input = typed_line(name, value, label=label, classes=classes)
        self.input.props.update(attributes)
        self._label = label
        self._named = problems is not None
        if problems is None:
            self.problem = tag("span", classes="wrong", role="alert", hidden=True)
        else:
            with problems:
                self.problem = tag("p", classes="wrong", role="alert", hidden=True)
        self.problem.props["id"] = f"wrong-{self.problem.id}"
        self.input.props["aria-describedby"] = f"wrong-{self.problem.id}"

    def wrong(self, text: str) -> None:
        """Say what is wrong with what was typed; empty for nothing."""
        self.input.props["aria-invalid"] = "true" if text else "false"
        self.input.update()
        self.problem.set_text(f"{self._label}: {text}" if self._named and text else text)
        if text:
            self.problem.props.pop("hidden", None)
        else:
            self.problem.props["hidden"] = True
        self.problem.update()
