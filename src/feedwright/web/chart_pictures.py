"""Charts for paper: the same descriptions that the pages draw, drawn without a browser in the light theme's colours."""

import json
import re
from functools import cache
from io import BytesIO
from typing import Any

from feedwright.web.render import HERE

WIDTH_PX = 660
"""The width that charts are laid out for; text in them then has the size of a table's on paper."""
PIXELS_A_POINT = 3.0


@cache
def _light_theme() -> dict[str, str]:
    """The colours of the style sheet by name."""
    css = (HERE / "static" / "feedwright.css").read_text(encoding="utf-8")
    return dict(re.findall(r"(--[\w-]+): (#[0-9a-f]{6});", css.partition("@media")[0]))


def for_paper(description: dict[str, Any]) -> dict[str, Any]:
    """The description with its colours and its width told, which a page leaves to its style sheet."""
    named = json.dumps({**description, "width": WIDTH_PX})
    held: dict[str, Any] = json.loads(re.sub(r"var\((--[\w-]+)\)", lambda found: _light_theme()[found[1]], named))
    return held


def png(description: dict[str, Any]) -> bytes:
    """The chart as a picture; nothing is fetched for it."""
    import vl_convert

    drawn: bytes = vl_convert.vegalite_to_png(for_paper(description), scale=PIXELS_A_POINT, allowed_base_urls=[])
    return drawn


def drawn(description: dict[str, Any], width_pt: float) -> Any:
    """The chart as a picture of that width in a book."""
    from PIL import Image as Picture
    from reportlab.platypus import Image

    held = BytesIO(png(description))
    with Picture.open(held) as picture:
        across, down = picture.size
    held.seek(0)
    return Image(held, width=width_pt, height=width_pt * down / across)
