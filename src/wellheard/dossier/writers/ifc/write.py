"""The IFC4 file of a room: its space, and in it everything that the document places."""

from __future__ import annotations

from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.model import Identity
from wellheard.dossier.writers.ifc.devices import put_devices
from wellheard.dossier.writers.ifc.fittings import put_fittings
from wellheard.dossier.writers.ifc.model import Entity, Model
from wellheard.dossier.writers.ifc.space import put_space
from wellheard.drawings.typesetting import time_stamp
from wellheard.predict.talkers import talkers
from wellheard.room.document import Room

VIEW = "ViewDefinition [ReferenceView_V1.2]"


def write_ifc(room: Room, catalogue: Catalogue, identity: Identity) -> bytes:
    """Return a room and everything placed in it as a building model.

    Microphones, loudspeakers, displays and their electronics are audio-visual or communications
    appliances, each at its acoustic centre with the type of its product; racks, tables and
    chairs are furniture; what is overhead is what the standard has for it. All of it is
    contained in the space. Positions are those of the document; sizes that it does not state
    are nominal, and each such thing says so in its description.

    Parameters
    ----------
    room : Room
        The document.
    catalogue : Catalogue
        Where its finishes and products are looked up.
    identity : Identity
        Which document this is: its date is the time stamp, so equal documents give equal bytes.
        Identities of things follow the project and the room, and outlive revisions.

    Returns
    -------
    bytes
        IFC4 (ISO 16739) in the STEP form of ISO 10303-21. [m]

    Raises
    ------
    InputError
        The library that writes building models is not installed.
    CatalogError
        A finish or product of the document is not in the catalogue.
    """
    project = room.project
    model = Model("\n".join((project.number, project.client, project.site, room.title)))
    space = put_space(model, room, catalogue, identity)
    people = talkers(room)
    inside = [
        *put_fittings(model, room, catalogue, people, within=space.ObjectPlacement),
        *put_devices(model, room, catalogue, people, within=space.ObjectPlacement),
    ]
    if inside:
        model.rooted(
            "IfcRelContainedInSpatialStructure",
            "inside",
            RelatedElements=inside,
            RelatingStructure=space,
        )
    _sign(model.file, room, identity)
    return str(model.file.to_string()).encode()


def _sign(file: Entity, room: Room, identity: Identity) -> None:
    """Fill in the head of the file: nothing in it depends on when or where it is written."""
    program = f"wellheard {identity.tool_version}"
    head = file.header
    head.file_description.description = (VIEW,)
    head.file_name.name = "room.ifc"
    head.file_name.time_stamp = time_stamp(identity.date).strftime("%Y-%m-%dT%H:%M:%S")
    head.file_name.author = (room.project.author,)
    head.file_name.organization = ("",)
    head.file_name.preprocessor_version = program
    head.file_name.originating_system = program
    head.file_name.authorization = ""
