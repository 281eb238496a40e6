"""The handbook holds all of the catalogue and what the farm has learned, on pages that any reader can show.

Sources: ISO 32000-1 (9.6.2.2, the standard fonts every reader has; 12.3.3, outlines); ISO 216 and ANSI/ASME Y14.1 for
the papers.
"""

import itertools
import re
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import load_network
from feedwright.catalogue.procedures import load_procedures
from feedwright.errors import BadInput
from feedwright.farm.ground.drawing_pdf import segments
from feedwright.farm.ground.house import moment, open_farm
from feedwright.farm.handbook.handbook import cause_chapter, handbook, part_chapter
from feedwright.farm.handbook.handbook_pdf import GENERAL, handbook_pdf
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.prints.runs import add_run

STANDARD_FONTS = {"/Helvetica", "/Helvetica-Bold"}


@pytest.fixture(scope="module")
def book() -> PdfReader:
    return PdfReader(BytesIO(handbook_pdf(handbook(None, moment(None)))))


@pytest.fixture(scope="module")
def words(book: PdfReader) -> str:
    return " ".join(_flat(page.extract_text()) for page in book.pages)


def _flat(text: str) -> str:
    return re.sub(r"\s+", " ", text.replace("\n", " "))


def test_every_part_cause_check_repair_procedure_and_material_is_named(words: str) -> None:
    catalogue, network = load_catalogue(), load_network()
    entries = [*catalogue.parts.values(), *catalogue.materials.values(), *network.causes.values(),
               *network.checks.values(), *network.repairs.values(), *load_procedures().procedures.values()]  # fmt: skip
    missing = [entry.title for entry in entries if entry.title not in words]
    assert not missing


def test_every_caution_that_an_entry_gives_is_there(words: str) -> None:
    network = load_network()
    given = {text for kind in load_catalogue().parts.values() for text in kind.cautions}
    given |= {text for step in [*network.checks.values(), *network.repairs.values()] for text in step.cautions}
    given |= set(load_procedures().cautions.values())
    assert not [text for text in given if f"Caution: {text}" not in words]
    assert GENERAL in words


def test_the_steps_of_a_procedure_come_in_order_with_their_cautions_before_them(words: str) -> None:
    procedure = load_procedures().procedures["trim_tube"]
    chapter = words[words.index(procedure.purpose) :]
    places = [chapter.index(step.do) for step in procedure.steps]
    assert places == sorted(places)
    assert chapter.index(load_procedures().cautions["blade"]) < places[0]


def test_contents_and_bookmarks_lead_to_the_pages_that_hold_the_entries(book: PdfReader) -> None:
    entries = [one for chapter in book.outline if isinstance(chapter, list) for one in chapter]
    titles = {one.title: book.get_destination_page_number(one) for one in entries}
    listed = " ".join(_flat(book.pages[at].extract_text()) for at in range(1, 7))
    for kind in load_catalogue().parts.values():
        at = titles[kind.title]
        assert kind.title in book.pages[at].extract_text()
        assert re.search(rf"\b{at + 1} {re.escape(kind.title)}\b", listed), (kind.title, at + 1)


def test_the_fonts_are_standard_ones(book: PdfReader) -> None:
    used = {font.get_object()["/BaseFont"] for page in book.pages for font in page["/Resources"]["/Font"].values()}
    assert used <= STANDARD_FONTS


@pytest.mark.parametrize(("paper", "size_mm"), [("a4", (210.0, 297.0)), ("Letter", (8.5 * 25.4, 11 * 25.4))])
def test_papers_have_their_sizes_and_the_same_book_gives_the_same_bytes(paper, size_mm) -> None:
    held = handbook(None, moment(None))
    made = handbook_pdf(held, paper=paper)
    box = PdfReader(BytesIO(made)).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx([mm / 25.4 * 72 for mm in size_mm], abs=0.01)
    assert made == handbook_pdf(held, paper=paper)


def test_an_unknown_paper_is_refused() -> None:
    with pytest.raises(BadInput, match="a4 or letter"):
        handbook_pdf(handbook(None, moment(None)), paper="foolscap")


