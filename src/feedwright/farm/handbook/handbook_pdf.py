"""The handbook on paper, to hand to a helper or to somebody who asked."""

from collections.abc import Iterable, Iterator
from typing import Any

from feedwright.catalogue.drawings import Drawing, feed_path
from feedwright.catalogue.entry import Grade, PartKind, Sourced
from feedwright.catalogue.grade_drawings import HIGH, WIDE, grade_drawing
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import Step as Check
from feedwright.catalogue.procedures import Procedure, load_procedures
from feedwright.farm.ground.drawing_pdf import draw, draw_marks
from feedwright.farm.ground.paper import Told, book, cautions, contents, heading, points, rows, said
from feedwright.farm.handbook.handbook import STATE_WORDS, CauseChapter, Handbook, Learned, PartChapter, SignChapter
from feedwright.farm.handbook.part_sheets import law_words
from feedwright.units import BY_SUFFIX, show_rounded

TITLE = "Handbook of the feed path"
GENERAL = (
    "Hot ends burn, moving axes pinch, blades cut, overheated plastics give off harmful fumes, and mains voltage "
    "kills. Switch off and let it cool where the work allows, wear what protects eyes and hands, ventilate, follow "
    "your local rules, and leave mains work to somebody qualified. What stands here is no substitute for the maker's "
    "own manual."
)
HOW_TO_READ = (
    "A number is followed by its band in brackets, nine times in ten, and by where it comes from. Many of these "
    "numbers are common practice or assumed, as each says; what this farm has found itself stands apart, under "
    "“Learned here”. Lives are medians: half of such parts last less long."
)
PLACES = {"drive": "At the drive", "tube": "The guide tube", "hot end": "The hot end", "carriage": "On the carriage",
          "frame": "The frame", "bed": "The bed", "electrics": "Electrics", "spool": "At the spool"}  # fmt: skip
DRAWING_SCALE, GRADE_SCALE = 0.66, 0.5
CLOSE_SCALE, CLOSE_UNITS = 0.62, 150.0
"""Of the close view of one part: points per unit, and how many units of the feed path's height it shows."""
MOST_CAUSES = 6


def handbook_pdf(held: Handbook, *, paper: str = "a4", told: Told | None = None) -> bytes:
    """The handbook as PDF on A4 or letter; ``told`` hears pages done and pages expected."""
    foot = f"{TITLE} · {held.farm}" if held.farm else TITLE
    return book([*_story(held)], paper=paper, title=TITLE, foot=f"{foot} · {held.at_utc:%d %b %Y}", told=told)


def _story(held: Handbook) -> Iterator[Any]:
    from reportlab.platypus import PageBreak

    yield said(TITLE, "title")
    yield said(
        "Every wear part of a filament printer, every cause of trouble, every check and every procedure.", "lead"
    )
    of = f"Written by the records of {held.farm}, " if held.farm else "Without a farm's own records, "
    yield said(f"{of}{held.at_utc:%d %B %Y}.", "lead")
    yield from cautions([GENERAL])
    build = load_catalogue().builds["moving_bed_remote"]
    yield _picture(feed_path(build.drive, build.hot_end, [kind for kind, _, _ in build.parts]))
    yield from contents()
    chapters = (
        ("Before you begin", _before(held)),
        ("Parts", (part for chapter in held.parts for part in _part(chapter))),
        ("What you see, and what may be behind it", (part for chapter in held.signs for part in _sign(chapter))),
        ("Causes", (part for chapter in held.causes for part in _cause(chapter, held.closed_cases))),
        ("Checks", (part for check in held.checks for part in _check(check, held))),
        ("Repairs", (part for check in held.repairs for part in _check(check, held))),
        ("Procedures", (part for procedure in held.procedures for part in _procedure(procedure))),
        ("Materials", _materials(held)),
        ("Sources", _sources(held)),
    )
    for title, parts in chapters:
        yield PageBreak()
        yield heading(title, "chapter")
        yield from parts


def _before(held: Handbook) -> Iterator[Any]:
    yield said(HOW_TO_READ)
    yield heading("The cautions of all procedures", "entry")
    yield from cautions(held.cautions)


