"""``feedwright case``: from a symptom to the part at fault, and the answer to whoever asked."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from feedwright.cli.say import AsJson, FarmFolder, Limit, Note, Who, farm, now, out, show_time, table
from feedwright.errors import BadInput

if TYPE_CHECKING:
    from feedwright.catalogue.network import Network
    from feedwright.diagnosis.values import NextStep
    from feedwright.farm.cases.cases import CaseSheet

case = typer.Typer(help="Troubles under investigation.", no_args_is_help=True, rich_markup_mode=None)
Number = Annotated[int, typer.Argument(min=1, help="The case's number.", show_default=False)]
Saw = Annotated[list[str] | None, typer.Option("--saw", help="A symptom that is there; `case find` lists them.")]
NotSaw = Annotated[list[str] | None, typer.Option("--not", help="A symptom that is not there.")]
Holds = Annotated[list[str] | None, typer.Option("--known", help="A circumstance, or NAME=no; see `case find`.")]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(case, name="case")


@case.command("find")
def find(words: Annotated[list[str], typer.Argument(help="Everyday words.")], as_json: AsJson = False) -> None:
    """Find symptoms by everyday words."""
    from feedwright.catalogue.network import load_network
    from feedwright.diagnosis.search import find_observations

    network = load_network()
    found = find_observations(network, " ".join(words))
    known = [one for one in network.circumstances.values() if any(word.casefold() in one.title for word in words)]
    rows = [(seen.id, seen.title) for seen in found] + [(one.id, f"known beforehand: {one.title}") for one in known]
    data = [{"id": key, "title": title} for key, title in rows]
    out(data, table(("id", "symptom"), rows) if rows else ["Nothing fits. Try a plainer word."], as_json=as_json)


@case.command("open")
def open_(
    saw: Saw = None,
    not_saw: NotSaw = None,
    known: Holds = None,
    machine: Annotated[str | None, typer.Option("--machine", help="The machine it is about, one of your own.")] = None,
    material: Annotated[str, typer.Option("--material", help="Material printed.")] = "",
    drive: Annotated[str, typer.Option("--drive", help="A machine not your own: remote or direct.")] = "",
    hot_end: Annotated[str, typer.Option("--hot-end", help="A machine not your own: lined or all_metal.")] = "",
    label: Annotated[str, typer.Option("--label", help="A word to know it by; nothing personal is needed.")] = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Begin a case on an own machine or another's."""
    from feedwright.farm.cases.cases import case_sheet, open_case
    from feedwright.farm.ground.house import farm_folder, open_farm

    # somebody else can be answered before an own machine is described
    with open_farm(farm_folder(folder), create=True) as store:
        made = open_case(
            store, machine=machine, label=label, drive=drive, hot_end=hot_end, material=material,
            facts=_facts(known), answers=_answers(saw, not_saw), person=who,
        )  # fmt: skip
        sheet = case_sheet(store, made.id, now())
    out(sheet, [f"Case {made.id} is open.", "", *_lines(sheet)], as_json=as_json)