def test_what_the_farm_has_learned_stands_in_the_chapter(tmp_path: Path) -> None:
    with open_farm(tmp_path, create=True) as store:
        add_machine(store, "Larch", "moving_bed_remote", history="new")
        add_run(store, "Larch", material="pla", hours=90.0, nozzle_c=240.0)
        assert not part_chapter(store, "nozzle").learned.latest
        add_finding(store, "Larch", "nozzle", grade="worn", note="oval")
        learned = part_chapter(store, "nozzle").learned
        assert [(machine, one.grade, one.note) for machine, one in learned.latest] == [("Larch", "worn", "oval")]
        assert learned.findings == 1
        assert learned.times_rule.low < learned.times_rule.mid < learned.times_rule.high
        text = " ".join(_flat(page.extract_text())
                        for page in PdfReader(BytesIO(handbook_pdf(handbook(store, moment(None))))).pages)  # fmt: skip
        assert "worn – oval" in text
        assert part_chapter(store, "linear_bearing").learned is None
        assert cause_chapter(store, "liner_gap").met == 0


def test_a_quadratic_curve_is_drawn_as_the_cubic_one_that_it_equals() -> None:
    ((_, start), (kind, curve)) = list(segments("M1 2q3 8 10-2"))
    share = np.linspace(0, 1, 11)[:, None]
    p0, p1, p2 = np.array([start, (4.0, 10.0), (11.0, 0.0)])
    quadratic = (1 - share) ** 2 * p0 + 2 * share * (1 - share) * p1 + share**2 * p2
    c1, c2, c3 = np.array(curve).reshape(3, 2)
    cubic = (1 - share) ** 3 * p0 + 3 * share * (1 - share) ** 2 * c1 + 3 * share**2 * (1 - share) * c2 + share**3 * c3
    assert kind == "C"
    assert np.allclose(quadratic, cubic)


def test_relative_commands_follow_the_point_before_and_a_closed_path_returns() -> None:
    assert list(segments("M10 10h5v5h-5Zl1 1")) == [
        ("M", (10.0, 10.0)), ("L", (15.0, 10.0)), ("L", (15.0, 15.0)), ("L", (10.0, 15.0)), ("Z", ()),
        ("L", (11.0, 11.0)),
    ]  # fmt: skip


def _along(start: tuple[float, float], curve: tuple[float, ...]) -> np.ndarray:
    """Points (11, 2) of a cubic curve."""
    p0, (p1, p2, p3) = np.array(start), np.array(curve).reshape(3, 2)
    at = np.linspace(0, 1, 11)[:, None]
    return (1 - at) ** 3 * p0 + 3 * at * (1 - at) ** 2 * p1 + 3 * at**2 * (1 - at) * p2 + at**3 * p3


@pytest.mark.parametrize(
    ("d", "middle", "turns"),
    [("M70 50a20 20 0 0 1 -20 20", (50, 50), 1), ("M70 50A20 20 0 1 0 50 70", (50, 50), 3),
     ("M30 50a20 20 0 1 1 40 0", (50, 50), 2), ("M70 50a20 20 0 0 0 -20 20", (70, 70), 1)],
)  # fmt: skip
def test_an_arc_runs_round_its_circle_the_way_its_flags_say(d: str, middle: tuple[float, float], turns: int) -> None:
    """W3C SVG 2, 9.5.1: of the four arcs through two points the flags choose one."""
    (_, start), *curves = segments(d)
    assert len(curves) == turns  # a quarter each
    for kind, curve in curves:
        assert kind == "C"
        assert np.hypot(*(_along(start, curve) - middle).T) == pytest.approx(20.0, rel=3e-4)
        start = curve[-2:]
    assert start == pytest.approx((50.0, 70.0) if "A" in d or "-20" in d else (70.0, 50.0))


def test_a_turned_ellipse_keeps_its_equation_and_one_too_small_grows() -> None:
    (_, start), *curves = segments("M0 0A30 10 30 0 1 40 20")
    points = np.vstack(
        [_along(start, curves[0][1]), *(_along(a[-2:], b) for (_, a), (_, b) in itertools.pairwise(curves))]
    )
    turn = np.radians(30)
    u, v = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) @ points.T
    # (u - a)^2 / 900 + (v - b)^2 / 100 = 1 for some middle (a, b): linear in a, b and one constant
    left = np.column_stack([2 * u / 900, 2 * v / 100, np.ones_like(u)])
    right = u**2 / 900 + v**2 / 100
    solved, *_ = np.linalg.lstsq(left, right, rcond=None)
    assert left @ solved == pytest.approx(right, abs=2e-3)
    (_, start), *grown = segments("M0 0A5 5 0 0 1 40 0")
    assert np.hypot(*(_along(start, grown[0][1]) - (20, 0)).T) == pytest.approx(20.0, rel=3e-4)


def test_a_smooth_quadratic_curve_goes_on_where_the_one_before_pointed() -> None:
    assert list(segments("M0 0q5 10 10 0t10 0")) == list(segments("M0 0q5 10 10 0q5 -10 10 0"))
