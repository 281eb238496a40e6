"""Bringing a machine true: ``tram``, ``feed-rate``, ``flow``, ``heater``, ``sensor``, ``test-piece``, ``judge``."""

import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from feedwright.cli.say import AsJson, At, FarmFolder, Note, Who, farm, out, show_time, table, when
from feedwright.errors import BadInput, refusal_of_system
from feedwright.units import BY_SUFFIX, show_rounded

if TYPE_CHECKING:
    from feedwright.farm.service.truing import PastTramming
    from feedwright.service.values import BedReading, HeaterSheet, Screw, ScrewDrift, TramSheet

value = typer.Typer(
    help="Working values of a machine, with their history.", no_args_is_help=True, rich_markup_mode=None
)
Machine = Annotated[str, typer.Argument(help="The machine's name.", show_default=False)]
Material = Annotated[str, typer.Option("--material", help="Material, such as pla or petg.")]
Write = Annotated[bool, typer.Option("--write", help="Write what it asks for into the machine's working values.")]
WIDTH, LONGEST_LOG_BYTES = 78, 20_000_000


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("tram")(tram)
    app.command("feed-rate")(feed_rate)
    app.command("flow")(flow)
    app.command("heater")(heater)
    app.command("sensor")(sensor)
    app.command("test-piece")(piece_file)
    app.command("judge")(judge)
    app.add_typer(value, name="value")