@case.command("tell")
def tell_(
    number: Number,
    saw: Saw = None,
    not_saw: NotSaw = None,
    known: Holds = None,
    read: Annotated[list[str] | None, typer.Option("--read", help="A reading as NAME=NUMBER, such as feed=96.")] = None,
    tried: Annotated[str, typer.Option("--tried", help="A repair that was done and did not cure.")] = "",
    state: Annotated[str, typer.Option("--state", help="What the machine is now: cold, hot or running.")] = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Add what was seen, measured or tried."""
    from feedwright.farm.cases.cases import case_sheet, tell

    with farm(folder) as store:
        tell(
            store, number, answers=_answers(saw, not_saw), facts=_facts(known), readings=_readings(read), tried=tried,
            state=state, person=who,
        )  # fmt: skip
        sheet = case_sheet(store, number, now())
    out(sheet, _lines(sheet), as_json=as_json)


@case.command("show")
def show(number: Number, as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """What is suspected, and what to check next."""
    from feedwright.farm.cases.cases import case_sheet

    with farm(folder) as store:
        sheet = case_sheet(store, number, now())
    out(sheet, _lines(sheet), as_json=as_json)


@case.command("list")
def list_(limit: Limit = 30, as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Cases, open ones first."""
    from feedwright.farm.cases.case_lists import case_lines

    with farm(folder) as store:
        lines = case_lines(store, limit)
        rows = [
            (str(line.case.id), show_time(store, line.case.opened_utc), line.machine, line.case.label,
             ", ".join(line.seen), (line.ending.cause or "not found") if line.ending else "open")
            for line in lines
        ]  # fmt: skip
    out(lines, table(("case", "begun", "machine", "label", "seen", "cause"), rows), as_json=as_json)


@case.command("end")
def end(
    number: Number,
    cause: Annotated[str, typer.Option("--cause", help="The cause that was found, as `case show` names it.")] = "",
    cure: Annotated[str, typer.Option("--cure", help="What cured it; else what usually cures that cause.")] = "",
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """End a case with its cause and cure."""
    from feedwright.catalogue.network import load_network
    from feedwright.farm.cases.cases import close_case

    known = load_network().causes
    with farm(folder) as store:
        usual = known[cause].cure if cause in known else ""
        ending = close_case(store, number, cause=cause, cure=cure or usual, note=note, person=who)
    out(ending, [f"Case {number} is closed; what was found counts in the next ones."], as_json=as_json)


@case.command("answer")
def answer(
    number: Number,
    pdf: Annotated[Path | None, typer.Option("--pdf", help="Write it as PDF to this file instead.")] = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """The written answer for the asker."""
    from feedwright.diagnosis.answer import as_text
    from feedwright.farm.cases.cases import written_answer

    with farm(folder) as store:
        written = written_answer(store, number, now())
    if pdf is not None:
        from feedwright.farm.cases.case_pdf import answer_pdf

        pdf.write_bytes(answer_pdf(written))
        out(written, [f"The answer is in {pdf}."], as_json=as_json)
        return
    out(written, as_text(written).splitlines(), as_json=as_json)


def _answers(saw: list[str] | None, not_saw: list[str] | None) -> dict[str, str]:
    return {**dict.fromkeys(saw or [], "yes"), **dict.fromkeys(not_saw or [], "no")}


def _facts(known: list[str] | None) -> dict[str, str]:
    parted = [word.partition("=") for word in known or []]
    return {name: value or "yes" for name, _, value in parted}


def _readings(read: list[str] | None) -> dict[str, float]:
    told = {}
    for word in read or []:
        name, _, value = word.partition("=")
        try:
            told[name] = float(value)
        except ValueError as error:
            raise BadInput(
                "--read", place=f"“{word}”", expected="expected NAME=NUMBER", remedy="such as feed=96"
            ) from error
    return told


def _lines(sheet: "CaseSheet") -> Iterator[str]:
    """A case in words: causes with their chances, then the next step."""
    from feedwright.catalogue.network import load_network
    from feedwright.diagnosis.answer import odds_words

    network = load_network()
    yield from sheet.fit.sentences
    for one in sheet.suspects[:6]:
        chance = one.at_work_frac if sheet.file.answers else one.chance_frac
        yield f"{odds_words(chance):20} {network.causes[one.cause].title}  [{one.cause}]"
    if sheet.file.ending:
        yield f"Closed: {sheet.file.ending.cause or 'cause not found'}."
    elif sheet.advice.best is None:
        yield "Nothing is left to check or to try."
    else:
        yield from ["", *_step_lines(network, sheet.advice.best)]


def _step_lines(network: "Network", best: "NextStep") -> Iterator[str]:
    step: Any = (network.checks if best.kind == "check" else network.repairs)[best.step]
    yield f"Next: {step.title}"
    yield from (f"  ! {text}" for text in step.cautions)
    yield from (f"  * {text}" for text in step.how)
    for name in best.asks:
        yield f"  ? {network.observations[name].ask}  [--saw {name}, or --not {name}]"
    if best.kind == "repair":
        yield f"  ? If it did not cure: [--tried {best.step}]"
    yield from (f"  {text}" for text in best.because)
