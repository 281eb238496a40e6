"""``feedwright fit``, ``soak``, ``fan``, ``push`` and ``orifice``: what heat and force do to one machine."""

import math
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from feedwright.cli.say import AsJson, FarmFolder, farm, out
from feedwright.errors import BadInput
from feedwright.units import show, show_duration

if TYPE_CHECKING:
    from feedwright.farm.dispatch.fits import FitReport
    from feedwright.farm.parts.heat import FeedSheet
    from feedwright.physics.values import Band, FanVerdict, OrificeVerdict, SoakOutcome

WIDTH = 78
Machine = Annotated[str, typer.Argument(help="The machine's name.", show_default=False)]
Material = Annotated[str, typer.Option("--material", help="Material in the path, such as pla or petg.")]
Nozzle = Annotated[float, typer.Option("--nozzle-c", help="Set temperature of the nozzle in °C.", show_default=False)]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    for command in (fit, soak, fan, push, orifice):
        app.command(command.__name__)(command)


def fit(
    machine: Machine,
    toolpath: Annotated[str, typer.Argument(help="The file, or the name of a known toolpath.", show_default=False)],
    material: Material = "pla",
    spool_g: Annotated[float | None, typer.Option("--spool-g", help="Filament left on the spool, in g.")] = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Will this machine, as it stands, print this file well?

    Holds every move against what the feed path sustains, the parts bear and the material wants; tells layer, line and
    time of each trouble.
    """
    from feedwright.farm.dispatch.fits import fit as hold

    with farm(folder) as store:
        report = hold(store, machine, _path(toolpath), material=material, spool_g=spool_g)
    out({**_plain(report), "verdict": report.verdict}, fit_lines(report), as_json=as_json)


def _path(toolpath: str) -> Path | str:
    return Path(toolpath) if Path(toolpath).is_file() else toolpath


def _plain(report: "FitReport") -> dict[str, object]:
    from feedwright.farm.ground.plain import plain

    held: dict[str, object] = plain(report)
    return held


def fit_lines(report: "FitReport") -> Iterator[str]:
    """The report as lines."""
    yield f"{report.file} on {report.machine.name}, {report.material.title}: {report.verdict}"
    whole = report.duty.whole
    counted = f"{report.filament_g:,.0f} g, {report.walk.retractions:,} retractions"
    yield f"  {show_duration(whole.duration_s)} in all, {counted}"
    yield f"  {report.spoiled_frac:.1%} chance that a part fails and spoils it; least sure: " + ", ".join(
        f"{one.part.title.lower()} {one.failure_frac:.1%}" for one in report.parts[:3]
    )
    for trouble in report.troubles:
        place = (
            f" (layer {trouble.layer}, line {trouble.line:,}, {show_duration(trouble.at_s)} in)" if trouble.line else ""
        )
        yield from _wrapped(("!! " if trouble.grave else " - ") + trouble.words + place)
    for stretch in report.walk.stretches[:10]:
        flows = f"{show(stretch.flow_mm3_s, 'mm3_s')} asked, {show(stretch.limit_mm3_s, 'mm3_s')} sustained"
        yield f"     layer {stretch.layer:>4}  line {stretch.line:>9,}  {show_duration(stretch.over_s):>9}  {flows}"
    if report.walk.stretches_count > 10:
        yield f"     and {report.walk.stretches_count - 10:,} more stretches over the limit"


def soak(
    machine: Machine,
    event: Annotated[str, typer.Argument(help="power_cut, hot_stop or fan_stall.", show_default=False)],
    nozzle_c: Nozzle,
    minutes: Annotated[float | None, typer.Option("--minutes", help="How many minutes it lasted.")] = None,
    material: Material = "pla",
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """What a mishap's heat does, and what to check.

    A power cut, a hot stop or a stalled fan. Records nothing: `event add` does, and charges the heat to the parts.
    """
    from feedwright.farm.parts.heat import soak_of

    with farm(folder) as store:
        outcome = soak_of(store, machine, event, nozzle_c=nozzle_c, minutes=minutes, material=material)
    out(outcome, soak_lines(outcome), as_json=as_json)


def soak_lines(outcome: "SoakOutcome") -> Iterator[str]:
    """The outcome as lines."""
    yield f"{outcome.what.capitalize()} at {show(outcome.set_c, 'c')} for {show_duration(outcome.minutes * 60)}"
    for words, before_c, peak_c, after_s in (
        ("sink top", outcome.sink_before_c, outcome.sink_peak_c, outcome.sink_peak_after_s),
        ("liner end", outcome.liner_before_c, outcome.liner_peak_c, outcome.liner_peak_after_s),
    ):
        yield f"  {words:<11} {show(before_c, 'c')} before, at most {show(peak_c, 'c')} after {show_duration(after_s)}"
    above = f"{show(outcome.creep_mm, 'mm')} above the hot block"
    yield f"  filament    soft over {show(outcome.softened_mm, 'mm')}, {above}"
    if outcome.sink_softens_after_s is not None:
        yield f"  in the sink it softens after {show_duration(outcome.sink_softens_after_s)}"
    yield f"  hands off   sink {_touch(outcome.sink_touch_after_s)}, nozzle {_touch(outcome.nozzle_touch_after_s)}"
    yield "Check before trusting the machine:"
    for text in outcome.checks:
        yield from _wrapped(f" - {text}")
    for text in outcome.cautions:
        yield from _wrapped(f"!! {text}")


def _touch(after_s: float) -> str:
    if math.isinf(after_s):
        return "for good while it is so warm around"
    return f"until {show_duration(after_s)} after it began" if after_s > 0 else "no longer than usual"


def fan(
    machine: Machine,
    nozzle_c: Nozzle,
    sink_c: Annotated[
        float | None, typer.Option("--sink-c", help="Top of the sink by contact thermometer, in °C.")
    ] = None,
    finger_s: Annotated[
        float | None, typer.Option("--finger-s", help="Else: how many seconds a fingertip stayed on it.")
    ] = None,
    let_go: Annotated[bool, typer.Option("--let-go", help="The finger had to be taken away.")] = False,
    ambient_c: Annotated[float | None, typer.Option("--ambient-c", help="Air around the machine, in °C.")] = None,
    material: Material = "pla",
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Is the sink fan healthy, by one reading at the sink's top?

    At rest, ten minutes at temperature. Measure with a contact thermometer; a finger is a poor probe and can be burnt.
    """
    if (sink_c is None) == (finger_s is None):
        raise BadInput(
            "fan", expected="expected one reading", remedy="give --sink-c, or --finger-s where there is no thermometer"
        )
    from feedwright.farm.parts.heat import fan_of

    with farm(folder) as store:
        verdict = fan_of(
            store, machine, nozzle_c=nozzle_c, sink_c=sink_c, finger_s=finger_s, let_go=let_go, material=material,
            ambient_c=ambient_c,
        )  # fmt: skip
    out(verdict, fan_lines(verdict), as_json=as_json)


def fan_lines(verdict: "FanVerdict") -> Iterator[str]:
    """The verdict as lines."""
    yield f"The sink fan is {verdict.word}{'' if verdict.sure else ', as far as this reading tells'}."
    yield f"  it does   {_band(verdict.effectiveness_ratio, 2)} of what a healthy fan does"
    yield f"  sink top  {_band(verdict.sink_top_c)} °C; a healthy fan leaves {_band(verdict.healthy_sink_top_c)} °C"
    yield f"  liner end {_band(verdict.liner_end_c)} °C"
    yield f"  filament softens {_band(verdict.creep_mm, 1)} mm above the hot block"
    for text in verdict.because:
        yield from _wrapped(f" - {text}")
    for text in verdict.cautions:
        yield from _wrapped(f"!! {text}")


def push(
    machine: Machine,
    flow_mm3_s: Annotated[float, typer.Option("--flow", help="Flow in mm³/s.")] = 5.0,
    nozzle_c: Annotated[
        float | None, typer.Option("--nozzle-c", help="Nozzle in °C; else the material's usual.")
    ] = None,
    material: Material = "pla",
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """The push a flow needs, and what limits it.

    How fast the machine can go and how far it must retract, as it stands: tube length and bore, and gear and tube as
    last found.
    """
    from feedwright.farm.parts.heat import push_of

    with farm(folder) as store:
        sheet = push_of(store, machine, material=material, flow_mm3_s=flow_mm3_s, nozzle_c=nozzle_c)
    out(sheet, push_lines(sheet), as_json=as_json)


def push_lines(sheet: "FeedSheet") -> Iterator[str]:
    """The sheet as lines."""
    balance, lost = sheet.balance, sheet.slack
    verdict = "holds" if balance.holds else "DOES NOT HOLD"
    yield f"{show(balance.flow_mm3_s, 'mm3_s')} at {show(balance.nozzle_c, 'c')}: {verdict}"
    parts = f"melt {show(balance.nozzle_n, 'n')}, tube {show(balance.tube_n, 'n')}"
    yield f"  push needed     {show(balance.needed_n, 'n')} ({parts})"
    yield f"  push available  {show(balance.available_n, 'n')}; first to give way: {balance.limited_by}"
    yield f"  greatest flow   {_band(sheet.greatest_mm3_s, 1)} mm³/s; limited by {sheet.greatest_limited_by}"
    advice = f"retract {_band(lost.retraction_mm, 1)} mm, never over {lost.longest_mm:.1f}"
    yield f"  slack           {lost.lost_mm:.2f} mm; {advice}"
    for text in lost.because:
        yield from _wrapped(f" - {text}")
    for text in lost.cautions:
        yield from _wrapped(f"!! {text}")


def orifice(
    machine: Machine,
    flow_new_mm3_s: Annotated[
        float,
        typer.Option("--flow-new", help="Flow in mm³/s at some push when the nozzle was new.", show_default=False),
    ],
    flow_now_mm3_s: Annotated[
        float,
        typer.Option("--flow-now", help="Flow in mm³/s at the same push and temperature now.", show_default=False),
    ],
    material: Material = "pla",
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """How wide the orifice is, by a flow test.

    One now, and the same test when the nozzle was new.
    """
    from feedwright.farm.parts.heat import orifice_of

    with farm(folder) as store:
        verdict = orifice_of(
            store, machine, material=material, flow_new_mm3_s=flow_new_mm3_s, flow_now_mm3_s=flow_now_mm3_s
        )
    out(verdict, orifice_lines(verdict), as_json=as_json)


def orifice_lines(verdict: "OrificeVerdict") -> Iterator[str]:
    """The verdict as lines."""
    sure = "" if verdict.sure else ", as far as this test tells"
    yield f"The orifice is {verdict.word}{sure}: {_band(verdict.bore_mm, 3)} mm"
    for text in verdict.because:
        yield from _wrapped(f" - {text}")


def _band(band: "Band", decimals: int = 0) -> str:
    return f"{band.mid:.{decimals}f} ({band.low:.{decimals}f} to {band.high:.{decimals}f})"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="     ")
