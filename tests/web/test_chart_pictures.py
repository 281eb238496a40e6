"""Charts on paper: the pages' descriptions, drawn in the light theme's colours without a browser."""

import json
from io import BytesIO

import pytest
from PIL import Image
from pypdf import PdfReader
from starlette.testclient import TestClient

from feedwright.web.chart_pictures import for_paper, png
from feedwright.web.charts import ACCENT, chart

BAR = chart(
    "One bar.", 120, data={"values": [{"a": "x", "b": 4.0}]}, mark={"type": "bar", "color": ACCENT},
    encoding={"y": {"field": "a", "type": "nominal"}, "x": {"field": "b", "type": "quantitative"}},
)  # fmt: skip
ACCENT_IN_LIGHT = (0x17, 0x59, 0x5F)
"""As the style sheet says."""


def test_every_colour_that_a_chart_names_is_told() -> None:
    told = json.dumps(for_paper(BAR))
    assert "var(" not in told
    assert "#17595f" in told
    with pytest.raises(KeyError):
        for_paper({**BAR, "background": "var(--no-such-colour)"})


def test_the_picture_shows_what_is_described() -> None:
    with Image.open(BytesIO(png(BAR))) as picture:
        colours = picture.convert("RGB").getcolors(1_000_000) or []
    most = {colour for count, colour in colours if count > 20_000}
    assert ACCENT_IN_LIGHT in most, "the bar fills the chart"


@pytest.mark.parametrize(("paper", "width_pt"), [("a4", 595.28), ("letter", 612.0)])
def test_figures_on_paper(client: TestClient, paper: str, width_pt: float) -> None:
    answer = client.get(f"/figures.pdf?paper={paper}")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    pages = PdfReader(BytesIO(answer.content)).pages
    assert float(pages[0].mediabox.width) == pytest.approx(width_pt, abs=0.5)
    text = "".join("".join(page.extract_text() for page in pages).split())  # a long name is broken over lines
    figures = client.get("/figures", headers={"accept": "application/json"}).json()["figures"]
    for line in figures["machines"]:
        assert "".join(line["name"].split()) in text
    assert f"{figures['total']['cost']:,.2f}" in text
    assert any(page.images for page in pages)


def test_another_paper_is_refused(client: TestClient) -> None:
    assert client.get("/figures.pdf?paper=a3").status_code == 422
