"""Cases: one trouble under investigation, on an own machine or somebody else's, from the first symptom to its cause."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import cast, get_args

from feedwright.catalogue.entry import Drive, HotEnd
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import Network, ReadingKind, load_network
from feedwright.diagnosis.answer import WrittenAnswer, write_answer
from feedwright.diagnosis.evidence import evidence_of
from feedwright.diagnosis.explain import suspects
from feedwright.diagnosis.model import model_of
from feedwright.diagnosis.next_step import Bench, advise
from feedwright.diagnosis.posterior import posterior
from feedwright.diagnosis.readings import Around, likelihoods
from feedwright.diagnosis.unexplained import fit_of
from feedwright.diagnosis.values import Advice, Answer, Fit, Likelihood, Posterior, Prices, Situation, State, Suspect
from feedwright.errors import BadInput, Conflict, NotFound
from feedwright.farm.cases.case_learning import counts_of
from feedwright.farm.cases.cause_priors import Known, known_of, traits
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import one_of, pick_entry, text
from feedwright.farm.ground.people import person_id
from feedwright.farm.ground.settings import figures
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.outlook.costs import in_money_of_farm
from feedwright.records.reads import Reads
from feedwright.records.store import Store
from feedwright.records.values import Case, CaseEnding, CaseEntry, CaseEntryKind, Machine

LONGEST_LABEL = 60
FACTS = ("yes", "no", "unsure")


@dataclass(frozen=True, slots=True)
class CaseFile:
    """All that was told of one case, the latest word on each thing."""

    case: Case
    machine: Machine | None
    facts: dict[str, bool]
    answers: dict[str, Answer]
    readings: dict[str, float]
    tried: tuple[str, ...]
    state: State
    ending: CaseEnding | None


@dataclass(frozen=True, slots=True)
class CaseSheet:
    """One case as it stands: what was told, what is suspected, what to do next."""

    file: CaseFile
    known: tuple[str, ...]
    """What the records say beforehand, in words."""
    holds: dict[str, bool]
    """Circumstances that are known, by the person or by the records."""
    suspects: tuple[Suspect, ...]
    fit: Fit
    advice: Advice
    set_aside: tuple[str, ...]
    currency: str


def open_case(
    store: Store,
    *,
    machine: str | None = None,
    label: str = "",
    drive: str = "",
    hot_end: str = "",
    material: str = "",
    facts: Mapping[str, str] | None = None,
    answers: Mapping[str, str] | None = None,
    opened_utc: datetime | None = None,
    person: str | None = None,
) -> Case:
    """Begin a case on an own machine, or on somebody else's where ``machine`` is None; all else may stay empty.

    ``facts`` maps circumstances to yes, no or unsure; ``answers`` observations to an answer.
    """
    own = machine_named(store, machine) if machine else None
    case = Case(
        opened_utc=moment(opened_utc),
        label=text("label", label, LONGEST_LABEL, lines=False),
        machine_id=own.id if own else None,
        drive="" if own or not drive else cast(Drive, one_of("drive", drive, get_args(Drive))),
        hot_end="" if own or not hot_end else cast(HotEnd, one_of("hot end", hot_end, get_args(HotEnd))),
        material=pick_entry(load_catalogue().materials, material, "material").id if material else "",
    )
    told = [*_facts(facts or {}), *_answers(answers or {})]
    with store.act("open case", person_id=person_id(store, person)) as act:
        number = act.add(case)
        for kind, name, value in told:
            act.add(CaseEntry(number, case.opened_utc, kind, name, value))
    return replace(case, id=number, act_id=act.id)


def tell(
    store: Store,
    number: int,
    *,
    answers: Mapping[str, str] | None = None,
    facts: Mapping[str, str] | None = None,
    readings: Mapping[str, float] | None = None,
    tried: str = "",
    state: str = "",
    told_utc: datetime | None = None,
    person: str | None = None,
) -> None:
    """Add what was seen, measured or done to an open case; the latest word on a thing counts.

    ``tried`` names a repair that did not cure; ``state`` says what the machine is now: cold, hot or running.
    """
    entries = [*_answers(answers or {}), *_facts(facts or {})]
    with store.act("tell case", person_id=person_id(store, person)) as act:
        case = _open(act, number)
        entries += _readings(case, readings or {})
        if tried:
            entries.append(("tried", pick_entry(load_network().repairs, tried, "repair").id, "in vain"))
        if state:
            entries.append(("state", "machine", one_of("state", state, get_args(State))))
        if not entries:
            raise BadInput("case", expected="nothing was told", remedy="give an answer, a reading or a repair")
        for kind, name, value in entries:
            act.add(CaseEntry(number, moment(told_utc), kind, name, value))


def close_case(
    store: Store,
    number: int,
    *,
    cause: str = "",
    cure: str = "",
    note: str = "",
    ended_utc: datetime | None = None,
    person: str | None = None,
) -> CaseEnding:
    """End a case with the cause that was found and what cured it; both may stay open where nobody found out."""
    network = load_network()
    found = pick_entry(network.causes, cause, "cause").id if cause else ""
    cured = pick_entry(network.repairs, cure, "repair").id if cure else ""
    ending = CaseEnding(number, moment(ended_utc), found, cured, text("note", note))
    with store.act("close case", person_id=person_id(store, person)) as act:
        _open(act, number)
        number_of_ending = act.add(ending)
    return replace(ending, id=number_of_ending, act_id=act.id)


def case_sheet(store: Store, number: int, now_utc: datetime) -> CaseSheet:
    """One case with its ranking, its fit and the next step."""
    return _reckoned(store, number, now_utc).sheet


def written_answer(store: Store, number: int, now_utc: datetime) -> WrittenAnswer:
    """The answer to the asker, as the case stands; without label, name or machine."""
    held = _reckoned(store, number, now_utc)
    return write_answer(held.bench, held.evidence, held.believed, held.sheet.suspects, held.sheet.fit)


def case_file(records: Reads, number: int) -> CaseFile:
    """All that was told of a case; raises NotFound."""
    case = records.one(Case, number)
    if case is None:
        raise NotFound("case", place=f"number {number}", expected="no such case, or void", remedy="list the cases")
    latest = {(entry.kind, entry.name): entry.value for entry in records.case_entries([number])}
    by_kind = {kind: {name: value for (held, name), value in latest.items() if held == kind}
               for kind in get_args(CaseEntryKind)}  # fmt: skip
    machine = next((one for one in records.machines() if one.id == case.machine_id), None)
    return CaseFile(
        case=case,
        machine=machine,
        facts={name: value == "yes" for name, value in by_kind["fact"].items() if value != "unsure"},
        answers=cast(dict[str, Answer], by_kind["answer"]),
        readings={name: float(value) for name, value in by_kind["reading"].items()},
        tried=tuple(by_kind["tried"]),
        state=cast(State, by_kind["state"].get("machine", "cold")),
        ending=next((ending for ending in records.case_endings() if ending.case_id == number), None),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Reckoned:
    sheet: CaseSheet
    bench: Bench
    evidence: dict[str, Likelihood]
    believed: Posterior


def _reckoned(store: Store, number: int, now_utc: datetime) -> _Reckoned:
    network, file = load_network(), case_file(store, number)
    known = _known(store, network, file, now_utc)
    situation = replace(known.situation, tried=frozenset(file.tried))
    model = model_of(network, situation, counts_of(store, network))
    evidence = evidence_of(network, _of_network(network, file.answers), _measured(network, file))
    believed = posterior(model, evidence)
    suspected = suspects(network, model, believed, evidence)
    prices = _prices(store)
    done = frozenset([*file.answers, *evidence, *file.tried])
    bench = Bench(in_money_of_farm(network, figures(store)), model, situation, prices, file.state, done)
    advice = Advice(None, ()) if file.ending else advise(bench, believed)
    fit = fit_of(network, model, evidence, believed)
    sheet = CaseSheet(file, known.because, situation.circumstances, suspected, fit, advice, believed.set_aside,
                      prices.currency)  # fmt: skip
    return _Reckoned(sheet, bench, evidence, believed)


def _of_network(network: Network, answers: dict[str, Answer]) -> dict[str, Answer]:
    """Answers to observations that this version still knows."""
    return {name: answer for name, answer in answers.items() if name in network.observations}


def _known(store: Store, network: Network, file: CaseFile, now_utc: datetime) -> Known:
    """Before any symptom: by the records for an own machine, by the form for another; the person's word counts."""
    if file.machine is None:
        holds = traits(network, file.case.material)
        known = Known(Situation(file.case.drive or None, file.case.hot_end or None, holds), ())
    else:
        known = known_of(store, network, file.machine, file.case.material, now_utc)
    holds = {**known.situation.circumstances, **file.facts}
    return replace(known, situation=replace(known.situation, circumstances=holds))


