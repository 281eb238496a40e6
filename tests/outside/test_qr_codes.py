"""Labels are read back by a reader written from the standard.

Sources: ISO/IEC 18004 (finder, timing and format patterns, masks, block structure, Reed-Solomon code); its example
symbol's rule that four modules stay clear around a code.
"""

import sys
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream

sys.path.insert(0, str(Path(__file__).parent))  # the reader stands beside the tests

from qr_reader import read

from feedwright.farm.handbook.label_sheets import PRESETS, LabelSheet
from feedwright.farm.handbook.labels import QUIET_MODULES, Label, code_of, labels_pdf

ADDRESSES = ["http://10.0.0.7/m/A", "http://192.168.1.20:8765/m/Maple",
             "http://farm.local:8765/m/Ash%20%26%20%27Oak%27",
             "https://yard.example/feed/s/Shelf%20by%20the%20window",
             "http://[fd00::1]:8765/m/" + "Willow" * 6]  # fmt: skip


@pytest.mark.parametrize("address", ADDRESSES)
def test_a_code_holds_its_address_by_the_standards_own_rules(address: str) -> None:
    assert read(code_of(address)) == address


def test_a_wrong_module_is_noticed() -> None:
    code = code_of(ADDRESSES[1])
    code[12][12] = not code[12][12]
    with pytest.raises(AssertionError, match="Reed-Solomon"):
        read(code)


@pytest.mark.parametrize("sheet", PRESETS.values(), ids=PRESETS)
def test_the_printed_sheet_holds_the_codes_where_the_labels_are(sheet: LabelSheet) -> None:
    held = [Label(f"Machine {at}", "", f"http://10.0.0.7:8765/m/{at}") for at in range(sheet.count + 2)]
    pages = PdfReader(BytesIO(labels_pdf(held, sheet, first=3))).pages
    assert len(pages) == 2
    read_back = [code for page in pages for code in _codes(page)]
    assert [address for address, _ in read_back] == [label.address for label in held]
    for at, (_, (left, top, side)) in enumerate(read_back, 2):
        x_mm, y_mm = sheet.corner_mm(at % sheet.count)
        assert x_mm <= left
        assert left + side <= x_mm + sheet.width_mm
        assert y_mm <= top
        assert top + side <= y_mm + sheet.height_mm


def _codes(page) -> list[tuple[str, tuple[float, float, float]]]:
    """Each code that is drawn on a page: its text, and its square with the quiet border, in mm from the upper left."""
    height, mm, labels, pending = float(page.mediabox.height), 72 / 25.4, [], None
    shift = (0.0, 0.0)
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        if operator == b"q":
            labels.append([])
        elif operator == b"cm":
            shift = (float(operands[4]), float(operands[5]))
        elif operator == b"re":
            x, y, width, tall = (float(one) for one in operands)
            pending = (shift[0] + x, shift[1] + y, width, tall)
        elif operator in (b"f", b"f*") and pending is not None:
            labels[-1].append(pending)
    return [_read_square(bars, height, mm) for bars in labels if bars]


def _read_square(bars, height: float, mm: float) -> tuple[str, tuple[float, float, float]]:
    unit = bars[0][3]
    left, top = min(bar[0] for bar in bars), max(bar[1] + bar[3] for bar in bars)
    size = round((max(bar[0] + bar[2] for bar in bars) - left) / unit)
    modules = [[False] * size for _ in range(size)]
    for x, y, width, _ in bars:
        row, column = round((top - y - unit) / unit), round((x - left) / unit)
        for at in range(round(width / unit)):
            modules[row][column + at] = True
    quiet = QUIET_MODULES * unit
    square = ((left - quiet) / mm, (height - top - quiet) / mm, (size * unit + 2 * quiet) / mm)
    return read(modules), square
