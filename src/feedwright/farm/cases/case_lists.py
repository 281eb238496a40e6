"""The list of cases: told without reckoning any of them."""

from dataclasses import dataclass

from feedwright.records.store import Store
from feedwright.records.values import Case, CaseEnding


@dataclass(frozen=True, slots=True)
class CaseLine:
    """One case as a list shows it."""

    case: Case
    machine: str
    seen: tuple[str, ...]
    ending: CaseEnding | None


def case_lines(store: Store, limit: int = 60) -> list[CaseLine]:
    """Cases, open ones first, then the latest."""
    machines = {machine.id: machine.name for machine in store.machines()}
    endings = {ending.case_id: ending for ending in store.case_endings()}
    cases = sorted(store.cases(), key=lambda case: (case.id not in endings, case.opened_utc, case.id), reverse=True)
    entries = store.case_entries([case.id for case in cases[:limit]])
    return [
        CaseLine(
            case, machines.get(case.machine_id or 0, ""),
            tuple(e.name for e in entries if e.case_id == case.id and e.kind == "answer" and e.value == "yes")[:3],
            endings.get(case.id),
        )
        for case in cases[:limit]
    ]  # fmt: skip
