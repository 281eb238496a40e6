"""Sheets of labels: how many stand on one, how large, and where; as numbers, with the common sizes to choose from."""

from dataclasses import dataclass

from feedwright.errors import BadInput
from feedwright.farm.ground.naming import nearest, within
from feedwright.farm.ground.paper import paper_mm

LEAST_MM = 12.0
"""Smaller, a label holds no code that a phone reads at arm's length (assumed)."""


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """The geometry of one sheet; lengths in mm, from the upper left corner of the paper."""

    paper: str
    """'a4' or 'letter'."""
    columns: int
    rows: int
    width_mm: float
    """Of one label."""
    height_mm: float
    left_mm: float
    """From the paper's edge to the first column."""
    top_mm: float
    gap_x_mm: float = 0.0
    gap_y_mm: float = 0.0
    cut_lines: bool = False
    """True for plain paper, to be cut."""

    def __post_init__(self) -> None:
        within("columns", self.columns, 1, 12)
        within("rows", self.rows, 1, 40)
        within("width", self.width_mm, LEAST_MM, 300, "mm")
        within("height", self.height_mm, LEAST_MM, 300, "mm")
        for name, value in (("left margin", self.left_mm), ("top margin", self.top_mm),
                            ("gap", self.gap_x_mm), ("gap", self.gap_y_mm)):  # fmt: skip
            within(name, value, 0, 150, "mm")
        wide, tall = paper_mm(self.paper)
        for name, needed, there in (("width", self.across_mm, wide), ("height", self.down_mm, tall)):
            if needed > there + 0.2:
                raise BadInput(
                    f"labels' {name}", place=f"{needed:.1f} mm", expected=f"the paper has {there:.1f} mm",
                    remedy="fewer, smaller or closer labels, or a smaller margin",
                )  # fmt: skip

    @property
    def across_mm(self) -> float:
        """From the paper's left edge to the right edge of the last column."""
        return self.left_mm + self.columns * self.width_mm + (self.columns - 1) * self.gap_x_mm

    @property
    def down_mm(self) -> float:
        """From the paper's top to the lower edge of the last row."""
        return self.top_mm + self.rows * self.height_mm + (self.rows - 1) * self.gap_y_mm

    @property
    def count(self) -> int:
        """Labels on one sheet."""
        return self.columns * self.rows

    def corner_mm(self, at: int) -> tuple[float, float]:
        """Upper left corner of the label at a place, counted from 0, row by row."""
        row, column = divmod(at, self.columns)
        return (self.left_mm + column * (self.width_mm + self.gap_x_mm),
                self.top_mm + row * (self.height_mm + self.gap_y_mm))  # fmt: skip


def plain_grid(paper: str, columns: int, rows: int, *, margin_mm: float = 10.0) -> LabelSheet:
    """Labels on plain paper that fill it inside a margin, with lines to cut along."""
    wide, tall = paper_mm(paper)
    width, height = (wide - 2 * margin_mm) / max(columns, 1), (tall - 2 * margin_mm) / max(rows, 1)
    return LabelSheet(paper.casefold(), columns, rows, width, height, margin_mm, margin_mm, cut_lines=True)


PRESETS = {
    "70x37": LabelSheet("a4", 3, 8, 70.0, 37.0, 0.0, 0.5),
    "63.5x38.1": LabelSheet("a4", 3, 7, 63.5, 38.1, 7.2, 15.15, 2.55, 0.0),
    "99.1x38.1": LabelSheet("a4", 2, 7, 99.1, 38.1, 4.65, 15.15, 2.5, 0.0),
    "52.5x29.7": LabelSheet("a4", 4, 10, 52.5, 29.7, 0.0, 0.0),
    "66.7x25.4": LabelSheet("letter", 3, 10, 66.7, 25.4, 4.8, 12.7, 3.1, 0.0),
    "101.6x50.8": LabelSheet("letter", 2, 5, 101.6, 50.8, 4.0, 12.7, 4.7, 0.0),
    "plain-a4": plain_grid("a4", 3, 7),
    "plain-letter": plain_grid("letter", 3, 7),
}
"""Common sizes by label, in mm (from memory: sheets of these sizes are sold everywhere); measure yours before a run."""


def sheet_from(numbers: str) -> LabelSheet:
    """A sheet from its numbers in one line: paper, columns, rows, width, height, left, top, gap x, gap y; in mm."""
    paper, *rest = (part.strip() for part in numbers.split(","))
    try:
        columns, rows, *lengths = (float(part) for part in rest)
        width, height, left, top, gap_x, gap_y = lengths
        return LabelSheet(paper.casefold(), int(columns), int(rows), width, height, left, top, gap_x, gap_y)
    except ValueError as error:
        raise BadInput(
            "sheet", place=f"“{numbers:.60}”", expected="expected a paper and eight numbers, with commas between",
            remedy="such as a4,3,7,63.5,38.1,7.2,15.1,2.5,0",
        ) from error  # fmt: skip


def sheet_named(name: str) -> LabelSheet:
    """A sheet by its name; refuses an unknown one with the nearest."""
    if name in PRESETS:
        return PRESETS[name]
    raise BadInput("sheet", place=f"“{name:.30}”", expected="no such sheet", remedy=nearest(name, PRESETS))
