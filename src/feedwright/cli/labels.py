"""``feedwright labels``: labels with a QR code for machines and spool shelves, as PDF."""

from pathlib import Path
from typing import Annotated

import typer

from feedwright.cli.say import AsJson, FarmFolder, farm, out
from feedwright.errors import BadInput

PdfFile = Annotated[Path, typer.Argument(help="The PDF to write.")]
Machines = Annotated[list[str] | None, typer.Option("--machine", help="Only this machine; give it once for each.")]
Shelves = Annotated[list[str] | None, typer.Option("--shelf", help="Only this shelf of spools; once for each.")]
Sheet = Annotated[
    str, typer.Option("--sheet", help="By label in mm, such as 63.5x38.1 or 66.7x25.4; plain-a4 or plain-letter.")
]
Own = Annotated[
    str,
    typer.Option(
        "--own-sheet",
        help="Your sheet in numbers instead: PAPER,COLUMNS,ROWS,WIDTH,HEIGHT,LEFT,TOP,GAP_X,GAP_Y with lengths in mm, "
        "such as a4,3,7,63.5,38.1,7.2,15.1,2.5,0.",
    ),
]
First = Annotated[int, typer.Option("--first", min=1, help="Place of the first label on a sheet that was begun.")]
Address = Annotated[str, typer.Option("--address", help="Address that the codes lead to; else that of the settings.")]


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("labels")(write_labels)


def write_labels(
    to: PdfFile, machine: Machines = None, shelf: Shelves = None, sheet: Sheet = "63.5x38.1", own: Own = "",
    first: First = 1, address: Address = "", as_json: AsJson = False, folder: FarmFolder = None,
) -> None:  # fmt: skip
    """Write labels with a QR code for machines and spool shelves.

    Scanned, a code opens the machine's page with the three likeliest things to do. All of them, unless some are named.
    """
    from feedwright.farm.ground import settings
    from feedwright.farm.handbook import labels
    from feedwright.farm.handbook.label_sheets import sheet_from, sheet_named

    geometry = sheet_from(own) if own else sheet_named(sheet)
    with farm(folder) as store:
        base = address or settings.address(store)
        if not base:
            raise BadInput(
                "--address", expected="nothing says under which address your phones open the pages",
                remedy="give it, such as http://192.168.1.20:8765, or keep it with `feedwright figure set address`",
            )  # fmt: skip
        held = labels.labels(store, base, of_machines=machine or (), of_shelves=shelf or ())
    to.write_bytes(labels.labels_pdf(held, geometry, first=first))
    sheets = -(-(len(held) + first - 1) // geometry.count)
    said = (
        f"{len(held)} labels on {sheets} {'sheet' if sheets == 1 else 'sheets'} are in {to}. Print them at full size."
    )
    out({"file": str(to), "sheets": sheets, "labels": held}, [said], as_json=as_json)
