"""Sending notices: each cause once, through a general notification library; what could not be sent is tried again."""

import logging
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from threading import Event

from feedwright.errors import BadInput, FeedwrightError
from feedwright.farm.exchange import notices
from feedwright.farm.exchange.notices import HOW_WRITTEN, masked
from feedwright.farm.exchange.ways import listening
from feedwright.farm.ground.house import moment
from feedwright.records.store import Store

LOOK_S = 15.0
"""So often it looks whether anything was recorded."""
ANEW_S = 1800.0
"""So often what is due is worked out anew though nothing was recorded: parts come due as days pass."""
OpenStore = Callable[[], AbstractContextManager[Store]]
Send = Callable[[str, str, str], bool]
"""Address, title, words; False where it did not arrive."""
LOG = logging.getLogger("feedwright.link")


def send(address: str, title: str, words: str) -> bool:
    """Send one notice to one address. Raises BadInput where the address is none that the library knows."""
    import apprise

    asset = apprise.AppriseAsset(app_id="Feedwright", app_desc="Feedwright", app_url="", async_mode=False)
    one = apprise.Apprise(asset=asset)
    if not one.add(address):
        raise refusal_of(address)
    return bool(one.notify(title=title, body=words))


def check(address: str) -> None:
    """Raises BadInput where the address is none that the library knows; nothing is sent."""
    import apprise

    if not apprise.Apprise().add(address):
        raise refusal_of(address)


def refusal_of(address: str) -> BadInput:
    """The refusal of an address that nothing can be sent to."""
    expected = "no way to send is known for it"
    return BadInput("address", place=masked(address), expected=expected, remedy=HOW_WRITTEN)


def send_to_all(store: Store, title: str, words: str, *, send: Send = send) -> dict[str, bool]:
    """Send to every address; by address as it may be shown, whether it arrived."""
    arrived = {}
    for address in notices.addresses(store):
        try:
            arrived[masked(address)] = send(address, title, words)
        except FeedwrightError:
            arrived[masked(address)] = False
    notices.say_sending(store, arrived)
    return arrived


def send_test(store: Store, *, send: Send = send) -> dict[str, bool]:
    """Send a test to every address now, whether notices are on or off, at any hour."""
    if not notices.addresses(store):
        raise BadInput("notices", expected="there is no address to send to", remedy="add one first")
    return send_to_all(store, notices.TEST.title, notices.TEST.words, send=send)


class Round:
    """Telling what is due, again and again, without working it out more often than something changes."""

    def __init__(self, send: Send = send) -> None:
        self._send = send
        self._worked_out: tuple[int, float] | None = None

    def go(self, store: Store, now_s: float) -> list[str]:
        """One round; returns the titles of what was sent. While notices are off, that is a test at most."""
        if notices.notice_settings(store).on:
            self._work_out(store, now_s)
        else:
            self._worked_out = None
        sent = []
        for line in notices.to_send(store, moment(None)):
            if any(send_to_all(store, line.title, line.words, send=self._send).values()):
                store.ways.notice_sent(line.id, moment(None))
                sent.append(line.title)
        return sent

    def _work_out(self, store: Store, now_s: float) -> None:
        """Note what is due, where anything was recorded or reported since, or the last time is long past."""
        seen = hash((store.latest_act_id(), _heard(store)))
        if self._worked_out is None or self._worked_out[0] != seen or now_s - self._worked_out[1] > ANEW_S:
            now_utc = moment(None)
            notices.note_due(store, notices.due(store, now_utc), notices.ended_prints(store), now_utc)
            self._worked_out = seen, now_s


def _heard(store: Store) -> str:
    """What machines report of themselves, which is no record."""
    state = listening(store)
    return "" if state is None or not state.alive else str(sorted(state.troubles.items()))


def notify(open_store: OpenStore, stop: Event, *, tell: Callable[[str], None] | None = None) -> None:
    """Tell what is due until ``stop`` is set."""
    going = Round()
    while not stop.is_set():
        try:
            with open_store() as store:
                for title in going.go(store, time.monotonic()):
                    if tell is not None:
                        tell(f"sent: {title}")
        except FeedwrightError as error:
            LOG.warning("notices wait: %s", error.sentence)
        stop.wait(LOOK_S)
