"""Finding what a person meant by a name, and refusing kindly where nothing fits."""

from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from typing import TypeVar
from unicodedata import category

from feedwright.errors import BadInput, NotFound

T = TypeVar("T")
NAME, NOTE = 60, 2000
"""How many letters a name may have, and a note."""


def nearest(word: str, known: Iterable[str]) -> str:
    """A remedy that names what comes closest to ``word`` among ``known``."""
    names = sorted(known)
    if not names:
        return "there is none yet: add one first"
    close = get_close_matches(word, names, n=3, cutoff=0.5) or names[:12]
    if len(close) <= 3:
        return "did you mean " + ", ".join(close) + "?"
    return "known: " + ", ".join(close) + (" and more" if len(close) < len(names) else "")


def pick(table: Mapping[str, T], word: str, what: str) -> T:
    """The entry of that name, whatever its letter case; refuses with the nearest names."""
    if word in table:
        return table[word]
    folded = {name.casefold(): entry for name, entry in table.items()}
    if word.casefold() in folded:
        return folded[word.casefold()]
    raise NotFound(what, place=f"“{word}”", expected=f"no {what} of that name", remedy=nearest(word, table))


def pick_entry(table: Mapping[str, T], word: str, what: str) -> T:
    """The catalogue's entry of that id, written with blanks or dashes too."""
    spelt = word.strip().casefold().replace(" ", "_").replace("-", "_")
    if spelt in table:
        return table[spelt]
    raise BadInput(what, place=f"“{word}”", expected=f"the catalogue has no such {what}", remedy=nearest(spelt, table))


def one_of(what: str, word: str, words: Sequence[str]) -> str:
    """The word, or a refusal that lists what it may be."""
    if word in words:
        return word
    raise BadInput(what, place=f"“{word}”", expected="expected one of " + ", ".join(words), remedy=nearest(word, words))


def text(what: str, given: str, most: int = NOTE, *, lines: bool = True, needed: bool = False) -> str:
    """The text as it is kept, without blanks round it; refuses what is too long or cannot be shown.

    ``lines`` lets it have several, ``needed`` refuses an empty one.
    """
    if not isinstance(given, str):
        raise BadInput(what, expected="expected text", remedy="write it in words")
    kept = given.replace("\r\n", "\n").replace("\t", " ").strip()
    if len(kept) > most or (needed and not kept):
        least = "1" if needed else "0"
        raise BadInput(
            what,
            place=f"{len(kept)} letters",
            expected=f"expected {least} to {most} letters",
            remedy="shorten it" if kept else "write it",
        )
    odd = next((letter for letter in kept if not (_shows(letter) or (lines and letter == "\n"))), None)
    if odd is not None:
        expected = "expected letters that can be shown" + ("" if lines else ", on one line")
        raise BadInput(what, place=f"{odd!r}", expected=expected, remedy="leave that letter out")
    return kept


def _shows(letter: str) -> bool:
    """True for what can be seen, for blanks of any width, and for the joiners that some scripts need."""
    return letter.isprintable() or category(letter) == "Zs" or letter in "\u200c\u200d"


def within(quantity: str, value: float, low: float, high: float, unit: str = "") -> float:
    """The value, or a refusal that names the range."""
    if low <= value <= high:
        return value
    try:
        shown = f"{value:g}"
    except OverflowError:  # a whole number of hundreds of digits
        shown = "a number too long to show,"
    raise BadInput(
        quantity,
        place=f"{shown} {unit}".strip(),
        expected=f"expected {low:g} to {high:g} {unit}".strip(),
        remedy="check the number and its unit",
    )


def with_capital(words: str) -> str:
    """Words as a sentence begins; those that have capitals keep them.

    >>> with_capital("spool 3, PLA green")
    'Spool 3, PLA green'
    """
    return words[:1].upper() + words[1:]
