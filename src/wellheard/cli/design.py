"""``wellheard design``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from wellheard.cli import saving
from wellheard.cli.exits import Exit
from wellheard.cli.output import Format


def design(
    room: Path,
    /,
    *,
    output: Annotated[Path, Parameter(name=["--output", "-o"])],
    format: Format = "text",
    time_limit: float = 60.0,
    alternatives: int = 0,
    readers: Annotated[str | None, Parameter(name="--for")] = None,
    logo: Path | None = None,
    house: Path | None = None,
    ifc: Annotated[bool, Parameter(negative="")] = False,
) -> int:
    """The main job: place, wire, predict, check, and write every document.

    The folder is written whole or not at all. It holds the room document with its devices and
    cables, dossier.pdf, every drawing as SVG, PDF and DXF (plan, section, wiring; of a room that
    divides a plan for each arrangement), the schedules as schedules.xlsx and CSV (positions,
    cables, labels, bill, ledger), result.json, and manifest.json with the hash of each. What is
    still found wrong is given the change that mends it best, if there is one, as check --changes
    does. A promise that cannot be met gets its documents too, and exit 1.

    Parameters
    ----------
    room
        The room document; it is not changed.
    output
        The folder: new, empty, or written by wellheard and unchanged since.
    format
        text or json.
    time_limit
        Seconds for the search; when they are over, the answer says by how far it may be off.
    alternatives
        How many other designs to choose from, by price, chance and what is done to the building;
        each with its documents in a folder under alternatives. 0 looks for none.
    readers
        Whose parts are printed, and whose files written, parted by commas: customer, installer,
        it, commissioning, engineer. Everybody's unless given; the room document is written for
        commissioning and engineer.
    logo
        A PNG or SVG that stands on the customer's page and in the title blocks.
    house
        A YAML text of whoever hands the documents over: company, address, contact, opening,
        closing, terms.
    ifc
        Write room.ifc too, a building model (IFC4); needs pip install 'wellheard[ifc]'.
    """
    from wellheard.cli import output as out
    from wellheard.cli import render, render_alternatives, render_back, wire
    from wellheard.errors import UsageError
    from wellheard.workflow import alternative_answers, publish, remedying
    from wellheard.workflow import alternatives as others
    from wellheard.workflow import design as work
    from wellheard.workflow.edition import edition_of
    from wellheard.workflow.load import load
    from wellheard.workflow.manifest import check_folder

    saving.some_seconds(time_limit)
    if not 0 <= alternatives <= others.MOST:
        raise UsageError(f"--alternatives: {alternatives}; 0 to {others.MOST} are allowed")
    edition = edition_of(readers, logo=logo, house=house, model=ifc)
    loaded = load(room)
    check_folder(output)
    designed = work.design(loaded, time_limit=time_limit, say=out.talk)
    found, enclosed = None, publish.Enclosed()
    if alternatives:
        found = others.alternatives(
            loaded, alternatives, leading=designed, time_limit=time_limit, say=out.talk
        )
        enclosed = alternative_answers.enclosed(loaded, found)
    judged, proposal = designed.judged, designed.placed.proposal
    offers: tuple[remedying.Offer, ...] = ()
    if format == "json" or edition.wants("result.json"):  # nobody else is told of changes
        offers = tuple(remedying.offers(designed.room, loaded.catalogue, judged, say=out.talk))
    files = publish.publish(
        loaded, designed, output, enclosed=enclosed, offers=offers, edition=edition, say=out.talk
    )
    if format == "json":
        out.json_payload({**publish.design_answer(designed, offers), **enclosed.answer})
    else:
        evidence, document = judged.evidence, str(output / publish.room_file_name(loaded))
        out.payload(
            "\n\n".join(
                [
                    render.verdict(judged, proposal),
                    render.placement(proposal, evidence.room),
                    render.ledger(evidence),
                    *filter(None, [render_back.way_back(evidence)]),
                    *([wire.text(designed.wired)] if designed.wired else []),
                    render.findings(judged.findings, offers, room=document),
                    *([render_alternatives.text(loaded, found)] if found else []),
                    "\n".join(map(str, files)),
                ]
            )
        )
    return Exit.OK if designed.kept else Exit.FINDINGS
