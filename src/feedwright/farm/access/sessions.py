"""Signing in over the network: sessions of browsers, opened with the passphrase, until they end or lapse."""

import hashlib
import secrets
import threading
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from hmac import compare_digest

from feedwright.errors import NotFound
from feedwright.farm.access.access import FAILED, prove_passphrase
from feedwright.farm.access.access_log import network_of, note_down, refuse_too_many
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.people import person_named
from feedwright.records.access_values import Session
from feedwright.records.store import Store

IDLE, LONGEST = timedelta(hours=24), timedelta(days=30)
"""How long a session holds unused, and at all (assumed: a working day and its night; a month)."""
SEEN_EVERY = timedelta(minutes=1)
BROWSER_LETTERS = 120
TOKEN_BYTES = 32
"""256 bits of chance."""
_ONE_AT_A_TIME = threading.Lock()
"""Checking a passphrase takes 64 MiB and a core: a flood of them waits in line, and none slips past the count."""


@dataclass(frozen=True, slots=True)
class SessionLine:
    """One open session as a list shows it."""

    session: Session
    person: str
    lapses_utc: datetime


def sign_in(store: Store, passphrase: str, *, person: str = "", address: str, browser: str) -> tuple[str, Session]:
    """Open a session; returns its token, which is kept nowhere else, and the session.

    Raises NotAllowed for a wrong passphrase, TooOften after too many, NotFound for a person who is not known.
    """
    refuse_too_many(store, FAILED, address, moment(None))
    with _ONE_AT_A_TIME:
        prove_passphrase(store, passphrase, address=address)
    who = person_named(store, person).id if person.strip() else None
    token, now = secrets.token_urlsafe(TOKEN_BYTES), moment(None)
    session = Session(token_hash(token), who, _shortened(browser), network_of(address), now, now)
    number = store.access.add_session(session)
    note_down(store, "signed_in", address=address, session_id=number, person_id=who)
    return token, replace(session, id=number)


def token_hash(token: str) -> str:
    """What is kept of a token. One of 256 random bits needs no slow hash."""
    return hashlib.sha256(token.encode()).hexdigest()


def session_of(store: Store, token: str, now_utc: datetime) -> Session | None:
    """The session of that token; None where there is none, or it was ended or has lapsed. It counts as seen."""
    sought = token_hash(token)
    session = store.access.session_of(sought)
    if session is None or not compare_digest(session.token_sha256, sought) or now_utc > lapses(session):
        return None
    if now_utc - session.seen_utc >= SEEN_EVERY:
        store.access.see_session(session.id, now_utc)
    return session


def lapses(session: Session) -> datetime:
    """When it lapses if it is not used again."""
    return min(session.seen_utc + IDLE, session.opened_utc + LONGEST)


def open_sessions(store: Store) -> list[SessionLine]:
    """Sessions that still hold, the latest first."""
    people, now = {person.id: person.name for person in store.people()}, moment(None)
    return [  # what a token hashes to is nobody's business
        SessionLine(replace(session, token_sha256=""), people.get(session.person_id or 0, ""), lapses(session))
        for session in store.access.sessions()
        if now <= lapses(session)
    ]


def sign_out(store: Store, number: int, *, address: str = "") -> None:
    """End one session."""
    if number not in [session.id for session in store.access.sessions()]:
        raise NotFound("session", place=f"number {number}", expected="there is none open", remedy="look at the list")
    store.access.end_sessions(moment(None), only=number)
    note_down(store, "signed_out", address=address, session_id=number)


def sign_out_everywhere(store: Store, *, address: str = "") -> int:
    """End every session; returns how many."""
    many = store.access.end_sessions(moment(None))
    note_down(store, "signed_out_everywhere", address=address, note=f"{many}")
    return many


def _shortened(browser: str) -> str:
    return "".join(letter for letter in browser if letter.isprintable())[:BROWSER_LETTERS]
