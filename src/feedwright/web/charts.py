"""One description for each chart, in the vocabulary of Vega-Lite; pages draw it and list its numbers as a table."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from typing import Any

import numpy as np

from feedwright.farm.ground.values import ExposurePoint, FittedPart
from feedwright.farm.outlook.hindsight import Hindsight
from feedwright.farm.outlook.lessons import KindLesson
from feedwright.physics.values import SoakCurve
from feedwright.planning.fit import FlowPicture
from feedwright.planning.keeping import CostLine, MachineLine
from feedwright.toolpath.values import Duty

SCHEMA = "https://vega.github.io/schema/vega-lite/v5.json"
"""Names the vocabulary; nothing is fetched from it."""


INK, ACCENT, NOW = "var(--ink)", "var(--accent)", "var(--now)"
"""The theme's colours by name, so that a chart follows light and dark as the page does."""
_TEXT = {"labelColor": INK, "titleColor": INK, "labelFontSize": 12, "titleFontSize": 13, "titleFontWeight": "normal"}
CONFIG = {
    "background": "transparent",
    "font": "system-ui, sans-serif",
    "view": {"stroke": None},
    "axis": {
        **_TEXT,
        "gridColor": "var(--rule)",
        "domainColor": "var(--rule)",
        "tickColor": "var(--rule)",
    },
    "axisY": {"minExtent": 44},
    "legend": _TEXT,
}


def chart(description: str, height: int, **rest: Any) -> dict[str, Any]:
    """A chart as wide as the page lets it be."""
    size = {"width": "container", "height": height, "autosize": {"type": "fit-x", "contains": "padding"}}
    return {"$schema": SCHEMA, "description": description, **size, "config": CONFIG, **rest}


def axis(field: str, title: str, kind: str = "quantitative", **more: Any) -> dict[str, Any]:
    """One channel of a chart with its title."""
    return {"field": field, "type": kind, "title": title, **more}


MOST_MARKS = 600
MANY_PARTS = 400
"""More marks than these hide each other: then each part kind is drawn as where its parts lie."""


def life_used(parts: Sequence[FittedPart]) -> dict[str, Any]:
    """Share of life used by each part across the farm: the likely value, and the band it lies in."""
    if len(parts) > MANY_PARTS:
        return _life_spread(parts)
    values: list[dict[str, Any]] = [
        {
            "part": part.kind.title,
            "machine": part.machine.name,
            "used": round(min(part.outlook.share_used.mid, 3), 4),
            "low": round(min(part.outlook.share_used.low, 3), 4),
            "high": round(min(part.outlook.share_used.high, 3), 4),
            "status": part.advice.status,
        }
        for part in parts
    ]
    statuses = ["service now", "service soon", "in order"]
    status = {"field": "status", "type": "nominal", "title": None, "legend": {"orient": "top", "direction": "vertical"}}
    shapes = {"domain": statuses, "range": ["diamond", "triangle-up", "circle"]}
    colours = {"domain": statuses, "range": [NOW, "var(--soon)", "var(--fine)"]}
    tooltip = [{"field": name} for name in ("machine", "part", "status")] + [
        {"field": name, "format": ".0%", "title": title}
        for name, title in (("used", "life used"), ("low", "at least"), ("high", "at most"))
    ]
    y = axis("part", "", "nominal", sort={"field": "used", "op": "max", "order": "descending"})
    scale = {"domain": [0, max([1.0, *(row["high"] for row in values)])], "nice": False}
    x = axis("used", "share of its median life used", axis={"format": "%"}, scale=scale)
    band = {"type": "rule", "opacity": 0.16, "strokeWidth": 5, "color": ACCENT}
    point = {"type": "point", "filled": True, "size": 70, "opacity": 0.85}
    return chart(
        "Share of life used, by part kind; each mark is one fitted part, and the bar behind it the band it lies in.",
        420,
        data={"values": values},
        layer=[
            {
                "mark": band,
                "encoding": {"y": y, "x": {**x, "field": "low"}, "x2": {"field": "high"}, "tooltip": tooltip},
            },
            {
                "mark": point,
                "encoding": {
                    "y": y, "x": x, "shape": {**status, "scale": shapes}, "color": {**status, "scale": colours},
                    "tooltip": tooltip,
                },
            },
        ],
    )  # fmt: skip


