"""Attacks as rows, and as they go over the wire."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

from tests.web.wire import TOKEN

ATTACKS = yaml.safe_load(
    (Path(__file__).parents[1] / "cases" / "web" / "attacks.yaml").read_text("utf-8")
)


def attack_bytes(attack: dict[str, Any], port: int, cookie: str, token: str = TOKEN) -> bytes:
    """The attack as it goes over the wire."""
    words = {
        "{host}": f"127.0.0.1:{port}",
        "{port}": str(port),
        "{cookie}": cookie,
        "{value}": cookie.partition("=")[2],
        "{token}": token,
        "{long}": "a" * 2000,
    }
    lines = [*attack["send"], "Accept: application/json"]
    if "padding" in attack:
        lines.append("X-Padding: " + "p" * attack["padding"])
    text = "\r\n".join(lines) + "\r\n\r\n"
    if "chunks" in attack:
        piece = f"2000{attack.get('beside', '')}\r\n" + "c" * 0x2000 + "\r\n"
        text += piece * attack["chunks"] + "0\r\n\r\n"
    text += attack.get("body", "")
    for word, value in words.items():
        text = text.replace(word, value)
    return text.encode("latin-1")