def tram(
    machine: Machine,
    reading: Annotated[
        list[str] | None, typer.Option("--reading", help="X,Y=HEIGHT in mm, above is positive; once for each point.")
    ] = None,
    by: Annotated[
        str, typer.Option("--read-by", help="probe, gauge (gap in mm) or paper (stuck, drags, loose).")
    ] = "probe",
    tolerance_mm: Annotated[float, typer.Option("--tolerance-mm", help="How far out it may be, ± mm.")] = 0.05,
    leave: Annotated[str, typer.Option("--leave", help="Screw to leave alone; else the one that spares most.")] = "",
    screw: Annotated[
        list[str] | None, typer.Option("--screw", help="NAME=X,Y: write down where each screw is, once for each.")
    ] = None,
    pitch_mm: Annotated[float, typer.Option("--pitch-mm", help="With --screw: pitch in mm; M4 is 0.7.")] = 0.7,
    clockwise_raises: Annotated[
        bool, typer.Option("--clockwise-raises", help="With --screw: a clockwise turn raises the bed.")
    ] = False,
    history: Annotated[bool, typer.Option("--history", help="Past trammings, and which corner wanders.")] = False,
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """What to turn at each bed screw, from readings.

    Or which corner of the bed wanders.
    """
    from feedwright.farm.service.truing import screw_drift, set_screws, tram_machine, trammings
    from feedwright.service.values import BedScrews

    with farm(folder) as store:
        if history:
            past, drifts = trammings(store, machine), screw_drift(store, machine)
            lines = _history_lines([(show_time(store, one.measured_utc), one) for one in past], drifts)
            out({"trammings": past, "drift": drifts}, lines, as_json=as_json)
            return
        if not reading and not screw:
            remedy = "give --reading 30,30=0.1 for each point, or --history"
            raise BadInput("tram", expected="expected readings or screws", remedy=remedy)
        if screw:
            held = BedScrews(tuple(_screw(one) for one in screw), pitch_mm, clockwise_lowers=not clockwise_raises)
            set_screws(store, machine, held, person=who)
            if not reading:
                out(held, [f"{len(screw)} screws of {machine} are written down."], as_json=as_json)
                return
        sheet = tram_machine(
            store, machine, [_reading(one, by) for one in reading or ()], tolerance_mm=tolerance_mm, reference=leave,
            measured_utc=when(store, at), person=who,
        )  # fmt: skip
    out(sheet, _tram_lines(sheet), as_json=as_json)


def _reading(text: str, by: str) -> "BedReading":
    from feedwright.service.tramming import height_of_gap, height_of_paper
    from feedwright.service.values import BedReading

    place, _, read = text.partition("=")
    x_mm, y_mm = _two_numbers("--reading", text, place)
    if by == "paper":
        return BedReading(x_mm, y_mm, height_of_paper(read.strip().casefold()))
    if by not in ("probe", "gauge"):
        raise BadInput("--read-by", place=f"“{by}”", expected="expected probe, gauge or paper", remedy="choose one")
    height = _number("--reading", text, read)
    return BedReading(x_mm, y_mm, height_of_gap(height) if by == "gauge" else height)


def _screw(text: str) -> "Screw":
    from feedwright.service.values import Screw

    name, _, place = text.partition("=")
    return Screw(name.strip(), *_two_numbers("--screw", text, place))


def _two_numbers(option: str, given: str, place: str) -> tuple[float, float]:
    x, _, y = place.partition(",")
    return _number(option, given, x), _number(option, given, y)


def _number(option: str, given: str, text: str) -> float:
    try:
        return float(text)
    except ValueError as error:
        remedy = "write it like 30,30=0.1" if option == "--reading" else "write it like left=30,30"
        raise BadInput(option, place=f"“{given}”", expected="expected numbers in mm", remedy=remedy) from error


def _tram_lines(sheet: "TramSheet") -> Iterator[str]:
    if sheet.within:
        yield f"Within ±{sheet.tolerance_mm:g} mm: leave the screws."
    else:
        yield from table(
            ("screw", "turn", "clock minutes", "degrees", "bed moves"),
            (
                (turn.screw.name, turn.rotation, f"{abs(turn.clock_minutes):.1f}", f"{abs(turn.turn_deg):.0f}",
                 f"{round(-turn.lower_mm, 3) + 0.0:+.3f} mm")
                for turn in sheet.turns
            ),
        )  # fmt: skip
        yield f"Then it stands {sheet.level_mm:+.3f} mm against the nozzle all over: set the offset, and read anew."
    yield from _each_wrapped(sheet.because)


def _history_lines(past: list[tuple[str, "PastTramming"]], drifts: list["ScrewDrift"]) -> Iterator[str]:
    rows = [(at, f"±{one.worst_mm:.3f} mm", "yes" if one.tramming.within else "no, screws turned") for at, one in past]
    yield from table(("tramming", "was out by", "within tolerance"), rows)
    for one in drifts:
        yield f"{one.screw}: {round(one.mean_mm, 3) + 0.0:+.3f} mm from session to session ({one.count} times)"


def _each_wrapped(texts: tuple[str, ...]) -> Iterator[str]:
    for text in texts:
        yield from textwrap.wrap(f" - {text}", WIDTH, subsequent_indent="   ")


def feed_rate(
    machine: Machine,
    commanded_mm: Annotated[float, typer.Option("--commanded-mm", help="Length asked for.", show_default=False)],
    measured_mm: Annotated[list[float], typer.Option("--measured-mm", help="Length measured; once for each reading.")],
    steps: Annotated[
        float | None, typer.Option("--steps", help="Steps per mm as set now; else as written down.")
    ] = None,
    division_mm: Annotated[float, typer.Option("--division-mm", help="Division of the ruler in mm.")] = 0.5,
    free: Annotated[bool, typer.Option("--free", help="Nothing resisted: the tube was off.")] = False,
    write: Write = False,
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Steps per mm from commanded and measured lengths."""
    from feedwright.farm.service.truing import check_feed, feed_health_of

    with farm(folder) as store:
        sheet = check_feed(
            store, machine, commanded_mm=commanded_mm, measured_mm=measured_mm, steps_per_mm=steps,
            division_mm=division_mm, free=free, write=write, measured_utc=when(store, at), person=who,
        )  # fmt: skip
        health = feed_health_of(store, machine)
    new = sheet.new_steps_per_mm
    said = f"New steps per mm: {new.value:.2f} ({new.low:.2f} to {new.high:.2f}, 95 in 100)"
    more = (f"{health.word}: {health.because}",) if health else ()
    out(sheet, [said, *_each_wrapped((*sheet.because, *more))], as_json=as_json)


def flow(
    machine: Machine,
    material: Material = "pla",
    asked_mm: Annotated[float | None, typer.Option("--asked-mm", help="Width asked of a single wall.")] = None,
    wall_mm: Annotated[
        list[float] | None, typer.Option("--wall-mm", help="Thickness measured; once a reading.")
    ] = None,
    commanded_mm: Annotated[float | None, typer.Option("--commanded-mm", help="Or: length of filament fed.")] = None,
    weighed_g: Annotated[list[float] | None, typer.Option("--weighed-g", help="Weight of it; once a weighing.")] = None,
    strand_g: Annotated[
        list[float] | None, typer.Option("--strand-g", help="Or: weight of a hanging strand; once a weighing.")
    ] = None,
    strand_new_g: Annotated[
        float | None, typer.Option("--strand-new-g", help="Weight of as long a strand when the nozzle was new.")
    ] = None,
    write: Write = False,
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Flow ratio or orifice from a single wall or from weight."""
    from feedwright.farm.service.truing import check_flow, check_orifice

    with farm(folder) as store:
        if strand_g and strand_new_g is not None:
            bore = check_orifice(
                store, machine, strand_new_g=strand_new_g, strand_now_g=strand_g, measured_utc=when(store, at),
                person=who,
            )  # fmt: skip
            said = f"Bore: {bore.value:.3f} mm ({bore.low:.3f} to {bore.high:.3f}, 95 in 100, if strands swell alike)"
            out(bore, [said], as_json=as_json)
            return
        sheet = check_flow(
            store, machine, material=material, asked_mm=asked_mm, walls_mm=wall_mm or (), commanded_mm=commanded_mm,
            weighed_g=weighed_g or (), write=write, measured_utc=when(store, at), person=who,
        )  # fmt: skip
    ratio = sheet.flow_ratio
    said = f"Flow ratio: {ratio.value:.3f} ({ratio.low:.3f} to {ratio.high:.3f}, 95 in 100)"
    out(sheet, [said, *_each_wrapped(sheet.because)], as_json=as_json)


def heater(
    machine: Machine,
    log: Annotated[
        Path, typer.Argument(help="File of time in s and temperature in °C, a row each.", show_default=False)
    ],
    target_c: Annotated[float, typer.Option("--target-c", help="Temperature to tune for, in °C.", show_default=False)],
    power_frac: Annotated[float, typer.Option("--power-frac", help="Share of full power while it was logged.")] = 1.0,
    write: Write = False,
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Heater settings from a heating log, and what has aged."""
    from feedwright.farm.service.truing import tune_heater
    from feedwright.service.heating_log import read_heating_log

    held = read_heating_log(_text_of(log), log.name)
    with farm(folder) as store:
        sheet, aged = tune_heater(
            store, machine, held, target_c=target_c, power_frac=power_frac, write=write, measured_utc=when(store, at),
            person=who,
        )  # fmt: skip
    out({"sheet": sheet, "aged": aged}, _heater_lines(sheet, aged), as_json=as_json)


def _text_of(log: Path) -> str:
    try:
        with log.open("rb") as file:
            held = file.read(LONGEST_LOG_BYTES + 1)
    except OSError as error:
        raise refusal_of_system(error) from error
    if len(held) > LONGEST_LOG_BYTES:
        raise BadInput(str(log), expected="it is larger than 20 MB", remedy="keep one row a second")
    return held.decode("utf-8", errors="replace")


def _heater_lines(sheet: "HeaterSheet", aged: list[str]) -> Iterator[str]:
    model, held = sheet.model, sheet.settings
    yield (
        f"{model.gain_dk_per_percent_ratio:.2f} K per %, lag {model.lag_s:.0f} s, dead time {model.dead_s:.1f} s, "
        f"first slope {model.slope_c_s:.2f} °C/s"
    )
    yield f"{held.rule}: gain {held.gain_ratio:.3f} % per K, integral {held.integral_s:.1f} s, " + (
        f"derivative {held.derivative_s:.2f} s"
    )
    yield (
        f"  as three gains: {held.gain_ratio:.3f}, {held.integral_gain_ratio:.4f}, {held.derivative_gain_ratio:.2f} "
        "in % of power; times 2.55 where a machine counts power to 255"
    )
    yield from _each_wrapped((*sheet.because, *aged))


def sensor(
    at_c: Annotated[list[float], typer.Option("--at-c", help="Temperature of the sensor in °C; once a reading.")],
    ohm: Annotated[list[float], typer.Option("--ohm", help="Its resistance then, unplugged; in the same order.")],
    rated_ohm: Annotated[float, typer.Option("--rated-ohm", help="Resistance at 25 °C of the type set.")] = 100_000.0,
    beta_kelvin: Annotated[float, typer.Option("--beta-kelvin", help="B of the type set, in K.")] = 3950.0,
    as_json: AsJson = False,
) -> None:
    """Is a thermistor of the type that the machine is set for?

    A wrong one can overheat the hot end while it shows less.
    """
    from feedwright.service.thermistor import check_sensor

    if len(at_c) != len(ohm):
        raise BadInput("--ohm", expected="expected one for each --at-c", remedy="give both for each reading")
    found = check_sensor(list(zip(at_c, ohm, strict=True)), rated_ohm=rated_ohm, beta_kelvin=beta_kelvin)
    out(found, _each_wrapped(found.because), as_json=as_json)


def piece_file(
    machine: Machine,
    piece: Annotated[
        str,
        typer.Argument(help="first_layer, retraction, flow, temperature or single_wall.", show_default=False),
    ],
    to: Annotated[Path, typer.Option("--to", help="File to write; must not be there yet.", show_default=False)],
    material: Material = "pla",
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Write a test piece as G-code for one machine.

    Prints how to judge it.
    """
    from feedwright.farm.service.pieces import piece_for, save_piece

    with farm(folder) as store:
        made = piece_for(store, machine, piece.replace("-", "_"), material=material)
        save_piece(made, to)
    bands = tuple(
        f"{band.from_mm:g} to {band.to_mm:g} mm: {band.value:g} {BY_SUFFIX[band.unit].symbol}" for band in made.bands
    )
    lines = [f"{made.title} is in {to}: {made.filament_mm / 1000:.2f} m of filament.", *_each_wrapped(bands)]
    warned = [line for text in made.cautions for line in textwrap.wrap(f"!! {text}", WIDTH)]
    out(made, [*lines, *_each_wrapped(made.judge), *warned], as_json=as_json)


def judge(
    machine: Machine,
    piece: Annotated[str, typer.Argument(help="first_layer, retraction, flow or temperature.", show_default=False)],
    result: Annotated[
        float,
        typer.Argument(
            help="Share of good patches (0 to 1), or the value of the best band in mm, °C or mm³/s.", show_default=False
        ),
    ],
    material: Material = "pla",
    keep_value: Annotated[
        bool, typer.Option("--keep-value", help="Leave the working value as it is; only record the result.")
    ] = False,
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Record how a test piece came out.

    Sets the working value that it found.
    """
    from feedwright.farm.service.pieces import record_piece

    with farm(folder) as store:
        made = record_piece(
            store, machine, piece.replace("-", "_"), result, material=material, note=note, write=not keep_value,
            measured_utc=when(store, at), person=who,
        )  # fmt: skip
    said = f"Measurement {made.measurement.id} is on record."
    if made.setting:
        said += f" {made.setting.name} of {machine} is now {show_rounded(made.setting.value)}."
    out(made, [said, *_each_wrapped(made.because)], as_json=as_json)


@value.command("list")
def list_(machine: Machine, as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """The working values of a machine, and which no longer suit its parts."""
    from feedwright.farm.service.settings_ledger import ledger

    with farm(folder) as store:
        lines = ledger(store, machine)
        rows = [
            (line.kind.name, line.now.material or "all", show_rounded(line.now.value),
             show_time(store, line.now.set_utc), line.now.why, " ".join(line.warnings))
            for line in lines
        ]  # fmt: skip
    out(lines, table(("value", "material", "is", "since", "why", "but"), rows), as_json=as_json)


@value.command("set")
def set_(
    machine: Machine,
    name: Annotated[str, typer.Argument(help="Which, such as steps_per_mm or retract_mm.", show_default=False)],
    number: Annotated[float, typer.Argument(help="Its value, in the unit its name ends with.", show_default=False)],
    why: Annotated[str, typer.Option("--why", help="Why it was set.", show_default=False)],
    material: Annotated[str, typer.Option("--material", help="For which material; else for all.")] = "",
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Write down a working value, and why."""
    from feedwright.farm.service.settings_ledger import set_value

    with farm(folder) as store:
        made = set_value(store, machine, name, number, why=why, material=material, set_utc=when(store, at), person=who)
    out(made, [f"{made.name} of {machine} is now {show_rounded(made.value)}."], as_json=as_json)
