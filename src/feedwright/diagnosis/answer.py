"""The written answer to somebody who asked: what is likely and why, what to check, renew and leave alone."""

from collections.abc import Mapping
from dataclasses import dataclass

from feedwright.catalogue.network import Network, Step
from feedwright.diagnosis.next_step import Bench, best_checks
from feedwright.diagnosis.values import Fit, Likelihood, Posterior, Suspect

CHECKS, LIKELY, LEAVE = 4, 3, 4
"""How many checks, causes and clearances an answer names at most."""
CLEARED_FRAC = 0.02
OPENING = "Thank you for the description. This answer rests on what you wrote and on nothing else."
SAFETY = (
    "Nozzle and heater block are at over 200 °C when hot: gloves and tools, no bare skin, and let parts cool where the "
    "work allows.",
    "Overheated fluoropolymer tube gives off harmful fumes: never above 240 °C in a lined hot end, ventilate, keep pet "
    "birds away.",
    "Switch off and unplug before touching leads or fans. Mains voltage kills: leave supply and mains side to a "
    "qualified person, by your local code.",
    "Do not leave a machine alone that has stopped with a temperature fault, smells burnt or has a browned plug.",
)


@dataclass(frozen=True, slots=True)
class Point:
    """One point of an answer: its heading, its sentences, its steps and its cautions."""

    heading: str
    lines: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """One part of an answer."""

    title: str
    points: tuple[Point, ...]
    numbered: bool = False


@dataclass(frozen=True, slots=True)
class WrittenAnswer:
    """An answer as sections, for a page, as text, or for print."""

    title: str
    opening: str
    sections: tuple[Section, ...]


def write_answer(
    bench: Bench, evidence: Mapping[str, Likelihood], believed: Posterior, suspected: tuple[Suspect, ...], fit: Fit
) -> WrittenAnswer:
    """The answer for the evidence so far; it holds no name and nothing personal."""
    network = bench.network
    likely = [one for one in suspected if one.at_work_frac >= 0.05][:LIKELY] or list(suspected[:1])
    sections = [
        Section("What you described", _described(network, evidence)),
        Section("What is likely, and why", (*_likely(network, likely), *(Point(said) for said in fit.sentences))),
        Section("What to check, in this order", _checks(bench, believed), numbered=True),
        Section("What to renew or set right", _repairs(network, likely)),
        Section("What not to bother with for now", _leave(network, bench, evidence, believed)),
        Section("Take care", tuple(Point(said) for said in SAFETY)),
        Section("How sure this is", (Point(_surety(network)),)),
    ]
    return WrittenAnswer("About your print trouble", OPENING, tuple(part for part in sections if part.points))


def as_text(answer: WrittenAnswer) -> str:
    """The answer as plain text to paste."""
    lines = [answer.title, "", answer.opening]
    for section in answer.sections:
        lines += ["", section.title.upper()]
        for number, point in enumerate(section.points, 1):
            lines += [f"{number}. {point.heading}" if section.numbered else f"- {point.heading}"]
            lines += [f"   {line}" for line in point.lines]
            lines += [f"   * {step}" for step in point.steps]
            lines += [f"   ! {caution}" for caution in point.cautions]
    return "\n".join(lines) + "\n"


def odds_words(chance: float) -> str:
    """A chance as people say it.

    >>> odds_words(0.62), odds_words(0.97), odds_words(0.04)
    ('about 6 in 10', 'almost surely', 'less than 1 in 10')
    """
    if chance >= 0.95:
        return "almost surely"
    tenths = round(chance * 10)
    return f"about {tenths} in 10" if tenths else "less than 1 in 10"


def _described(network: Network, evidence: Mapping[str, Likelihood]) -> tuple[Point, ...]:
    seen = [name for name, told in evidence.items() if told.present > told.absent]
    away = [name for name, told in evidence.items() if told.present < told.absent]
    points = [Point(network.observations[name].title + ".") for name in seen]
    if away:
        points.append(Point("Not seen: " + "; ".join(_lower(network.observations[name].title) for name in away) + "."))
    return tuple(points)


def _likely(network: Network, likely: list[Suspect]) -> tuple[Point, ...]:
    return tuple(
        Point(f"{network.causes[one.cause].title}: {odds_words(one.at_work_frac)}.", _why(network, one))
        for one in likely
    )


def _why(network: Network, one: Suspect) -> tuple[str, ...]:
    said = [network.causes[one.cause].because]
    if one.for_it:
        said.append(f"For it speaks: {_listed(network, one.for_it)}.")
    if one.against_it:
        said.append(f"Against it: {_listed(network, one.against_it)} would be expected, and was not seen.")
    return tuple(said)


def _checks(bench: Bench, believed: Posterior) -> tuple[Point, ...]:
    points = []
    for step in best_checks(bench, believed, CHECKS):
        known = bench.network.checks[step.step]
        asked = tuple(bench.network.observations[name].ask for name in step.asks)
        points.append(Point(known.title, (*asked, *step.because), known.how, known.cautions))
    return tuple(points)


def _repairs(network: Network, likely: list[Suspect]) -> tuple[Point, ...]:
    repairs = dict.fromkeys(network.causes[one.cause].cure for one in likely)
    return tuple(_repair(network, network.repairs[name], likely) for name in repairs)


def _repair(network: Network, step: Step, likely: list[Suspect]) -> Point:
    cures = [network.causes[one.cause].title for one in likely if network.causes[one.cause].cure == step.id]
    took = step.minutes
    minutes = f"about {took.value:g}" if took.low == took.high else f"{took.low:g} to {took.high:g}"
    when = f"If the checks point to it ({'; '.join(map(_lower, cures))}). Takes {minutes} minutes."
    return Point(step.title, (when,), step.how, step.cautions)


def _leave(
    network: Network, bench: Bench, evidence: Mapping[str, Likelihood], believed: Posterior
) -> tuple[Point, ...]:  # fmt: skip
    """Usual suspects that the evidence does not support: often suspected, and not at work here."""
    usual = sorted(range(len(believed.causes)), key=lambda i: -float(bench.model.prior[i]))[:25]
    spoken = {name for name, told in evidence.items() if told.present < told.absent}
    points = []
    for i in usual:
        cause = network.causes[believed.causes[i]]
        if bench.model.prior[i] <= 0 or believed.at_work[i] >= CLEARED_FRAC:
            continue
        missing = [name for name in cause.shows if name in spoken and cause.shows[name].value >= 0.4]
        why = (
            f"{_listed(network, missing[:2])} would show, and does not"
            if missing
            else "nothing you describe points to it"
        )
        points.append((not missing, Point(f"{cause.title}: {why}.")))
    return tuple(point for _, point in sorted(points, key=lambda held: held[0])[:LEAVE])


def _surety(network: Network) -> str:
    numbers = [number for cause in network.causes.values() for number in cause.shows.values()]
    practice = sum(number.source == "practice" for number in numbers) / len(numbers)
    return (
        f"The chances come from {len(network.causes)} known causes and what each usually shows: {practice:.0%} of "
        "those numbers are common practice, the rest assumed, refined by closed cases where there are any. They say "
        "where to look first, not what is so; the checks decide."
    )


def _listed(network: Network, names: tuple[str, ...] | list[str]) -> str:
    return "; ".join(_lower(network.observations[name].title) for name in names[:4])


def _lower(title: str) -> str:
    return title[:1].lower() + title[1:]