def _part(chapter: PartChapter) -> Iterator[Any]:
    kind = chapter.kind
    yield heading(kind.title, "entry")
    yield _beside([said(kind.does, "lead"), said(f"{PLACES[kind.place]}. {_found_on(kind)}", "faded")], kind)
    yield from cautions(kind.cautions)
    yield said("What wears it", "under")
    yield said(f"{law_words(kind)} Counted in {kind.exposure.unit}.")
    yield rows(("Number", "Value and band", "Where from"), [*_numbers(kind)], (0.34, 0.26, 0.4))
    yield said("What a look shows", "under")
    yield rows(
        ("", "", "What it looks like", "Life used"),
        [(_grade_picture(kind.id, one.id), one.title, one.look, _life_used(one)) for one in kind.grades],
        (0.12, 0.12, 0.5, 0.26),
    )
    yield from points(kind.look_for)
    yield said("How it fails", "under")
    yield from points([
        f"{one.title}: {one.shows}" + (" (unseen until a check)" if one.hidden else "") for one in kind.failures
    ])  # fmt: skip
    yield said("Renewal", "under")
    needs = [*kind.renewal.parts, *kind.renewal.tools]
    yield said(
        f"{_upper(kind.renewal.title)}: about {_value(kind.renewal.minutes)} minutes"
        + (", with the nozzle hot" if kind.renewal.heats else "")
        + (", the bed to be trammed afterwards" if kind.renewal.needs_tram else "")
        + (f". Wants: {', '.join(needs)}." if needs else ".")
    )
    if chapter.procedures:
        yield said("Procedures: " + "; ".join(one.title for one in chapter.procedures) + ".")
    if chapter.causes:
        yield said("Troubles that come with it: " + "; ".join(one.title for one in chapter.causes) + ".")
    yield from _learned(chapter.learned)


def _numbers(kind: PartKind) -> Iterator[tuple[str, str, str]]:
    unit = kind.exposure.unit
    for name, number in kind.exposure.numbers.items():
        yield _name(name, number.unit), _value(number), _source(number)
    yield f"Median life, {unit}", _value(kind.life.median), _source(kind.life.median)
    shape = "Weibull shape" if kind.life.distribution == "weibull" else "1 / sigma of log life"
    yield f"Spread between like parts ({shape})", _value(kind.life.shape), _source(kind.life.shape)
    yield "Chance that its failure spoils the print", _value(kind.spoils_frac), _source(kind.spoils_frac)
    for product in kind.products:
        yield f"Life of: {product.title}, times the plain one", _value(product.life_ratio), _source(product.life_ratio)


def _learned(learned: Learned | None) -> Iterator[Any]:
    if learned is None:
        return
    yield said("Learned here", "under")
    ratio = learned.times_rule
    if learned.findings:
        yield said(
            f"Of {learned.fitted} fitted so far, {learned.findings} told something and {learned.failures} failed. By "
            f"that such a part lasts {show_rounded(ratio.mid)} times the rule of thumb on this farm (eight in ten: "
            f"{show_rounded(ratio.low)} to {show_rounded(ratio.high)})."
        )
    else:
        yield said(f"{learned.fitted} fitted so far, none looked at yet: the rule of thumb holds.")
    yield from points([
        f"{machine}, {one.found_utc:%d %b %Y}: {one.grade or 'a reading'}" + (f" – {one.note}" if one.note else "")
        for machine, one in learned.latest
    ])  # fmt: skip


def _sign(chapter: SignChapter) -> Iterator[Any]:
    from reportlab.platypus import KeepTogether

    yield KeepTogether([
        heading(_upper(chapter.sign.title), "entry"),
        said(chapter.sign.ask),
        *points([
            f"{cause.title} ({strength.value:.0%} of such troubles show it)"
            for cause, strength in chapter.causes[:MOST_CAUSES]
        ]),
    ])  # fmt: skip


