"""Text that is legal in a document does nothing in what is made of it.

What is dangerous where is a fact of the formats: CSV and spreadsheets after OWASP ASVS 5.0,
requirement 1.2.10; XML 1.0 for SVG; ISO 32000-1, 12.6 (actions) for PDF [M].
"""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from tests.effort import some
from wellheard.cells import is_formula
from wellheard.cli import render
from wellheard.room import codec
from wellheard.workflow import publish, survey
from wellheard.workflow.design import Judged, predict
from wellheard.workflow.load import Loaded, load

pytestmark = pytest.mark.usefixtures("few_rays", "effects_untried")

ROOT = Path(__file__).parents[2]
TEXTS = {
    "script": "<script>alert(1)</script>",
    "entity": "&lt;b&gt; <!ENTITY x> ]]> <![CDATA[",
    "attribute": '" onload="alert(1)" x=\'',
    "markup": '#image("/etc/passwd") #read("x")',
    "maths": "$ sum_(i=0) $ *bold* _it_ `raw` = Head \\",
    "link": "[click](https://example.invalid) <label> @ref https://example.invalid",
    "call": "#eval(1+1) #{ panic() } #let x = 1 //",
    "formula": "=cmd|' /C calc'!A0",
    "sum": "@SUM(1+1)*cmd",
    "plus": "+1+cmd",
    "minus": "-2+3+cmd",
    "wide": "＝HYPERLINK(1)",
    "shell": "$(rm -rf x) `id` ; | & > ~",
    "path": "../../../etc/passwd",
    "device": "con",
    "format": "%s %n {0} {title} {{7*7}}",
    "invisible": "zero\u200bwidth \u2060join\ufeffer",
    "emoji": "☕👩\u200d💻🏳️‍🌈",
    "letters": "ﷺ שלום نص 漢字 ẍ̷̧͓̭̫",
    "long": "W" * 200,
    "unbroken": "a-" * 100,
}
CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


TITLES = ("script", "markup", "letters", "long")
"""Texts that a room is made with as its title; the others are spread over its other fields."""


def hostile(path: Path, title: str) -> Loaded:
    """The smallest example with a text wherever one is free, each field with another."""
    example = load(ROOT / "examples" / "huddle-four" / "huddle-four.room.yaml")
    start = list(TEXTS).index(title)
    texts = iter([*TEXTS.values()][start:] + [*TEXTS.values()][:start])
    plain = dict(example.document.source.data)
    plain["title"] = next(texts)
    project = {name: next(texts) for name in ("client", "site", "author", "number", "revision")}
    plain["project"] = {**plain.get("project", {}), **project}
    plain["site"] = {"region": next(texts), "seismic": next(texts)}
    note = {"kind": "rack", "at": [0.3, 0.3, 0.5], "note": next(texts)}
    plain["equipment"] = {"rack": note}
    plain["targets"] = {
        **plain.get("targets", {}),
        "house_rules": {"microphone-near-wall": {"relaxed": True, "because": next(texts)}},
    }
    plain["devices"] = {
        "m1": {"kind": "microphone", "product": "table-boundary", "at": [1.6, 1.5, 0.74]}
    }
    file = path / "hostile.room.yaml"
    file.write_text(codec.dump(codec.from_data(plain)), "utf-8")
    return load(file)


