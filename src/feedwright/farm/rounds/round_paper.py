"""The sheet of a round: what to take along, and stop by stop what to tick off; as values, and as PDF."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from feedwright.catalogue.procedures import load_procedures
from feedwright.errors import NotFound
from feedwright.farm.ground.paper import book, cautions, heading, said
from feedwright.farm.ground.settings import farm_name, zone
from feedwright.farm.rounds.bench_hours import day_of
from feedwright.farm.rounds.round_sheets import rounds_sheet
from feedwright.farm.rounds.round_tasks import MATERIAL
from feedwright.farm.rounds.round_values import Round, Stop
from feedwright.farm.service.visit_plan import merged_for, with_proofs
from feedwright.records.store import Store
from feedwright.units import show_duration

CAUTION = (
    "Hot metal burns, axes pinch, blades cut, mains voltage kills. Switch off and let it cool where the work allows; "
    "each visit shows its own cautions. Follow your local rules; mains-side work is for somebody qualified."
)
BOX_PT = 9.0


@dataclass(frozen=True, slots=True)
class PaperStop:
    """One stop with what it takes."""

    stop: Stop
    tools: tuple[str, ...]
    parts: tuple[str, ...]
    proofs: tuple[str, ...]
    """What must be proved before the machine is let go."""


@dataclass(frozen=True, slots=True)
class PaperRound:
    """One round: everything to take along, then its stops."""

    round: Round
    tools: tuple[str, ...]
    parts: tuple[tuple[str, int], ...]
    """Each with how many stops want it."""
    stops: tuple[PaperStop, ...]


@dataclass(frozen=True, slots=True)
class RoundPaper:
    """Sheets of one round, or of all that are planned."""

    farm: str
    zone_name: str
    made_utc: datetime
    rounds: tuple[PaperRound, ...]
    caution: str = CAUTION

    @property
    def zone(self) -> ZoneInfo:
        """Where its times are meant."""
        return ZoneInfo(self.zone_name)


def round_paper(store: Store, now_utc: datetime, day: str = "") -> RoundPaper:
    """The sheet of the round on that day; of all that are planned where none is named."""
    sheet = rounds_sheet(store, now_utc)
    wanted = day_of(day) if day else None
    rounds = tuple(_paper_round(one) for one in sheet.rounds if wanted in (None, one.day))
    if not rounds:
        days = ", ".join(one.day.isoformat() for one in sheet.rounds) or "none"
        raise NotFound("round", place=day, expected="none is planned then", remedy=f"planned: {days}")
    return RoundPaper(farm_name(store), str(zone(store)), sheet.made_utc, rounds)


def _paper_round(one: Round) -> PaperRound:
    stops = tuple(_paper_stop(stop) for stop in one.stops)
    tools = tuple(dict.fromkeys(tool for stop in stops for tool in stop.tools))
    parts = Counter(part for stop in stops for part in stop.parts)
    return PaperRound(one, tools, tuple(parts.items()), stops)


def _paper_stop(stop: Stop) -> PaperStop:
    held = load_procedures()
    procedures = with_proofs({task.procedure: held.procedures[task.procedure] for task in stop.tasks}.values())
    merged, _ = merged_for(stop.machine, procedures, MATERIAL)
    proofs = dict.fromkeys(proof for one in procedures for proof in one.proofs)
    return PaperStop(stop, merged.tools, merged.parts, tuple(held.proofs[proof].title for proof in proofs))


def paper_pdf(held: RoundPaper, *, paper: str = "a4") -> bytes:
    """The sheets laid out for printing, each round from a page of its own; ``paper`` is a4 or letter."""
    days = [one.round.day for one in held.rounds]
    title = f"Round of {_long(days[0])}" if len(days) == 1 else f"Rounds from {_long(days[0])} to {_long(days[-1])}"
    foot = f"{held.farm} · planned {held.made_utc.astimezone(held.zone):%d %b %Y, %H:%M}"
    return book(list(_story(held)), paper=paper, title=title, foot=foot)


def _long(day: date) -> str:
    return f"{day:%A, %d %B %Y}"


def _story(held: RoundPaper) -> Iterator[Any]:
    from reportlab.platypus import KeepTogether, PageBreak

    for number, one in enumerate(held.rounds):
        if number:
            yield PageBreak()
        yield heading(f"Round of {_long(one.round.day)}", "chapter")
        begins = one.round.begins_utc.astimezone(held.zone)
        stops = len(one.stops)
        yield said(f"From {begins:%H:%M}, {show_duration(60 * one.round.minutes)}, {stops} "
                   f"{'machine' if stops == 1 else 'machines'}.", "lead")  # fmt: skip
        yield from cautions([held.caution])
        yield said("Take along", "under")
        yield _ticks([f"{part} × {count}" if count > 1 else part for part, count in one.parts] or ["no parts"])
        yield said("Tools", "under")
        yield _ticks(one.tools)
        for stop in one.stops:
            yield KeepTogether(list(_stop(held, stop)))


def _stop(held: RoundPaper, one: PaperStop) -> Iterator[Any]:
    begins = one.stop.begins_utc.astimezone(held.zone)
    yield heading(f"{begins:%H:%M}  {one.stop.machine.name}, {show_duration(60 * one.stop.minutes)}", "entry")
    lines = [
        f"{task.title} ({task.stock})" if task.stock else task.title
        for task in one.stop.tasks
    ]  # fmt: skip
    lines += [f"prove: {proof.lower()}" for proof in one.proofs] + ["let the machine go again"]
    yield _ticks(lines, columns=1)
    for task in one.stop.tasks:
        yield said(f"{task.title}: {' '.join(task.because)}", "faded")
    yield said("Found: ______________________________________________   Minutes: ________   By: ____________", "faded")


def _ticks(texts: tuple[str, ...] | list[str], columns: int = 2) -> Any:
    """Texts with a box each to tick, side by side in columns."""
    from reportlab.platypus import Table, TableStyle

    rows = [texts[at : at + columns] for at in range(0, len(texts), columns)]
    cells = [[cell for text in row for cell in (_box(), said(text[:1].upper() + text[1:], "cell"))] for row in rows]
    wide = 2 * columns
    cells = [row + [""] * (wide - len(row)) for row in cells]
    share = f"{100 / columns - 4:g}%"
    table = Table(cells, colWidths=["4%", share] * columns)
    table.setStyle(TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5), ("LEFTPADDING", (0, 0), (-1, -1), 2),
    ]))  # fmt: skip
    return table


def _box() -> Any:
    from reportlab.graphics.shapes import Drawing, Rect

    drawn = Drawing(BOX_PT, BOX_PT)
    drawn.add(Rect(0, 0, BOX_PT, BOX_PT, fillColor=None, strokeWidth=0.8))
    return drawn