def _cause(chapter: CauseChapter, closed: int) -> Iterator[Any]:
    cause = chapter.cause
    yield heading(cause.title, "entry")
    yield said(cause.because)
    yield said(f"{PLACES[cause.place]}. There in {_value(cause.prior_frac)} of troubles, nothing else known "
               f"({_source(cause.prior_frac)}).", "faded")  # fmt: skip
    if chapter.shows:
        yield said(
            "Shows: " + "; ".join(f"{sign.title} ({strength.value:.0%})" for sign, strength in chapter.shows) + "."
        )
    yield said(f"Cured by: {chapter.cure.title}.")
    if closed:
        yield said(f"Met on this farm: {chapter.met} of {closed} closed cases.")


def _check(check: Check, held: Handbook) -> Iterator[Any]:
    yield heading(check.title, "entry")
    cost = f"; parts about {_value(check.parts_cost)} {load_catalogue().figures.currency}" if check.parts_cost else ""
    yield said(
        f"About {_value(check.minutes)} minutes, {STATE_WORDS[check.state]}{cost} ({_source(check.minutes)}).", "faded"
    )
    yield from cautions(check.cautions)
    yield from points(check.how, numbered=len(check.how) > 1)
    if check.reveals:
        yield said("Answers: " + "; ".join(held.observations[name].title for name in check.reveals) + ".")


def _procedure(procedure: Procedure) -> Iterator[Any]:
    from reportlab.platypus import KeepTogether

    service = load_procedures()
    yield heading(procedure.title, "entry")
    yield said(procedure.purpose)
    minutes = sum(step.minutes + step.timer_minutes for step in procedure.steps)
    tools = _once(tool for step in procedure.steps for tool in step.tools)
    wants = _once(part for step in procedure.steps for part in step.parts)
    yield said(
        f"About {show_rounded(minutes)} minutes, without the heating."
        + (f" Tools: {', '.join(tools)}." if tools else "") + (f" Parts: {', '.join(wants)}." if wants else "")
        + f" {_upper(load_catalogue().sources[procedure.source].title)}.", "faded",
    )  # fmt: skip
    given: set[str] = set()
    for number, step in enumerate(procedure.steps, 1):
        fresh = [service.cautions[name] for name in step.cautions if name not in given]
        given.update(step.cautions)
        state = "" if step.state == "any" else f" ({STATE_WORDS[step.state]})"
        timer = f" Wait {show_rounded(step.timer_minutes)} minutes." if step.timer_minutes else ""
        why = [said(step.why, "faded")] if step.why else []
        yield KeepTogether([*cautions(fresh), said(f"{step.do}{timer}{state}", "point", f"{number}."), *why])
    if procedure.proofs:
        yield said("Prove before release: " + "; ".join(service.proofs[name].title for name in procedure.proofs) + ".")


def _materials(held: Handbook) -> Iterator[Any]:
    yield rows(
        ("Material", "Nozzle, °C", "Bed, °C", "Softens at, °C", "g/cm³", "Nozzle wear", "Water"),
        [(one.title, f"{one.nozzle_c.low:g} to {one.nozzle_c.high:g}", f"{one.bed_c.low:g} to {one.bed_c.high:g}",
          show_rounded(one.glass_c.value), show_rounded(one.density_g_cm3.value),
          show_rounded(one.abrasive_ratio.value), one.moisture) for one in held.materials],
        (0.17, 0.11, 0.1, 0.1, 0.08, 0.09, 0.35),
    )  # fmt: skip
    yield said("Nozzle wear is per kilogram, over that of the plain polymer.", "faded")


def _sources(held: Handbook) -> Iterator[Any]:
    yield said("What a number may rest on:")
    yield from points([
        ", ".join(filter(None, (_upper(one.title), str(one.year or ""), one.identifier))) for one in held.sources
    ])  # fmt: skip


def _life_used(grade: Grade) -> str:
    failed = ", no longer does its job" if grade.failed else ""
    return f"{grade.life_low_frac:.0%} to {grade.life_high_frac:.0%}{failed}"


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _once(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))


def _found_on(kind: PartKind) -> str:
    drive = {
        "any": "",
        "remote": "On builds with the drive on the frame.",
        "direct": "On builds with the drive on the carriage.",
    }
    hot_end = {"any": "", "lined": "Where the tube lines the hot end.", "all_metal": "On all-metal hot ends."}
    return " ".join(filter(None, (drive[kind.drive], hot_end[kind.hot_end]))) or "On every build."


