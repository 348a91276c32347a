"""``wellheard catalog``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, TypeAlias

from cyclopts import App, Parameter

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

Kind: TypeAlias = Literal[
    "all",
    "microphones",
    "processors",
    "loudspeakers",
    "amplifiers",
    "switches",
    "extenders",
    "cables",
    "accessories",
    "finishes",
]

Devices: TypeAlias = Literal[
    "microphones", "processors", "loudspeakers", "amplifiers", "switches", "extenders"
]

catalog = App(
    name="catalog",
    help="What the catalogue holds, and your own products in it. Shipped products are invented.",
)


@catalog.command(name="list")
def list_(
    kind: Kind = "all",
    /,
    *,
    search: str = "",
    format: Format = "text",
) -> int:
    """List products, parts and finishes with their ids.

    Parameters
    ----------
    kind
        What to list.
    search
        Only what has this word in its id, name or note.
    format
        text or json.
    """
    from wellheard.cli import datasheet, output
    from wellheard.workflow import product_answers as answers
    from wellheard.workflow.products import own_catalogue

    catalogue = own_catalogue()
    kinds = answers.KINDS if kind == "all" else (kind,)
    found = {name: answers.found(catalogue, name, search) for name in kinds}
    if format == "json":
        output.json_payload(
            {name: [answers.listed(catalogue, e) for e in es] for name, es in found.items()}
        )
        return Exit.OK
    blocks = [datasheet.listing(catalogue, name, es) for name, es in found.items() if es]
    if not blocks:
        blocks = [f"Nothing has {search!r} in its id, name or note."]
    output.payload("\n\n".join([*blocks, datasheet.closing(catalogue)]))
    return Exit.OK


@catalog.command
def show(entry: str, /, *, format: Literal["text", "json", "yaml"] = "text") -> int:
    """Show the whole data sheet of a product, cable, accessory or finish.

    Parameters
    ----------
    entry
        Its id.
    format
        text, json, or yaml: an entry to copy, rename and edit.
    """
    from wellheard.catalog.export import written
    from wellheard.cli import datasheet, output
    from wellheard.workflow import product_answers as answers
    from wellheard.workflow.products import own_catalogue

    catalogue = own_catalogue()
    found = answers.named(catalogue, entry)
    if format == "json":
        output.json_payload({"entries": [answers.shown(catalogue, one) for one in found]})
    elif format == "yaml":
        output.payload(written(found))
    else:
        output.payload("\n\n".join(datasheet.sheet(catalogue, one) for one in found))
    return Exit.OK


@catalog.command
def check(*files: Path, format: Format = "text") -> int:
    """Check files of your own products: problems, and the defaults that were taken.

    Parameters
    ----------
    files
        NAME.products.yaml, or NAME.KIND.csv.
    format
        text or json.
    """
    import datetime

    from wellheard.cli import datasheet, output
    from wellheard.errors import UsageError
    from wellheard.workflow import product_answers as answers
    from wellheard.workflow import products

    if not files:
        raise UsageError("no file; name one or more files of products")
    found = products.check(files, today=datetime.date.today())
    if format == "json":
        output.json_payload(answers.checked(found))
    else:
        output.payload(datasheet.check_report(found))
    return Exit.FINDINGS if found.implausible else Exit.OK


@catalog.command
def add(
    *files: Path,
    accept: Annotated[bool, Parameter(negative="")] = False,
    update: Annotated[bool, Parameter(negative="")] = False,
    format: Format = "text",
) -> int:
    """Add files of products to your own catalogue, once they are checked.

    Parameters
    ----------
    files
        NAME.products.yaml, or NAME.KIND.csv.
    accept
        Add them although figures are implausible.
    update
        Put them in the places of your own files of the same names.
    format
        text or json.
    """
    import datetime

    from wellheard.cli import datasheet, output
    from wellheard.errors import UsageError
    from wellheard.workflow import product_answers as answers
    from wellheard.workflow import products

    if not files:
        raise UsageError("no file; name one or more files of products")
    found = products.check(files, today=datetime.date.today(), update=update)
    refused = bool(found.implausible) and not accept
    added = () if refused else products.add(found, update=update)
    if format == "json":
        output.json_payload({**answers.checked(found), **answers.added(added)})
    else:
        lines = [datasheet.addition(one) for one in added] or [
            "Nothing was added; correct the figures, or accept them with --accept."
        ]
        output.payload("\n".join([datasheet.check_report(found), "", *lines]))
    return Exit.FINDINGS if refused else Exit.OK


@catalog.command
def connect(
    product: str | None = None,
    /,
    *,
    rows: Devices = "microphones",
    columns: Devices = "processors",
    format: Format = "text",
) -> int:
    """Say what connects to what, by the kinds of their ports.

    Parameters
    ----------
    product
        All that connects to this one; without it, a table of rows by columns.
    rows
        Kind of product down the side.
    columns
        Kind of product along the top.
    format
        text or json.
    """
    from wellheard.catalog import connections
    from wellheard.cli import output, plugs
    from wellheard.workflow.products import own_catalogue

    catalogue = own_catalogue()
    if product is not None:
        one = catalogue.product(product)
        found = [
            (other, connection)
            for other in catalogue.products
            for connection in connections.connections(one, other)
        ]
        if format == "json":
            output.json_payload({"product": one.id, "connects": plugs.partners_json(found)})
        else:
            output.payload(plugs.partners(one, found))
        return Exit.OK
    table = connections.table(getattr(catalogue, rows), getattr(catalogue, columns))
    if format == "json":
        output.json_payload(plugs.table_json(table))
    else:
        output.payload(plugs.matrix(table))
    return Exit.OK
