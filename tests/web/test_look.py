"""The colours of the screen: the drawing's own tokens, and enough contrast by WCAG 2.

Contrast after the WCAG 2.2 definition of relative luminance (https://www.w3.org/TR/WCAG22/),
formula from memory [M]; words need 4.5, lines and marks 3 (success criteria 1.4.3 and 1.4.11).
"""

from __future__ import annotations

import re

import pytest

from wellheard.drawings import tokens
from wellheard.web.app import STATIC

NAMES = (
    "desk",
    "paper",
    "panel",
    "ink",
    "ink-2",
    "ink-3",
    "rule",
    "faint",
    "accent",
    "accent-wash",
)


def _declared(theme: str) -> dict[str, str]:
    text = (STATIC / "tokens.css").read_text("utf-8")
    start = text.index({"white": ":root, .white {", "slate": ".slate, :root"}[theme])
    return dict(
        re.findall(r"--([a-z0-9-]+): (#[0-9a-f]{6});", text[start : text.index("}", start)])
    )


def _luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def _contrast(one: str, other: str) -> float:
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("theme", ["white", "slate"])
def test_the_screen_has_the_colours_of_the_drawings(theme: tokens.ThemeName) -> None:
    declared = _declared(theme)
    for name in (*NAMES, *(f"tint-{i}" for i in range(tokens.TINTS))):
        assert declared[name] == tokens.colour(name, theme), name


@pytest.mark.parametrize("theme", ["white", "slate"])
def test_words_and_lines_stand_out_from_what_they_are_on(theme: str) -> None:
    of = _declared(theme)
    for ground in ("paper", "panel", "desk", "accent-wash"):
        for words in ("ink", "ink-2", "ink-3", "accent"):
            assert _contrast(of[words], of[ground]) >= 4.5, (words, ground)
    for ground in ("paper", "panel", "desk"):
        assert _contrast(of["rule"], of[ground]) >= 3.0, ground
    for step in range(tokens.TINTS):
        for words in ("ink", "ink-2", "accent"):
            assert _contrast(of[words], of[f"tint-{step}"]) >= 4.5, (words, step)


def test_black_on_white_is_21_to_1() -> None:
    assert _contrast("#000000", "#ffffff") == pytest.approx(21.0)
