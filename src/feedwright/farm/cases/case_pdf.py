"""The written answer as PDF, on A4, in a standard font that every reader has."""

from html import escape
from io import BytesIO
from typing import Any

from feedwright.diagnosis.answer import Point, Section, WrittenAnswer

MARGIN_MM = 20.0
CAUTION = "Caution: "


def answer_pdf(answer: WrittenAnswer) -> bytes:
    """The answer laid out on pages with numbers; the same answer gives the same bytes."""
    from reportlab.lib.pagesizes import A4
    from reportlab.lib.units import mm
    from reportlab.platypus import SimpleDocTemplate

    held = BytesIO()
    margin = MARGIN_MM * mm
    document = SimpleDocTemplate(
        held, pagesize=A4, leftMargin=margin, rightMargin=margin, topMargin=margin, bottomMargin=margin,
        title=answer.title, author="", subject="", creator="Feedwright", lang="en", invariant=1,
    )  # fmt: skip
    document.build(_story(answer), onFirstPage=_number_page, onLaterPages=_number_page)
    return held.getvalue()


def _number_page(canvas: Any, document: Any) -> None:
    canvas.setFont("Helvetica", 9)
    canvas.drawRightString(document.pagesize[0] - document.rightMargin, document.bottomMargin / 2, str(document.page))


def _story(answer: WrittenAnswer) -> list[Any]:
    styles = _styles()
    story = [_said(styles["title"], answer.title), _said(styles["body"], answer.opening)]
    for section in answer.sections:
        story.append(_said(styles["section"], section.title))
        for number, point in enumerate(section.points, 1):
            story.append(_point(styles, section, number, point))
    return story


def _point(styles: dict[str, Any], section: Section, number: int, point: Point) -> Any:
    from reportlab.platypus import KeepTogether

    mark = f"{number}." if section.numbered else "\u2022"
    heading = styles["point"] if point.lines or point.steps else styles["plain"]
    parts = [_said(heading, point.heading, bullet=mark)]
    parts += [_said(styles["line"], line) for line in point.lines]
    parts += [_said(styles["step"], step, bullet="\u2013") for step in point.steps]
    parts += [_said(styles["caution"], CAUTION + caution) for caution in point.cautions]
    return KeepTogether(parts)


def _said(style: Any, text: str, bullet: str | None = None) -> Any:
    from reportlab.platypus import Paragraph

    # the standard fonts hold the signs of Windows-1252; what lies beyond is shown as a question mark
    plain = escape(text.encode("cp1252", "replace").decode("cp1252"))
    return Paragraph(plain, style, bulletText=bullet)


def _styles() -> dict[str, Any]:
    from reportlab.lib.colors import HexColor
    from reportlab.lib.styles import ParagraphStyle

    body = ParagraphStyle("body", fontName="Helvetica", fontSize=10.5, leading=14.5, spaceAfter=3)

    def like(name: str, **changes: Any) -> Any:
        return ParagraphStyle(name, parent=body, **changes)

    return {
        "body": body,
        "title": like("title", fontName="Helvetica-Bold", fontSize=17, leading=21, spaceAfter=8),
        "section": like("section", fontName="Helvetica-Bold", fontSize=13, leading=17, spaceBefore=12, keepWithNext=1),
        "point": like("point", fontName="Helvetica-Bold", leftIndent=16, bulletIndent=2, spaceBefore=5),
        "plain": like("plain", leftIndent=16, bulletIndent=2),
        "line": like("line", leftIndent=16),
        "step": like("step", leftIndent=28, bulletIndent=17),
        "caution": like("caution", leftIndent=16, backColor=HexColor("#f6e3bd"), borderPadding=3, spaceBefore=5),
    }
