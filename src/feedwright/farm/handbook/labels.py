"""Labels with a QR code for machines and spool shelves: what stands on each, and the sheet as PDF.

Codes are made by a library after ISO/IEC 18004 and drawn as squares, so that they stay sharp at any size.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any
from urllib.parse import quote

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import NotFound
from feedwright.farm.ground.naming import within
from feedwright.farm.ground.paper import BODY, BOLD, POINTS_PER_MM, paper_mm
from feedwright.farm.ground.settings import checked_base
from feedwright.farm.handbook.label_sheets import LabelSheet
from feedwright.farm.machines.machines import machine_named, machines
from feedwright.farm.stores.shelves import shelf_named, shelves
from feedwright.records.store import Store

QUIET_MODULES = 4
"""Clear border round a code: ISO/IEC 18004 asks for four modules."""
LEVEL = "m"
"""Level of error correction: M restores about 15 % of a code."""
PADDING_MM, LARGEST_CODE_MM = 1.5, 40.0


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on one label."""

    name: str
    under: str
    """A line below the name."""
    address: str
    """What the code holds, in full."""


def labels(store: Store, base: str, *, of_machines: Sequence[str] = (), of_shelves: Sequence[str] = ()) -> list[Label]:
    """Labels of the named machines and shelves, or of all there are where none is named."""
    root = checked_base(base)
    some = bool(of_machines or of_shelves)
    chosen = [machine_named(store, name) for name in of_machines] if some else machines(store)
    places = [shelf_named(store, name) for name in of_shelves] if some else shelves(store)
    builds = load_catalogue().builds
    made = [
        Label(
            one.name, builds[one.build].title if one.build in builds else one.build, f"{root}/m/{quote(one.name, '')}"
        )
        for one in chosen
    ]
    made += [Label(place, "Spools", f"{root}/s/{quote(place, '')}") for place in places]
    if not made:
        raise NotFound("label", expected="there is no machine and no shelf yet", remedy="describe a machine first")
    return made


def code_of(address: str) -> list[list[bool]]:
    """The modules of an address's QR code, row by row without the quiet border; True is dark."""
    import segno

    return [[bool(module) for module in row] for row in segno.make_qr(address, error=LEVEL).matrix]


def labels_pdf(held: Sequence[Label], sheet: LabelSheet, *, first: int = 1) -> bytes:
    """The labels on sheets; ``first`` is the place of the first label on a sheet that was begun, counted from 1."""
    from reportlab.pdfgen.canvas import Canvas

    within("first label", first, 1, sheet.count)
    wide, tall = (mm * POINTS_PER_MM for mm in paper_mm(sheet.paper))
    held_in = BytesIO()
    canvas = Canvas(held_in, pagesize=(wide, tall), invariant=1)
    canvas.setTitle("Labels")
    for at, label in enumerate(held, first - 1):
        if at % sheet.count == 0 and at >= first:
            canvas.showPage()
        x_mm, y_mm = sheet.corner_mm(at % sheet.count)
        canvas.saveState()
        canvas.translate(x_mm * POINTS_PER_MM, tall - (y_mm + sheet.height_mm) * POINTS_PER_MM)
        _draw(canvas, label, sheet)
        canvas.restoreState()
    canvas.save()
    return held_in.getvalue()


def _draw(canvas: Any, label: Label, sheet: LabelSheet) -> None:
    """One label, its lower left corner at the origin."""
    wide, tall = sheet.width_mm * POINTS_PER_MM, sheet.height_mm * POINTS_PER_MM
    if sheet.cut_lines:
        canvas.setLineWidth(0.25)
        canvas.setDash([2, 2])
        canvas.rect(0, 0, wide, tall)
        canvas.setDash([])
    padding = PADDING_MM * POINTS_PER_MM
    side = min(tall - 2 * padding, wide * 0.5, LARGEST_CODE_MM * POINTS_PER_MM)
    _draw_code(canvas, code_of(label.address), padding, (tall - side) / 2, side)
    left, room = padding + side + padding / 2, wide - side - 3 * padding
    if room < 12 * POINTS_PER_MM:
        return  # no room beside the code: it stands alone
    size = _fitting(label.name, BOLD, 15.0, room)
    canvas.setFont(BOLD, size)
    canvas.drawString(left, tall / 2 + 2, _cut(label.name, BOLD, size, room))
    canvas.setFont(BODY, 7)
    for line, text in enumerate((label.under, label.address.split("://", 1)[1])):
        canvas.drawString(left, tall / 2 - 9 - 9 * line, _cut(text, BODY, 7, room))


def _draw_code(canvas: Any, modules: list[list[bool]], x: float, y: float, side: float) -> None:
    """The code with its quiet border within a square; dark modules of a row that touch are one bar."""
    unit = side / (len(modules) + 2 * QUIET_MODULES)
    for row, held in enumerate(modules):
        bottom = y + side - (row + 1 + QUIET_MODULES) * unit
        start = None
        for column, dark in enumerate([*held, False]):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                canvas.rect(x + (start + QUIET_MODULES) * unit, bottom, (column - start) * unit, unit, stroke=0, fill=1)
                start = None


def _plain(text: str) -> str:
    return text.encode("cp1252", "replace").decode("cp1252")


def _fitting(text: str, font: str, size: float, room: float) -> float:
    """The largest size down from ``size`` at which the text fits, 8 at least."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    wide = float(stringWidth(_plain(text), font, size))
    return max(8.0, min(size, size * room / max(wide, 1.0)))


def _cut(text: str, font: str, size: float, room: float) -> str:
    from reportlab.pdfbase.pdfmetrics import stringWidth

    shown = _plain(text)
    if stringWidth(shown, font, size) <= room:
        return shown
    while shown and stringWidth(shown + "...", font, size) > room:
        shown = shown[:-1]
    return shown + "..."