def _name(name: str, unit: str) -> str:
    words = name.removesuffix(f"_{unit}").replace("_", " ")
    return f"{_upper(words)}, {BY_SUFFIX[unit].symbol}" if unit in BY_SUFFIX else _upper(words)


def _value(number: Sourced) -> str:
    def shown(value: float) -> str:
        return f"{100 * value:.2g}" if number.unit == "frac" else show_rounded(value)

    band = f" ({shown(number.low)} to {shown(number.high)})" if number.high > number.low else ""
    return f"{shown(number.value)}{' %' if number.unit == 'frac' else ''}{band}"


def _source(number: Sourced) -> str:
    source = load_catalogue().sources[number.source]
    title = {"practice": "common practice", "memory": "from memory", "assumed": "assumed"}.get(
        source.kind, source.title
    )
    return ", ".join(filter(None, (title, number.where))) + (f"; {number.note}" if number.note else "")


def _beside(words: list[Any], kind: PartKind) -> Any:
    """Words with a close view of the feed path beside them, on which the part stands out."""
    from reportlab.platypus import Table, TableStyle

    drive = "remote" if kind.drive == "any" else kind.drive
    hot_end = "lined" if kind.hot_end == "any" else kind.hot_end
    others = [one.id for one in load_catalogue().parts.values() if one.id not in ("guide_wheel", "linear_bearing")]
    picture = _close_view(feed_path(drive, hot_end, [*others, kind.id]), kind.id)
    table = Table([[words, picture]], colWidths=["79%", "21%"])
    table.setStyle(TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0)]))
    return table


def _close_view(drawing: Drawing, chosen: str) -> Any:
    from reportlab.platypus import Flowable

    scale, tall = CLOSE_SCALE, CLOSE_UNITS * CLOSE_SCALE
    top = min(max(drawing.anchors[chosen][1] - CLOSE_UNITS / 2, 0.0), drawing.height - CLOSE_UNITS)

    class CloseView(Flowable):  # type: ignore[misc]
        def wrap(self, _width: float, _height: float) -> tuple[float, float]:
            return drawing.width * scale, tall

        def draw(self) -> None:
            frame = self.canv.beginPath()
            frame.rect(0, 0, drawing.width * scale, tall)
            self.canv.saveState()
            self.canv.clipPath(frame, stroke=0)
            draw(self.canv, drawing, 0, tall + top * scale, scale, chosen=chosen)
            self.canv.restoreState()
            self.canv.setLineWidth(0.4)
            self.canv.rect(0, 0, drawing.width * scale, tall)

    return CloseView()


def _grade_picture(part: str, grade: str) -> Any:
    """What a look shows, beside its words."""
    from reportlab.platypus import Flowable

    class GradePicture(Flowable):  # type: ignore[misc]
        def wrap(self, _width: float, _height: float) -> tuple[float, float]:
            return WIDE * GRADE_SCALE, HIGH * GRADE_SCALE

        def draw(self) -> None:
            draw_marks(self.canv, grade_drawing(part, grade), GRADE_SCALE)

    return GradePicture()


def _picture(drawing: Drawing) -> Any:
    """The whole drawing with the name of every part."""
    from reportlab.platypus import Flowable

    scale = DRAWING_SCALE

    class Picture(Flowable):  # type: ignore[misc]
        def wrap(self, _width: float, _height: float) -> tuple[float, float]:
            return (drawing.width + 190) * scale, drawing.height * scale

        def draw(self) -> None:
            draw(self.canv, drawing, 0, drawing.height * scale, scale)
            self.canv.setLineWidth(0.5)
            self.canv.setFont("Helvetica", 9)
            for kind, (x, y) in drawing.anchors.items():
                at = (drawing.height - drawing.tags[kind]) * scale
                self.canv.line(x * scale, (drawing.height - y) * scale, 168 * scale, at)
                self.canv.drawString(172 * scale, at - 3, load_catalogue().parts[kind].title)

    return Picture()
