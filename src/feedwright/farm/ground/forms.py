"""Forms that come twice: a phone sends again what it got no answer to, a thumb taps twice. Each counts once."""

from feedwright.errors import Conflict
from feedwright.farm.ground.naming import text
from feedwright.records.prints_values import FormKey
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand

LONGEST_KEY = 80


class SentBefore(Exception):
    """The form was taken already; ends the act that was begun for it anew, so that this leaves nothing behind."""

    def __init__(self, act_id: int) -> None:
        super().__init__(act_id)
        self.act_id = act_id


def checked_key(entry_key: str) -> str:
    """The key as it is kept; empty where the sender makes none, and then nothing is caught."""
    return text("entry key", entry_key, LONGEST_KEY, lines=False)


def act_of_key(records: Reads, entry_key: str) -> int | None:
    """The act that a form of this key led to; None where it is new, or has no key."""
    if not entry_key:
        return None
    return next((held.act_id for held in records.every(FormKey, entry_key=entry_key)), None)


def claim(act: ActInHand, form: str, entry_key: str) -> None:
    """Remember within its act that a form was taken; raises SentBefore where it was taken before."""
    before = act_of_key(act, entry_key)
    if before is not None:
        raise SentBefore(before)
    if entry_key:
        act.add(FormKey(form, entry_key))


def taken_back(form: str) -> Conflict:
    """The refusal of a form that comes again after what it had recorded was taken back."""
    return Conflict(
        form, expected="this form was sent before, and what it recorded was taken back", remedy="fill it in anew"
    )
