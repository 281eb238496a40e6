"""The passphrase: what may be one, and how it is kept. Argon2id with the parameters RFC 9106 recommends second.

What is kept is the hash alone. NIST SP 800-63B asks for length, not for a mix of signs, and for a refusal of what is
easily guessed; 15 letters are its least where nothing else proves who somebody is.
"""

import functools
from typing import TYPE_CHECKING

from feedwright.errors import BadInput

if TYPE_CHECKING:
    from argon2 import PasswordHasher

SHORTEST, LONGEST = 15, 200
FEWEST_LETTERS = 6
"""Different letters that a passphrase must have (assumed)."""
IN_ORDER = ("abcdefghijklmnopqrstuvwxyz", "01234567890", "qwertyuiop", "asdfghjkl", "zxcvbnm", "qwertzuiop", "yxcvbnm")
"""Runs of letters that fingers or children know by heart."""
OBVIOUS = ("passphrase", "password", "feedwright", "letmein", "administrator", "welcome", "iloveyou", "secret", "admin")
"""What everybody tries first (from memory: lists of common passwords)."""


@functools.cache
def _hasher() -> "PasswordHasher":
    from argon2 import PasswordHasher
    from argon2.profiles import RFC_9106_LOW_MEMORY

    return PasswordHasher.from_parameters(RFC_9106_LOW_MEMORY)


def checked_passphrase(given: str, *, farm: str = "") -> str:
    """The passphrase as it was given, every letter of it; refuses what is short or easily guessed."""
    if not SHORTEST <= len(given) <= LONGEST:
        raise BadInput(
            "passphrase", place=f"{len(given)} letters", expected=f"expected {SHORTEST} to {LONGEST} letters",
            remedy="take four or more words that do not belong together; blanks count",
        )  # fmt: skip
    guessed = _guessed(given.casefold(), farm.casefold())
    if guessed:
        raise BadInput(
            "passphrase", expected=f"this is easily guessed: {guessed}",
            remedy="take four or more words that do not belong together",
        )  # fmt: skip
    return given


def _guessed(told: str, farm: str) -> str:
    """Why it is easily guessed; empty where it is not."""
    left = told
    for word in (*OBVIOUS, farm.strip()):
        left = left.replace(word, "") if word else left
    if len(set(told)) < FEWEST_LETTERS:
        return "it has few different letters"
    if told in (told * 2)[1:-1]:
        return "it repeats itself"
    if _in_order(told) > len(told) / 2:
        return "much of it runs in order"
    return "most of it is a word that everybody tries" if len(left) <= len(told) / 2 else ""


def _in_order(told: str) -> int:
    """How many of its letters follow the one before them in one of the known runs, forth or back."""
    pairs = {run[at : at + 2] for run in IN_ORDER for at in range(len(run) - 1)}
    pairs |= {pair[::-1] for pair in pairs}
    return sum(told[at : at + 2] in pairs for at in range(len(told) - 1))


def hashed(passphrase: str) -> str:
    """What is kept of a passphrase."""
    return _hasher().hash(passphrase)


def matches(kept: str, given: str) -> bool:
    """True where this is the passphrase; takes the same time wherever they differ."""
    from argon2.exceptions import Argon2Error, InvalidHashError

    try:
        return len(given) <= LONGEST and _hasher().verify(kept, given)
    except (Argon2Error, InvalidHashError):
        return False


def to_renew(kept: str) -> bool:
    """True where it was hashed with parameters of another time."""
    return _hasher().check_needs_rehash(kept)
