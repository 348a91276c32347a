"""``wellheard publish``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from wellheard.cli.exits import Exit


def publish(
    room: Path,
    /,
    *,
    output: Annotated[Path, Parameter(name=["--output", "-o"])],
    readers: Annotated[str | None, Parameter(name="--for")] = None,
    logo: Path | None = None,
    house: Path | None = None,
    session: Path | None = None,
    ifc: Annotated[bool, Parameter(negative="")] = False,
) -> int:
    """Write the documents of a room as it stands; nothing is placed.

    What is found wrong is given the change that mends it best, if there is one, as
    check --changes does.

    Parameters
    ----------
    room
        The room document.
    output
        The folder: new, empty, or written by wellheard and unchanged since.
    readers
        Whose parts are printed, and whose files written, parted by commas: customer, installer,
        it, commissioning, engineer. Everybody's unless given.
    logo
        A PNG or SVG that stands on the customer's page and in the title blocks.
    house
        A YAML text of whoever hands the documents over: company, address, contact, opening,
        closing, terms.
    session
        Folder of a session of measurement made in this room: the documents then say what was
        measured of the promise. Exit 1 where a promise is broken.
    ifc
        Write room.ifc too, a building model (IFC4); needs pip install 'wellheard[ifc]'.
    """
    from wellheard.cli import output as out
    from wellheard.workflow import design as work
    from wellheard.workflow import publish as writing
    from wellheard.workflow import remedying
    from wellheard.workflow.edition import edition_of
    from wellheard.workflow.load import load
    from wellheard.workflow.manifest import check_folder
    from wellheard.workflow.proven import prove_session

    edition = edition_of(readers, logo=logo, house=house, model=ifc)
    loaded = load(room)
    check_folder(output)
    proven = None if session is None else prove_session(loaded, session, say=out.talk)
    judged = work.predict(loaded)
    offers: tuple[remedying.Offer, ...] = ()
    if edition.wants("result.json"):  # nobody else is told of changes
        offers = tuple(remedying.offers(loaded.room, loaded.catalogue, judged, say=out.talk))
    files = writing.publish(
        loaded, judged, output, offers=offers, edition=edition, proven=proven, say=out.talk
    )
    out.payload("\n".join(map(str, files)))
    broken = proven is not None and proven.verdict.word == "broken"
    if broken:
        out.say(f"{session}: the promise is broken; the documents say where, and what was measured")
    return Exit.FINDINGS if judged.errors or broken else Exit.OK
