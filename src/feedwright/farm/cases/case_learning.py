"""What closed cases teach the network: how often each cause was found, and what had been seen with it."""

from collections import Counter

from feedwright.catalogue.network import Network
from feedwright.diagnosis.values import Counts
from feedwright.records.reads import Reads


def counts_of(records: Reads, network: Network) -> Counts:
    """Counts over all closed cases in which a cause was found; unsure answers count for nothing."""
    endings = {ending.case_id: ending.cause for ending in records.case_endings() if ending.cause in network.causes}
    if not endings:
        return Counts()
    latest = {(entry.case_id, entry.name): entry.value for entry in records.case_entries(list(endings))
              if entry.kind == "answer"}  # fmt: skip
    yes: Counter[tuple[str, str]] = Counter()
    asked: Counter[tuple[str, str]] = Counter()
    for (case_id, name), answer in latest.items():
        if answer in ("yes", "no"):
            asked[endings[case_id], name] += 1
            yes[endings[case_id], name] += answer == "yes"
    return Counts(len(endings), dict(Counter(endings.values())), {key: (yes[key], asked[key]) for key in asked})
