"""Plain HTML elements with text and attributes that are never parsed."""

from __future__ import annotations

from nicegui.elements.mixins.text_element import TextElement


def tag(
    name: str, text: str = "", *, classes: str = "", **attributes: str | int | float | bool
) -> TextElement:
    """An element of this name in the present slot.

    Parameters
    ----------
    name : str
        Of the HTML element.
    text : str
        Shown as text, whatever is in it.
    classes : str
        Our own CSS classes, separated by spaces.
    **attributes
        HTML attributes; ``for_`` and ``class_`` lose their last underscore and others become
        hyphens: ``aria_label``. True stands for an attribute without a value; False leaves it out.
    """
    element = TextElement(tag=name, text=text)
    if classes:
        element.classes(classes)
    for key, value in attributes.items():
        if value is not False:
            element.props[key.rstrip("_").replace("_", "-")] = value
    return element
