"""Charts of the stores."""

from typing import Any

from feedwright.farm.stores.reordering import ReorderLine
from feedwright.web.charts import ACCENT, INK, NOW, axis, chart

LEAST_SHOWN = 0.0005
"""Chances below it are left off the ends."""


def demand_and_stock(line: ReorderLine) -> dict[str, Any]:
    """Chance of each number of pieces needed until an order has arrived, against what is on hand and on order."""
    held = line.stock.on_hand + line.stock.on_order
    pmf = line.advice.needed_pmf
    last = max((count for count, chance in enumerate(pmf) if chance >= LEAST_SHOWN), default=0)
    kinds = ["there is enough", "too few"]
    values = [
        {"pieces": count, "chance": round(chance, 6), "what": kinds[count > held]}
        for count, chance in enumerate(pmf[: last + 1])
    ]
    shown = list(range(last + 1))
    x = axis("pieces", "pieces needed", "ordinal", axis={"labelAngle": 0, "labelOverlap": True}, sort=shown)
    what = {"field": "what", "type": "nominal", "title": None, "legend": {"orient": "top"}}
    bars = {
        "mark": {"type": "bar", "strokeWidth": 2},
        "encoding": {
            "x": x,
            "y": axis("chance", "chance", axis={"format": "%"}),
            "fillOpacity": {"condition": {"test": f"datum.what === '{kinds[1]}'", "value": 0.1}, "value": 0.9},
            "fill": {**what, "scale": {"domain": kinds, "range": [ACCENT, NOW]}},
            "stroke": {**what, "scale": {"domain": kinds, "range": [ACCENT, NOW]}},
            "tooltip": [{"field": "pieces"}, {"field": "chance", "format": ".1%"}, {"field": "what", "title": "so"}],
        },
    }
    words = [{"pieces": min(max(held, 0), last), "words": f"{held} on hand and on order"}]
    mark = {
        "data": {"values": words},
        "mark": {"type": "text", "baseline": "bottom", "dy": -4, "fontSize": 12, "color": INK},
        "encoding": {"x": x, "y": {"value": 0}, "text": {"field": "words"}},
    }
    return chart(
        "Chance of each number of pieces needed until an order of the next look has arrived.",
        190,
        data={"values": values},
        layer=[bars, mark] if held <= last else [bars],
    )