def _prices(store: Store) -> Prices:
    numbers = figures(store)
    hour = numbers.numbers["labour_per_h"].value + numbers.numbers["machine_per_h"].value
    return Prices(hour, numbers.currency)


def _measured(network: Network, file: CaseFile) -> dict[str, Likelihood]:
    told: dict[str, Likelihood] = {}
    for name, value in file.readings.items():
        if name in network.readings:
            told |= likelihoods(network.readings[name], value, _around(file))
    return told


def _around(file: CaseFile) -> Around:
    """What the readings depend on; what is not known is as usual."""
    lined = (file.machine.hot_end if file.machine else file.case.hot_end or "lined") == "lined"
    material = file.case.material or "pla"
    nozzle_c = load_catalogue().materials[material].nozzle_c.value
    return Around(lined, nozzle_c, file.machine.enclosure_c if file.machine else 22.0, material)


def _open(records: Reads, number: int) -> CaseFile:
    file = case_file(records, number)
    if file.ending:
        raise Conflict("case", place=f"number {number}", expected="it is closed", remedy="open a new case")
    return file


Told = tuple[CaseEntryKind, str, str]


def _answers(answers: Mapping[str, str]) -> list[Told]:
    known = load_network().observations
    return [("answer", pick_entry(known, name, "observation").id, one_of("answer", value, get_args(Answer)))
            for name, value in answers.items()]  # fmt: skip


def _facts(facts: Mapping[str, str]) -> list[Told]:
    known = load_network().circumstances
    return [("fact", pick_entry(known, name, "circumstance").id, one_of("circumstance", value, FACTS))
            for name, value in facts.items()]  # fmt: skip


def _readings(file: CaseFile, readings: Mapping[str, float]) -> list[Told]:
    """Readings that can be such; refuses a number out of range before it is kept."""
    known = load_network().readings
    told: list[Told] = []
    for name, value in readings.items():
        kind: ReadingKind = pick_entry(known, name, "reading")
        likelihoods(kind, value, _around(file))
        told.append(("reading", kind.id, repr(float(value))))
    return told
