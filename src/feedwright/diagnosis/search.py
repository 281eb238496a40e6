"""Finding an observation by everyday words."""

import re
from collections.abc import Iterable
from difflib import SequenceMatcher
from functools import lru_cache

from feedwright.catalogue.network import Network, Observation

IDLE = frozenset(["a", "an", "and", "are", "as", "at", "be", "but", "does", "for", "from", "has", "have", "i", "in",
                  "is", "it", "its", "keeps", "my", "no", "not", "of", "on", "or", "out", "so", "some", "that", "the",
                  "there", "they", "this", "to", "very", "was", "when", "with", "print", "prints", "printer",
                  "machine"])  # fmt: skip
"""Words that tell nothing."""
ALMOST = 0.82
"""Likeness from which a misspelt word counts as meant (difflib ratio; assumed)."""


def find_observations(network: Network, asked: str, most: int = 12) -> list[Observation]:
    """Observations that fit the words, the best first; none where nothing fits.

    Words match by their stem, misspelt ones by likeness; the listed everyday words weigh more than the title.
    """
    wanted = _stems(asked)
    if not wanted:
        return []
    scored = [(sum(_score(word, seen) for word in wanted), seen) for seen in network.observations.values()]
    best = max(score for score, _ in scored)
    found = [(score, seen) for score, seen in scored if score > 0.5 and score >= 0.35 * best]
    return [seen for _, seen in sorted(found, key=lambda held: -held[0])[:most]]


def _score(word: str, seen: Observation) -> float:
    everyday, title = _known(seen)
    if word in everyday:
        return 2.0
    if word in title:
        return 1.0
    near = max((SequenceMatcher(None, word, known).ratio() for known in everyday | title), default=0.0)
    return near if len(word) > 3 and near >= ALMOST else 0.0


@lru_cache(maxsize=512)
def _known(seen: Observation) -> tuple[frozenset[str], frozenset[str]]:
    everyday = frozenset(_stems(" ".join(seen.words)))
    return everyday, frozenset(_stems(f"{seen.title} {seen.ask}")) - everyday


def _stems(text: str) -> list[str]:
    words: Iterable[str] = re.findall(r"[a-z0-9]+", text.casefold().replace("’", "'").replace("n't", " "))
    return [_stem(word) for word in words if word not in IDLE]


def _stem(word: str) -> str:
    """A rough stem: plural, past and -ing endings off, so that “stringing”, “strings” and “string” meet."""
    for ending in ("ings", "ing", "ed", "es", "s"):
        rest = word.removesuffix(ending)
        if rest != word and len(rest) >= 3 and re.search("[aeiouy]", rest):  # a stem has a vowel: “string” is whole
            word = rest
            break
    if len(word) > 3 and word[-1] == word[-2]:
        word = word[:-1]
    return word.removesuffix("e") if len(word) > 3 else word