@pytest.fixture(scope="module", params=some(TITLES, (1, 2)), ids=str)
def made(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[str, Loaded, Judged, dict[str, bytes]]:
    """A title, its room, what is said of it, and every file that is published."""
    loaded = hostile(tmp_path_factory.mktemp("hostile"), request.param)
    judged = predict(loaded)
    return TEXTS[request.param], loaded, judged, publish.published_files(loaded, judged)


Made = tuple[str, Loaded, Judged, dict[str, bytes]]


def test_the_text_comes_back_as_it_went_in(made: Made) -> None:
    text, loaded, _, _ = made
    assert loaded.room.title == text
    assert loaded.room.project.client in TEXTS.values()


def test_file_names_do_not_follow_the_text(made: Made) -> None:
    _, _, _, files = made
    for name in files:
        assert re.fullmatch(r"[a-z0-9][a-z0-9.-]*", name), name


def test_drawings_are_plain_xml_that_loads_and_runs_nothing(made: Made) -> None:
    _, _, _, files = made
    for name, data in files.items():
        if not name.endswith(".svg"):
            continue
        root = ElementTree.fromstring(data)
        for element in root.iter():
            tag = element.tag.rpartition("}")[2].lower()
            assert tag not in ("script", "foreignobject", "image", "iframe", "a", "animate", "set")
            for key, value in element.attrib.items():
                assert not key.rpartition("}")[2].lower().startswith("on")
                if key.rpartition("}")[2] == "href":
                    assert value.startswith("#")
        assert not CONTROL.search(data.decode())


def test_the_drawing_has_the_text_as_text(made: Made) -> None:
    text, _, _, files = made
    drawn = "".join(ElementTree.fromstring(files["plan.svg"]).itertext())
    # It may be cut to fit; what is there is the text itself, not what it would mean.
    assert text[:4] in drawn


def test_the_dossier_prints_the_text_and_acts_on_nothing(made: Made) -> None:
    text, loaded, _, files = made
    reader = PdfReader(io.BytesIO(files["dossier.pdf"]))
    raw = files["dossier.pdf"]
    for word in (b"/JavaScript", b"/Launch", b"/EmbeddedFile", b"/OpenAction", b"/URI"):
        assert word not in raw
    assert not any(page.get("/Annots") and _links(page) for page in reader.pages)
    printed = re.sub(r"\s", "", "".join(page.extract_text() for page in reader.pages))
    for said in (text, loaded.room.project.client):
        if said.isascii():
            assert re.sub(r"\s", "", said)[:20] in printed
    assert "root:" not in printed


def _links(page: object) -> list[str]:
    found = []
    for annotation in page["/Annots"]:  # type: ignore[index]
        action = annotation.get_object().get("/A")
        if action is not None:
            found.append(str(action.get_object().get("/S")))
    return [kind for kind in found if kind != "/GoTo"]


def test_no_cell_of_the_ledger_is_a_formula(made: Made) -> None:
    _, _, _, files = made
    for name, data in files.items():
        if name.endswith(".csv"):
            for row in csv.reader(io.StringIO(data.decode()), strict=True):
                assert not any(map(is_formula, row))


def test_json_is_json_and_has_the_text(made: Made) -> None:
    text, _, _, files = made
    result = json.loads(files["result.json"], parse_constant=pytest.fail)
    assert result["prediction"]["title"] == text


def test_the_terminal_gets_nothing_to_obey(made: Made) -> None:
    _, _, judged, _ = made
    said = [
        render.verdict(judged),
        render.ledger(judged.evidence),
        render.findings(judged.findings),
    ]
    for answer in said:
        assert not CONTROL.search(answer)


@pytest.mark.parametrize("name", ["formula", "sum", "wide", "link"])
def test_no_cell_of_a_spreadsheet_is_a_formula_or_a_link(tmp_path: Path, name: str) -> None:
    loaded = hostile(tmp_path, name)
    data = survey.written(survey.survey(loaded), "xlsx")
    book = load_workbook(io.BytesIO(data))
    cells = [c for sheet in book.worksheets for row in sheet.iter_rows() for c in row]
    assert all(c.data_type != "f" for c in cells)
    assert all(c.hyperlink is None for c in cells)
    assert any(str(c.value or "").find(TEXTS[name][:8]) >= 0 for c in cells)
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        assert not any("external" in n.lower() or "vba" in n.lower() for n in parts.namelist())
        for part in parts.namelist():
            if part.startswith("xl/worksheets/"):
                assert b"<f>" not in parts.read(part)
