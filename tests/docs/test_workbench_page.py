"""What the page of the workbench says of its keys, limits and words is what the program has."""

from __future__ import annotations

import re
from pathlib import Path

from wellheard.dossier.words import count_word
from wellheard.forms import source
from wellheard.store import listing
from wellheard.web import serving, sessions
from wellheard.web.pages import design
from wellheard.workflow import choosing
from wellheard.workflow.examples import examples

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "tutorials" / "workbench.md").read_text("utf-8")
WORDS = " ".join(PAGE.split())


def test_the_table_of_keys_is_the_list_that_the_plan_shows() -> None:
    script = ROOT / "src" / "wellheard" / "web" / "static" / "js" / "plan" / "keys.js"
    listed = script.read_text("utf-8").partition("export const KEYS = [")[2].partition("\n];")[0]
    keys = re.findall(r"\['([^']+)', '([^']+)'\]", listed)
    assert len(keys) == len(listed.strip().splitlines())
    table = PAGE.partition("| keys | what |\n|---|---|\n")[2].partition("\n\n")[0]
    assert re.findall(r"^\| (.+?) \| (.+) \|$", table, flags=re.MULTILINE) == keys


def test_the_numbers_on_the_page_are_those_of_the_program() -> None:
    assert f"another than {serving.USUAL_PORT}" in WORDS
    assert f"at most {sessions.MOST} browsers" in WORDS
    assert f"at most {listing.MOST_ROOMS:,} rooms" in WORDS
    assert f"at most {source.MOST_BYTES / 1e6:g} MB" in WORDS
    assert f"finds up to {count_word(choosing.MOST)} that differ in price" in WORDS
    assert "eight example rooms" in WORDS
    assert len(examples()) == 8


def test_layers_are_named_as_their_buttons_are() -> None:
    for _, word in design.LAYERS:
        assert f"*{word}*" in WORDS


def test_places_and_views_of_the_wiring_are_named_as_their_buttons_are() -> None:
    assert ("wiring", "Wiring") in design.SIDES
    assert ("diagram", "wiring") in design.VIEWS
    for word in ("Wiring", "Findings", "wiring", "Wire…", "treat…", "Make this change"):
        assert f"*{word}*" in WORDS
