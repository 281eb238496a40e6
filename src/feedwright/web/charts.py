"""One description for each chart, in the vocabulary of Vega-Lite; pages draw it and list its numbers as a table."""

from collections.abc import Sequence
from typing import Any

from feedwright.farm.values import ExposurePoint, FittedPart
from feedwright.toolpath.values import Duty

SCHEMA = "https://vega.github.io/schema/vega-lite/v5.json"
"""Names the vocabulary; nothing is fetched from it."""


def _chart(description: str, height: int, **rest: Any) -> dict[str, Any]:
    return {"$schema": SCHEMA, "description": description, "width": "container", "height": height, **rest}


def _axis(field: str, title: str, kind: str = "quantitative", **more: Any) -> dict[str, Any]:
    return {"field": field, "type": kind, "title": title, **more}


def life_used(parts: Sequence[FittedPart]) -> dict[str, Any]:
    """Share of life used by each part across the farm: the likely value, and the band it lies in."""
    values = [
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
    mark = {"type": "point", "filled": True, "size": 70, "opacity": 0.85}
    shape = {
        "field": "status",
        "type": "nominal",
        "title": "status",
        "scale": {"domain": ["service now", "service soon", "in order"], "range": ["diamond", "triangle-up", "circle"]},
        "legend": {"orient": "top"},
    }
    tooltip = [{"field": name} for name in ("machine", "part", "status")] + [
        {"field": "used", "format": ".0%", "title": "life used"}
    ]
    return _chart(
        "Share of life used, by part kind; each mark is one fitted part.",
        420,
        data={"values": values},
        mark=mark,
        encoding={
            "y": _axis("part", "", "nominal", sort={"field": "used", "op": "max", "order": "descending"}),
            "x": _axis("used", "share of its median life used", axis={"format": "%"}),
            "shape": shape,
            "color": {"field": "status", "type": "nominal", "scale": {"domain": shape["scale"]["domain"], "range": [
                "now", "soon", "fine"]}, "legend": None},
            "tooltip": tooltip,
        },
    )  # fmt: skip


def exposure_over_time(series: Sequence[Sequence[ExposurePoint]], unit: str, most: int = 400) -> dict[str, Any]:
    """Exposure of each fitting that sat at one place; the curve falls to nought where it was renewed."""
    values = []
    for index, points in enumerate(series):
        step = max(1, len(points) // max(1, most // max(1, len(series))))
        shown = [*points[::step], points[-1]]
        values += [{"at": p.at_utc.isoformat(), "exposure": p.exposure, "fitting": index + 1} for p in shown]
    return _chart(
        "Exposure over time, one line for each part that was fitted there.",
        220,
        data={"values": values},
        mark={"type": "line", "interpolate": "step-after"},
        encoding={
            "x": _axis("at", "", "temporal"),
            "y": _axis("exposure", unit),
            "detail": {"field": "fitting", "type": "nominal"},
            "color": {"value": "ink"},
        },
    )


def flow_and_heat(duty: Duty) -> dict[str, Any]:
    """Flow and nozzle temperature over a print's own time."""
    values = []
    minutes = 0.0
    profile = duty.profile
    for piece, mean, most, at_c in zip(
        profile.slices, profile.flow_mm3_s, profile.flow_max_mm3_s, profile.nozzle_c, strict=True
    ):
        minutes += piece.duration_s / 60
        row = {"minutes": round(minutes, 3), "nozzle": at_c, "mean": round(mean, 3), "most": round(most, 3)}
        values.append(row)
    x = _axis("minutes", "minutes into the print")
    flow = {
        "layer": [
            {
                "mark": {"type": "area", "interpolate": "step", "opacity": 0.35, "color": "accent"},
                "encoding": {"x": x, "y": _axis("most", "flow, mm³/s")},
            },
            {
                "mark": {"type": "line", "interpolate": "step", "color": "ink"},
                "encoding": {"x": x, "y": _axis("mean", "flow, mm³/s")},
            },
        ],
        "width": "container",
        "height": 170,
    }
    heat = {
        "mark": {"type": "line", "interpolate": "step", "color": "now"},
        "encoding": {"x": x, "y": _axis("nozzle", "nozzle, °C", scale={"zero": False})},
        "width": "container",
        "height": 90,
    }
    return {
        "$schema": SCHEMA,
        "description": "Flow (mean as a line, greatest as an area) and nozzle temperature over the print.",
        "data": {"values": values},
        "vconcat": [flow, heat],
    }


def flow_histogram(duty: Duty) -> dict[str, Any]:
    """Minutes of printing by flow."""
    values = [
        {"flow": round(index * duty.flow_bin_mm3_s, 2), "minutes": round(seconds / 60, 3)}
        for index, seconds in enumerate(duty.flow_s)
    ]
    return _chart(
        "Minutes of printing by flow.",
        150,
        data={"values": values},
        mark={"type": "bar", "color": "accent"},
        encoding={"x": _axis("flow", "flow, mm³/s", "ordinal"), "y": _axis("minutes", "minutes")},
    )