def _life_spread(parts: Sequence[FittedPart]) -> dict[str, Any]:
    """Share of life used by part kind: where the middle of eight in ten of its parts lies, and how many are due."""
    used: dict[str, list[float]] = defaultdict(list)
    due: Counter[str] = Counter()
    for part in parts:
        used[part.kind.title].append(min(part.outlook.share_used.mid, 3))
        due[part.kind.title] += part.advice.status == "service now"
    values = []
    for title, shares in used.items():
        low, mid, high = (round(float(share), 4) for share in np.quantile(shares, (0.1, 0.5, 0.9)))
        values.append({"part": title, "low": low, "mid": mid, "high": high, "parts": len(shares), "due": due[title]})
    y = axis("part", "", "nominal", sort={"field": "mid", "order": "descending"})
    x = axis("mid", "share of its median life used", axis={"format": "%"}, scale={"domainMin": 0})
    tooltip = [{"field": name} for name in ("part", "parts")] + [{"field": "due", "title": "service now"}]
    tooltip += [{"field": name, "format": ".0%"} for name in ("low", "mid", "high")]
    band = {"type": "rule", "opacity": 0.3, "strokeWidth": 9, "color": ACCENT}
    return chart(
        "Share of life used, by part kind: the bar holds eight in ten of its parts, the mark is the middle one.",
        420,
        data={"values": values},
        layer=[
            {
                "mark": band,
                "encoding": {"y": y, "x": {**x, "field": "low"}, "x2": {"field": "high"}, "tooltip": tooltip},
            },
            {"mark": {"type": "tick", "thickness": 3, "color": INK}, "encoding": {"y": y, "x": x, "tooltip": tooltip}},
        ],
    )


