"""Handing over: documents are made, looked through, taken along, and told when out of date."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile

from nicegui.testing import User

from tests.web.hands import HOSTILE, fire, press, tagged, texts, until
from wellheard.web.jobs import Job
from wellheard.web.pages.documents import archive
from wellheard.web.workbench import Workbench
from wellheard.workflow import tasks
from wellheard.workflow.load import document_hash
from wellheard.workflow.tasks import Published

KEY = "huddle-four"
PAGE = f"/rooms/{KEY}/documents"


def job_of(workbench: Workbench) -> Job:
    found = workbench.jobs.last(tasks.PUBLISH, KEY)
    assert found is not None
    return found


async def made(user: User, workbench: Workbench, *, prove: bool = False) -> Published:
    await user.open(PAGE)
    if not prove:
        fire(user, tagged(user, "input", type="checkbox")[0], "change", False)
    press(user, "make the documents")
    await until(lambda: any("leaf" in e.classes for e in tagged(user, "section")))
    result: Published = job_of(workbench).result
    return result


async def test_empty_it_says_one_sentence_and_offers_one_action(user: User) -> None:
    await user.open(PAGE)
    assert "No documents have been made of this room yet." in texts(user)
    pressed = [e for e in tagged(user, "button") if "press" in e.classes]
    assert [getattr(e, "text", "") for e in pressed] == ["make the documents"]


async def test_documents_are_looked_through_page_by_page(user: User, workbench: Workbench) -> None:
    found = await made(user, workbench)
    count = len(found.pages)
    assert f"page 1 of {count}" in texts(user)
    press(user, "next")
    assert f"page 2 of {count}" in texts(user)
    fire(user, tagged(user, "button", **{"aria-label": f"Page {count}"})[0], "click")
    assert f"page {count} of {count}" in texts(user)
    press(user, "next")
    assert f"page {count} of {count}" in texts(user)
    shown = next(e for e in tagged(user, "img") if str(count) in str(e.props["alt"]))
    answer = await user.http_client.get(shown.props["src"])
    assert answer.headers["content-type"] == "image/png"
    assert answer.content == found.pages[-1]
    current = [e for e in tagged(user, "button") if e.props.get("aria-current") == "page"]
    assert len(current) == 1


async def test_every_file_can_be_taken_and_all_at_once(user: User, workbench: Workbench) -> None:
    found = await made(user, workbench)
    address = f"{PAGE}/{job_of(workbench).id}"
    for name, data in found.files.items():
        answer = await user.http_client.get(f"{address}/file/{name}")
        assert answer.content == data
        assert answer.headers["content-disposition"].startswith("attachment")
    answer = await user.http_client.get(f"{address}/all.zip")
    with zipfile.ZipFile(io.BytesIO(answer.content)) as zipped:
        assert {n: zipped.read(n) for n in zipped.namelist()} == found.files
        told = json.loads(zipped.read("manifest.json"))["files"]
    assert told == {
        name: hashlib.sha256(data).hexdigest()
        for name, data in found.files.items()
        if name != "manifest.json"
    }
    assert found.files["dossier.pdf"].startswith(b"%PDF-")


async def test_every_file_comes_as_what_it_is_and_is_called_so(
    user: User, workbench: Workbench
) -> None:
    found = await made(user, workbench)
    address = f"{PAGE}/{job_of(workbench).id}"
    endings = {name.rpartition(".")[2] for name in found.files}
    assert endings <= set(MEDIA_TYPES)
    for name in found.files:
        answer = await user.http_client.get(f"{address}/file/{name}")
        kind = answer.headers["content-type"].partition(";")[0]
        assert kind == MEDIA_TYPES[name.rpartition(".")[2]]
    said = texts(user)
    for words in (
        "ceiling plan, for drawing programs",
        "section, a picture",
        "the dossier, to print",
    ):
        assert words in said
    assert said.count("seat ledger") == 1


MEDIA_TYPES = {
    "pdf": "application/pdf",
    "svg": "image/svg+xml",
    "dxf": "image/vnd.dxf",
    "csv": "text/csv",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "json": "application/json",
    "yaml": "application/yaml",
}
"""As registered with IANA [M]."""
NOT_MADE = (
    "page/0.png",
    "page/999.png",
    "page/-1.png",
    "page/1e9.png",
    "page/²3.png",
    "file/..%2f..%2fetc%2fpasswd",
    "file/nothing.pdf",
    "file/%2e%2e",
)


async def test_what_was_not_made_is_not_there(user: User, workbench: Workbench) -> None:
    published = Published("Made up", {"a.csv": b"1"}, (b"png",), "0000-0000", "", False)
    job = workbench.jobs.start(tasks.PUBLISH, label=KEY, text="", path="", prove=False)
    job.wait(60)
    job._result = published  # as if it had been made: only the routes are looked at
    await user.open(PAGE)
    assert (await user.http_client.get(f"{PAGE}/{job.id}/file/a.csv")).content == b"1"
    for end in NOT_MADE:
        assert (await user.http_client.get(f"{PAGE}/{job.id}/{end}")).status_code == 404, end
    assert (await user.http_client.get(f"{PAGE}/unknown/file/a.csv")).status_code == 404
    other = f"/rooms/ten-seats/documents/{job.id}/file/a.csv"
    assert (await user.http_client.get(other)).status_code == 404


async def test_out_of_date_is_said_with_the_time_until_they_are_made_again(
    user: User, workbench: Workbench
) -> None:
    found = await made(user, workbench)
    desk = workbench.desk(KEY)
    assert found.document == document_hash(desk.state.loaded.document.text)
    stale = next(e for e in tagged(user, "div") if "stale" in e.classes)
    assert stale.props.get("hidden")
    change = [{"path": "title", "set": HOSTILE}]
    done = desk.commit(change, base=desk.state.version, key="title-001", what="title", unit="m")
    await until(lambda: not stale.props.get("hidden"))
    assert f"Out of date since {done.state.saved_at:%H:%M}" in texts(user)
    await user.open(PAGE)
    assert "Out of date since" in texts(user), "also on a page that is opened later"
    press(user, "make them again")
    await until(lambda: job_of(workbench).state == "done")
    await until(lambda: HOSTILE in texts(user) and "Pages" in texts(user))
    stale = next(e for e in tagged(user, "div") if "stale" in e.classes)
    assert stale.props.get("hidden")


async def test_without_microphones_the_proof_is_missed_in_words(
    user: User, workbench: Workbench
) -> None:
    await made(user, workbench, prove=True)
    assert "Without a proof: no microphone is placed" in texts(user)


async def test_what_fails_is_said_and_can_be_tried_again(user: User, workbench: Workbench) -> None:
    job = workbench.jobs.start(tasks.PUBLISH, label=KEY, text="units: yd", path="x.room.yaml")
    assert job.wait(60) == "failed"
    await user.open(PAGE)
    assert "The documents could not be made: x.room.yaml" in texts(user)
    assert "wellheard: 1" in job.error
    assert job.error in texts(user)
    assert "make the documents" in texts(user)


async def test_making_them_can_be_cancelled(user: User, workbench: Workbench) -> None:
    workbench.jobs.most = 0
    await user.open(PAGE)
    press(user, "make the documents")
    assert "waiting until other work is done" in texts(user)
    press(user, "cancel")
    await until(lambda: "No documents have been made of this room yet." in texts(user))
    assert job_of(workbench).state == "cancelled"


def test_equal_files_make_an_equal_archive() -> None:
    files = {"plan.svg": b"<svg/>", "ledger.csv": b"a,b\r\n"}
    assert archive(files) == archive(dict(files))
    with zipfile.ZipFile(io.BytesIO(archive(files))) as zipped:
        assert zipped.testzip() is None
