"""Finding a machine, a file, a case, a visit, a record by its number, or a chapter of the handbook by some words."""

import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache

from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import load_network
from feedwright.catalogue.procedures import load_procedures
from feedwright.records.store import Store
from feedwright.records.stores_values import Spool
from feedwright.records.values import Run

LONGEST, MOST_OF_A_KIND = 100, 8
"""Letters of a question that are read; hits of one kind that are shown."""
EXACT, BEGINS, WITHIN, CLOSE = 1.0, 0.85, 0.65, 0.6
BEHIND = 0.5
"""How well a word fits, by how it fits; and what a word behind the title is worth beside one in it."""
WORTH = 0.55
"""Hits that fit less than this share of how well the best one fits are left out."""
CLOSE_RATIO, LEAST_LETTERS, ABOUT_AS_CLOSE = 0.74, 4, 0.1
"""How alike two words must be for one to be a slip of the other (by difflib's ratio), how long, and how far a slip may
lie behind the closest one (assumed)."""
WORD = re.compile(r"[^\W_]+")


@dataclass(frozen=True, slots=True)
class Candidate:
    """One thing that can be found."""

    kind: str
    """'machine', 'toolpath', 'case', 'part', 'sign', 'cause', ..."""
    key: str
    """Its name, number or id."""
    title: str
    under: str = ""
    """A line below the title."""
    behind: str = ""
    """Further words by which it is found."""


@dataclass(frozen=True, slots=True)
class Hit:
    """One thing that was found, and how well it fits: 1 where every word stands in its title."""

    found: Candidate
    fit_frac: float


def find(asked: str, candidates: Iterable[Candidate]) -> list[Hit]:
    """What fits every word that is asked for, the best first; at most so many of a kind.

    Case and accents count for nothing, and a word of four letters or more may be misspelt a little.
    """
    words = folded(asked[:LONGEST])
    if not words:
        return []
    held = [(one, frozenset(folded(one.title)), frozenset(folded(one.behind))) for one in candidates]
    known = frozenset(word for _, title, behind in held for word in (*title, *behind))
    fits = [_fits(word, known) for word in words]
    hits = [Hit(one, fit) for one, title, behind in held if (fit := _fit(fits, title, behind)) > 0]
    best = sorted(hits, key=lambda hit: (-hit.fit_frac, len(hit.found.title), hit.found.title))
    shown: dict[str, int] = {}
    kept = []
    for hit in (hit for hit in best if hit.fit_frac >= WORTH * best[0].fit_frac):
        shown[hit.found.kind] = shown.get(hit.found.kind, 0) + 1
        if shown[hit.found.kind] <= MOST_OF_A_KIND:
            kept.append(hit)
    return kept


def folded(text: str) -> list[str]:
    """The words of a text without case and accents.

    >>> folded("Crème-Brûlée_07")
    ['creme', 'brulee', '07']
    """
    plain = unicodedata.normalize("NFKD", text.casefold())
    return WORD.findall("".join(letter for letter in plain if not unicodedata.combining(letter)))


def _fits(word: str, known: Iterable[str]) -> dict[str, float]:
    """How well each known word fits the one asked for; a slip is looked for only where nothing fits as written."""
    one = word.removesuffix("s") if len(word) > LEAST_LETTERS else word  # asked for in the plural
    found = {}
    for other in known:
        if other == word:
            found[other] = EXACT
        elif other.startswith(one):
            found[other] = BEGINS
        elif len(word) > 2 and word in other:
            found[other] = WITHIN
    if found:
        return found
    alike = {other: ratio for other in known if (ratio := _alike(word, other))}
    best = max(alike.values(), default=0.0)
    return {other: CLOSE * ratio for other, ratio in alike.items() if ratio > best - ABOUT_AS_CLOSE}


def _alike(word: str, other: str) -> float:
    if min(len(word), len(other)) < LEAST_LETTERS or abs(len(word) - len(other)) > 2:
        return 0.0
    matcher = SequenceMatcher(None, word, other)
    if matcher.real_quick_ratio() < CLOSE_RATIO or matcher.quick_ratio() < CLOSE_RATIO:
        return 0.0
    ratio = matcher.ratio()
    return ratio if ratio >= CLOSE_RATIO else 0.0


def _fit(fits: Sequence[dict[str, float]], title: frozenset[str], behind: frozenset[str]) -> float:
    """The mean of how well each word asked for is met; 0 where one is not met at all."""
    total = 0.0
    for fit in fits:
        met = max(
            max((fit[word] for word in title if word in fit), default=0.0),
            BEHIND * max((fit[word] for word in behind if word in fit), default=0.0),
        )
        if met == 0:
            return 0.0
        total += met
    return total / len(fits)


def candidates(store: Store | None, asked: str) -> list[Candidate]:
    """Everything that can be found: of the farm, where there is one, and of the handbook."""
    return [*(() if store is None else _of_the_farm(store, asked)), *_of_the_handbook()]


def _of_the_farm(store: Store, asked: str) -> Iterator[Candidate]:
    builds = load_catalogue().builds
    names = {machine.id: machine.name for machine in store.machines()}
    for machine in store.machines():
        title = builds[machine.build].title if machine.build in builds else machine.build
        yield Candidate("machine", machine.name, machine.name, title, f"{title} {machine.note}")
    for toolpath in store.toolpaths():
        yield Candidate("toolpath", toolpath.sha256[:12], toolpath.name, "", toolpath.sha256[:12])
    endings = {ending.case_id: ending for ending in store.case_endings()}
    causes = load_network().causes
    for case in store.cases():
        on = names.get(case.machine_id or 0, "") or case.label or "somebody else's machine"
        ending = endings.get(case.id)
        cause = causes[ending.cause].title if ending and ending.cause in causes else ""
        yield Candidate("case", str(case.id), f"Case {case.id}: {on}", cause, f"{cause} {case.label}")
    for visit in store.visits():
        on = names.get(visit.machine_id, "")
        yield Candidate("visit", str(visit.id), f"Visit {visit.id}: {on}")
    yield from _numbered(store, asked, names)


def _numbered(store: Store, asked: str, names: dict[int, str]) -> Iterator[Candidate]:
    """Records that are too many to look through and are found by their number."""
    for number in {int(word) for word in folded(asked) if word.isascii() and word.isdigit() and len(word) < 10}:
        run = store.one(Run, number)
        if run is not None:
            yield Candidate("run", str(run.id), f"Run {run.id}", names.get(run.machine_id, ""))
        spool = store.one(Spool, number)
        if spool is not None:
            yield Candidate("spool", str(spool.id), f"Spool {spool.id}", f"{spool.material} {spool.label}".strip())


@cache
def _of_the_handbook() -> tuple[Candidate, ...]:
    catalogue, network, service = load_catalogue(), load_network(), load_procedures()
    return (
        *(Candidate("part", one.id, one.title, one.does, one.does) for one in catalogue.parts.values()),
        *(Candidate("material", one.id, one.title, one.moisture, one.polymer) for one in catalogue.materials.values()),
        *(Candidate("sign", one.id, one.title, "", " ".join(one.words)) for one in network.observations.values()),
        *(Candidate("cause", one.id, one.title, one.because, one.because) for one in network.causes.values()),
        *(Candidate("check", one.id, one.title, "", " ".join(one.how)) for one in network.checks.values()),
        *(Candidate("repair", one.id, one.title, "", " ".join(one.how)) for one in network.repairs.values()),
        *(Candidate("procedure", one.id, one.title, one.purpose, one.purpose) for one in service.procedures.values()),
    )