def exposure_over_time(series: Sequence[Sequence[ExposurePoint]], unit: str, most: int = 400) -> dict[str, Any]:
    """Exposure of each fitting that sat at one place; the curve falls to nought where it was renewed."""
    values = []
    for index, points in enumerate(series):
        step = max(1, len(points) // max(1, most // max(1, len(series))))
        shown = [*points[::step], points[-1]]
        values += [{"at": p.at_utc.isoformat(), "exposure": p.exposure, "fitting": index + 1} for p in shown]
    return chart(
        "Exposure over time, one line for each part that was fitted there.",
        220,
        data={"values": values},
        mark={"type": "line", "interpolate": "step-after"},
        encoding={
            "x": axis("at", "", "temporal", axis={"format": "%d %b", "labelOverlap": True, "tickCount": 8}),
            "y": axis("exposure", unit),
            "detail": {"field": "fitting", "type": "nominal"},
            "color": {"value": "var(--ink)"},
        },
    )


def _over_print(duty: Duty) -> list[dict[str, float | None]]:
    minutes = 0.0
    values = []
    profile = duty.profile
    for piece, mean, most, at_c in zip(
        profile.slices, profile.flow_mm3_s, profile.flow_max_mm3_s, profile.nozzle_c, strict=True
    ):
        values.append(
            {"minutes": round(minutes, 3), "nozzle": at_c or None, "mean": round(mean, 3), "most": round(most, 3)}
        )
        minutes += piece.duration_s / 60
    return values


def flow_over_print(duty: Duty) -> dict[str, Any]:
    """Flow over a print's own time: mean and greatest of each slice."""
    x = axis("minutes", "minutes into the print", scale={"nice": False})
    area = {"type": "area", "interpolate": "step-after", "opacity": 0.35, "color": ACCENT}
    line = {"type": "line", "interpolate": "step-after", "color": INK, "strokeWidth": 1.5}
    return chart(
        "Flow over the print: mean as a line, greatest as an area.",
        200,
        data={"values": _over_print(duty)},
        layer=[
            {"mark": area, "encoding": {"x": x, "y": axis("most", "flow, mm³/s")}},
            {"mark": line, "encoding": {"x": x, "y": axis("mean", "flow, mm³/s")}},
        ],
    )


def heat_over_print(duty: Duty) -> dict[str, Any]:
    """Set temperature of the nozzle over a print's own time."""
    return chart(
        "Nozzle temperature over the print.",
        110,
        data={"values": _over_print(duty)},
        mark={"type": "line", "interpolate": "step-after", "color": NOW},
        encoding={
            "x": axis("minutes", "minutes into the print", scale={"nice": False}),
            "y": axis("nozzle", "nozzle, °C", scale={"zero": False}),
        },
    )


def flow_histogram(duty: Duty) -> dict[str, Any]:
    """Minutes of printing by flow."""
    values = [
        {"flow": round(index * duty.flow_bin_mm3_s, 2), "minutes": round(seconds / 60, 3)}
        for index, seconds in enumerate(duty.flow_s)
    ]
    return chart(
        "Minutes of printing by flow.",
        150,
        data={"values": values},
        mark={"type": "bar", "color": ACCENT},
        encoding={
            "x": axis("flow", "flow from, mm³/s", "ordinal", axis={"labelAngle": 0, "labelOverlap": True}),
            "y": axis("minutes", "minutes"),
        },
    )


def life_learned(lesson: KindLesson) -> dict[str, Any]:
    """Life curve of a part kind with its band, the rule of thumb it started from, and the raw findings."""
    curve = [
        {"exposure": p.exposure, "low": p.alive_low_frac, "alive": p.alive_frac, "high": p.alive_high_frac,
         "rule": p.rule_frac}
        for p in lesson.curve
    ]  # fmt: skip
    furthest = lesson.curve[-1].exposure
    rows = {"failed": 0.06, "renewed while it worked": -0.04, "still in use": -0.08}
    raw = [
        {"exposure": min(r.exposure, furthest), "what": r.what if r.what in rows else "looked at", "seen": r.what,
         "machine": r.machine, "row": rows.get(r.what, 0.01)}
        for r in lesson.raw[:: max(1, len(lesson.raw) // MOST_MARKS)]
    ]  # fmt: skip
    x = axis("exposure", lesson.kind.exposure.unit, scale={"domain": [0, furthest], "nice": False})
    share: dict[str, Any] = {"axis": {"format": "%", "values": [0, 0.25, 0.5, 0.75, 1]}, "scale": {"domain": [-0.1, 1]}}
    names = ["failed", "looked at", "renewed while it worked", "still in use"]
    what = {"field": "what", "type": "nominal", "title": None, "legend": {"orient": "top", "direction": "vertical"}}
    shapes = {"domain": names, "range": ["diamond", "circle", "square", "triangle-right"]}
    colours = {"domain": names, "range": [NOW, INK, "var(--soon)", "var(--fine)"]}
    return chart(
        "Share of such parts still alive by use: learned with its band, and by the rule of thumb; marks are findings.",
        300,
        layer=[
            {"data": {"values": curve}, "mark": {"type": "area", "opacity": 0.25, "color": ACCENT},
             "encoding": {"x": x, "y": axis("low", "still alive", **share), "y2": {"field": "high"}}},
            {"data": {"values": curve}, "mark": {"type": "line", "color": INK, "strokeWidth": 2},
             "encoding": {"x": x, "y": axis("alive", "still alive", **share)}},
            {"data": {"values": curve}, "mark": {"type": "line", "color": INK, "strokeDash": [5, 4]},
             "encoding": {"x": x, "y": axis("rule", "still alive", **share)}},
            {"data": {"values": raw}, "mark": {"type": "point", "filled": True, "size": 40, "opacity": 0.7},
             "encoding": {"x": x, "y": axis("row", "still alive", **share), "shape": {**what, "scale": shapes},
                          "color": {**what, "scale": colours},
                          "tooltip": [{"field": name} for name in ("machine", "seen", "exposure")]}},
        ],
    )  # fmt: skip


def reliability(held: Hindsight) -> dict[str, Any]:
    """Chance said against the share that happened, with the band that chance alone would give."""
    values = [
        {"said": b.said_frac, "happened": b.happened_frac, "low": b.low_frac, "high": b.high_frac, "count": b.count}
        for b in held.bins
    ]
    x = axis("said", "chance said", axis={"format": "%"})
    percent: dict[str, Any] = {"axis": {"format": "%"}}
    y = axis("happened", "happened", **percent)
    line = [{"said": 0, "happened": 0}, {"said": 1, "happened": 1}]
    tooltip = [{"field": "said", "format": ".1%"}, {"field": "happened", "format": ".1%"}, {"field": "count"}]
    return chart(
        "Chance of failure within a month as forecast, against the share that failed.",
        260,
        layer=[
            {"data": {"values": line}, "mark": {"type": "line", "color": "var(--rule)"}, "encoding": {"x": x, "y": y}},
            {"data": {"values": values}, "mark": {"type": "rule", "color": INK, "opacity": 0.5, "strokeWidth": 2},
             "encoding": {"x": x, "y": axis("low", "happened", **percent), "y2": {"field": "high"}}},
            {"data": {"values": values}, "mark": {"type": "point", "filled": True, "size": 80, "color": NOW},
             "encoding": {"x": x, "y": y, "tooltip": tooltip}},
        ],
    )  # fmt: skip


def demand_and_capacity(picture: FlowPicture) -> dict[str, Any]:
    """Greatest flow that a file asks, slice by slice, and the flow that the feed path sustains there."""
    values = [
        {"minutes": round(index * picture.slice_s / 60, 3), "asked": asked, "sustained": sustained}
        for index, (asked, sustained) in enumerate(zip(picture.flow_mm3_s, picture.limit_mm3_s, strict=True))
    ]
    x = axis("minutes", "minutes into the print", scale={"nice": False})
    area = {"type": "area", "interpolate": "step-after", "opacity": 0.35, "color": ACCENT}
    line = {"type": "line", "interpolate": "step-after", "color": NOW, "strokeWidth": 2}
    return chart(
        "Flow asked as an area, flow that the feed path sustains as a line.",
        220,
        data={"values": values},
        layer=[
            {"mark": area, "encoding": {"x": x, "y": axis("asked", "flow, mm³/s")}},
            {"mark": line, "encoding": {"x": x, "y": axis("sustained", "flow, mm³/s")}},
        ],
    )


def soak_curves(curve: SoakCurve) -> dict[str, Any]:
    """Sink top, liner end and nozzle over the time since a mishap began."""
    series = {"sink top": curve.sink_top_c, "liner end": curve.liner_end_c, "nozzle": curve.nozzle_c}
    values = [
        {"minutes": round(after_s / 60, 3), "where": where, "at": round(at_c, 2)}
        for where, temperatures in series.items()
        for after_s, at_c in zip(curve.after_s, temperatures, strict=True)
    ]
    where = {"field": "where", "type": "nominal", "title": None, "legend": {"orient": "top", "direction": "vertical"}}
    colours = {"domain": list(series), "range": [NOW, "var(--soon)", INK]}
    dashes = {"domain": list(series), "range": [[1, 0], [6, 3], [2, 2]]}
    return chart(
        "Temperatures of sink top, liner end and nozzle since the mishap began.",
        220,
        data={"values": values},
        mark={"type": "line", "strokeWidth": 2},
        encoding={
            "x": axis("minutes", "minutes since it began", scale={"nice": False}),
            "y": axis("at", "°C"),
            "color": {**where, "scale": colours},
            "strokeDash": {**where, "scale": dashes},
        },
    )


def cost_of_delay(part: FittedPart) -> dict[str, Any]:
    """Expected extra cost of renewing a part only after so many weeks."""
    costs = part.advice.cost_by_weeks
    values = [{"weeks": week, "cost": float(cost.amount)} for week, cost in enumerate(costs)]
    return chart(
        "Expected extra cost of renewing the part only after so many weeks.",
        150,
        data={"values": values},
        mark={"type": "line", "color": NOW, "point": {"color": NOW, "filled": True}},
        encoding={
            "x": axis("weeks", "weeks from now", axis={"tickMinStep": 1}),
            "y": axis("cost", costs[0].currency),
        },
    )


def costliest_causes(lines: Sequence[CostLine], currency: str, most: int = 12) -> dict[str, Any]:
    """What went wrong, the dearest first, each with the share of the whole that it and all dearer ones make up."""
    values = [
        {"cause": line.name, "cost": round(line.cost, 2), "times": line.incidents,
         "so far": f"{line.cumulative_frac:.0%}"}
        for line in lines[:most]
    ]  # fmt: skip
    y = axis("cause", "", "nominal", sort=None, axis={"labelLimit": 170, "title": None})
    room = 1.22 * max((line.cost for line in lines), default=1.0)
    x = axis("cost", currency, scale={"domain": [0, room], "nice": False})
    tooltip = [{"field": name} for name in ("cause", "cost", "times", "so far")]
    label = {"type": "text", "align": "left", "dx": 5, "color": INK, "fontSize": 12}
    return chart(
        "Cost by cause as bars, the dearest first; beside each the share of all cost that it and the dearer ones make.",
        max(80, 30 * len(values)),
        data={"values": values},
        layer=[
            {"mark": {"type": "bar", "color": ACCENT},
             "encoding": {"y": y, "x": x, "tooltip": tooltip}},
            {"mark": label, "encoding": {"y": y, "x": x, "text": {"field": "so far"}}},
        ],
    )  # fmt: skip


def failures_by_machine(lines: Sequence[MachineLine]) -> dict[str, Any]:
    """Failures in a thousand printing hours, each machine with its band."""
    values = [
        {"machine": line.name, "failures": 1000 / line.time_between_h.mid, "low": 1000 / line.time_between_h.high,
         "high": 1000 / line.time_between_h.low}
        for line in lines
        if line.time_between_h.low > 0
    ]  # fmt: skip
    y = axis("machine", "", "nominal", sort={"field": "failures", "order": "descending"},
              axis={"labelLimit": 170, "title": None})  # fmt: skip
    x = axis("failures", "failures in 1,000 printing hours", scale={"zero": True, "nice": True})
    tooltip = [{"field": "machine"}, *({"field": name, "format": ".1f"} for name in ("failures", "low", "high"))]
    return chart(
        "Failures in a thousand printing hours, by machine: the mark is what was seen, the bar behind it its band.",
        max(80, 26 * len(values)),
        data={"values": values},
        layer=[
            {"mark": {"type": "rule", "opacity": 0.3, "strokeWidth": 6, "color": ACCENT},
             "encoding": {"y": y, "x": {**x, "field": "low"}, "x2": {"field": "high"}}},
            {"mark": {"type": "point", "filled": True, "size": 70, "color": INK},
             "encoding": {"y": y, "x": x, "tooltip": tooltip}},
        ],
    )  # fmt: skip
