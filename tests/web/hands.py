"""What tests of pages do with their hands: press, type, wait and read."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from nicegui.element import Element
from nicegui.testing import User, UserInteraction

HOSTILE = "<img src=x onerror=alert(1)> {{7*7}} ${x}"
LONG = 60
"""Tries of a tenth of a second each: reading and predicting take their time on a busy machine."""


async def until(true: Callable[[], object]) -> None:
    """Wait for something that happens by itself."""
    for _ in range(20 * LONG):
        if true():
            return
        await asyncio.sleep(0.05)
    raise AssertionError("it did not come to pass")


def texts(user: User) -> str:
    """Every text of the page, in the order that it was made in."""
    assert user.client is not None
    return "\n".join(str(getattr(e, "text", "")) for e in user.client.elements.values())


def tagged(user: User, name: str, **props: str) -> list[Element]:
    """Elements of an HTML name with these attributes."""
    assert user.client is not None
    return [
        e
        for e in user.client.elements.values()
        if e.tag == name and all(e.props.get(k) == v for k, v in props.items())
    ]


def press(user: User, word: str, label: str = "") -> None:
    """Press the button of this word."""
    assert user.client is not None
    found = [
        e
        for e in tagged(user, "button")
        if getattr(e, "text", "") == word and (not label or e.props.get("aria-label") == label)
    ]
    assert found, f"no button {word!r} {label!r}"
    fire(user, found[0], "click")


def fire(user: User, element: Element, event: str, sent: Any = None) -> None:
    """Let the browser send an event."""
    UserInteraction(user, {element}, None).trigger(event, sent)
