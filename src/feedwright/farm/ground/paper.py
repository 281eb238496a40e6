"""A printed book: page sizes, styles, a contents page with page numbers, and bookmarks for a reader on a screen.

The standard fonts that every PDF reader has (ISO 32000-1, 9.6.2.2) hold the signs of Windows-1252; what lies beyond is
shown as a question mark.
"""

from collections.abc import Callable, Sequence
from functools import cache
from html import escape
from io import BytesIO
from typing import Any

from feedwright.errors import BadInput

PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height: ISO 216; ANSI/ASME Y14.1."""
MARGIN_MM, GUTTER = 18.0, 22.0
POINTS_PER_MM = 72 / 25.4
BODY, BOLD = "Helvetica", "Helvetica-Bold"
CAUTION_FILL, RULE = "#f6e3bd", "#b9af9b"
Told = Callable[[float, float], None]


def paper_mm(name: str) -> tuple[float, float]:
    """Width and height of a paper by its name; refuses an unknown one."""
    if name.casefold() not in PAPERS_MM:
        raise BadInput("paper", place=f"“{name:.20}”", expected="expected a4 or letter", remedy="choose one of these")
    return PAPERS_MM[name.casefold()]


def shown(text: str) -> str:
    """Text as a paragraph takes it, with the signs that the fonts hold."""
    return escape(text.encode("cp1252", "replace").decode("cp1252"))


@cache
def styles() -> dict[str, Any]:
    """Every style of the book by name."""
    from reportlab.lib.colors import HexColor
    from reportlab.lib.styles import ParagraphStyle

    body = ParagraphStyle("body", fontName=BODY, fontSize=9.6, leading=13, spaceAfter=3)

    def like(name: str, **changes: Any) -> Any:
        return ParagraphStyle(name, parent=body, **changes)

    return {
        "body": body,
        "title": like("title", fontName=BOLD, fontSize=26, leading=31, spaceAfter=10),
        "lead": like("lead", fontSize=11.5, leading=16, spaceAfter=6),
        "chapter": like("chapter", fontName=BOLD, fontSize=18, leading=23, spaceAfter=8, keepWithNext=1),
        "entry": like("entry", fontName=BOLD, fontSize=12.5, leading=16, spaceBefore=12, spaceAfter=3, keepWithNext=1),
        "under": like("under", fontName=BOLD, spaceBefore=5, spaceAfter=1, keepWithNext=1),
        "faded": like("faded", fontSize=8.4, leading=11, textColor=HexColor("#5c5546")),
        "point": like("point", leftIndent=13, bulletIndent=2, spaceAfter=1.5),
        "cell": like("cell", fontSize=8.6, leading=11, spaceAfter=0),
        "cellhead": like("cellhead", fontName=BOLD, fontSize=8.6, leading=11, spaceAfter=0),
        "caution": like("caution", backColor=HexColor(CAUTION_FILL), borderPadding=(3, 4, 3, 4), leftIndent=4,
                        rightIndent=4, spaceBefore=6, spaceAfter=6),
        "toc1": like("toc1", fontName=BOLD, spaceBefore=6),
        "toc2": like("toc2", leftIndent=8, rightIndent=18, fontSize=7.8, leading=9.4, spaceAfter=0),
    }  # fmt: skip


def said(text: str, style: str = "body", bullet: str | None = None) -> Any:
    """A paragraph of plain text."""
    from reportlab.platypus import Paragraph

    return Paragraph(shown(text), styles()[style], bulletText=bullet)


def points(texts: Sequence[str], *, numbered: bool = False) -> list[Any]:
    """A list of short texts."""
    return [said(text, "point", f"{at}." if numbered else "\u2022") for at, text in enumerate(texts, 1)]


def cautions(texts: Sequence[str]) -> list[Any]:
    """Cautions, each in its own band."""
    return [said(f"Caution: {text}", "caution") for text in texts]


def heading(text: str, style: str) -> Any:
    """A heading that the contents and the bookmarks lead to: style 'chapter' or 'entry'."""
    held = said(text, style)
    held.entry = text
    return held


def rows(head: Sequence[str], lines: Sequence[Sequence[Any]], shares: Sequence[float]) -> Any:
    """A table of texts and pictures as wide as the page's text; its head stands on every page.

    ``shares`` are the columns' parts of the width.
    """
    from reportlab.lib.colors import HexColor
    from reportlab.platypus import Table, TableStyle

    cells = [[said(text, "cellhead") for text in head]] if head else []
    cells += [[said(held, "cell") if isinstance(held, str) else held for held in line] for line in lines]
    table = Table(cells, colWidths=[f"{100 * share:g}%" for share in shares], repeatRows=1 if head else 0)
    rule = HexColor(RULE)
    table.setStyle(TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 0.4, rule),
        ("TOPPADDING", (0, 0), (-1, -1), 2), ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
    ]))  # fmt: skip
    table.spaceBefore, table.spaceAfter = 3, 6
    return table


def book(story: Sequence[Any], *, paper: str, title: str, foot: str, told: Told | None = None) -> bytes:
    """The story laid out, with page numbers and bookmarks; the same story gives the same bytes.

    ``told`` hears how many pages are done and how many there were in the pass before; contents take several passes.
    """
    from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

    width, height = (mm * POINTS_PER_MM for mm in paper_mm(paper))
    margin, levels = MARGIN_MM * POINTS_PER_MM, {"chapter": 0, "entry": 1}

    def number_page(canvas: Any, document: Any) -> None:
        canvas.setFont(BODY, 8.5)
        canvas.drawString(margin, margin / 2, foot.encode("cp1252", "replace").decode("cp1252"))
        canvas.drawRightString(width - margin, margin / 2, str(document.page))

    class Book(BaseDocTemplate):  # type: ignore[misc]
        def afterFlowable(self, flowable: Any) -> None:  # noqa: N802 - reportlab's name
            text = getattr(flowable, "entry", None)
            if text is None:
                return
            level = levels[flowable.style.name]
            key = f"entry-{self.seq.nextf('entry')}"
            self.canv.bookmarkPage(key)
            self.canv.addOutlineEntry(text.encode("cp1252", "replace").decode("cp1252"), key, level, closed=level == 0)
            self.notify("TOCEntry", (level, shown(text), self.page, key))

    held = BytesIO()
    document = Book(
        held, pagesize=(width, height), leftMargin=margin, rightMargin=margin, topMargin=margin, bottomMargin=margin,
        title=title, author="", subject="", creator="Feedwright", lang="en", invariant=1,
    )  # fmt: skip
    whole, half = width - 2 * margin, (width - 2 * margin - GUTTER) / 2
    tall = height - 2 * margin
    columns = [Frame(margin + at * (half + GUTTER), margin, half, tall, 0, 0, 0, 0) for at in (0, 1)]
    document.addPageTemplates([
        PageTemplate("page", [Frame(margin, margin, whole, tall, 0, 0, 0, 0)], onPage=number_page),
        PageTemplate("columns", columns, onPage=number_page),
    ])  # fmt: skip
    if told is not None:
        document.setProgressCallBack(_Passes(told))
    document.multiBuild(list(story))
    return held.getvalue()


class _Passes:
    """Turns what reportlab says of its progress into pages done."""

    def __init__(self, told: Told) -> None:
        self._told, self._pages, self._last = told, 0, 1

    def __call__(self, what: str, value: Any) -> None:
        if what == "PASS":
            self._last, self._pages = max(self._pages, 1), 0
        elif what == "PAGE":
            self._pages = int(value)
            self._told(float(self._pages), float(max(self._last, self._pages)))


def contents() -> list[Any]:
    """The list of chapters and entries with their pages, in two columns on pages of its own."""
    from reportlab.platypus import NextPageTemplate, PageBreak, TableStyle
    from reportlab.platypus.tableofcontents import TableOfContents

    tight = TableStyle([(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("TOP", "BOTTOM", "LEFT", "RIGHT")])
    held = TableOfContents(dotsMinLevel=9, tableStyle=tight)
    held.levelStyles = [styles()["toc1"], styles()["toc2"]]
    return [NextPageTemplate("columns"), PageBreak(), said("Contents", "under"), held, NextPageTemplate("page")]
