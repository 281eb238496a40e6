"""The passphrase, who is let in, and the log, without a browser.

Sources: RFC 9106, 4 (the second recommended parameters of Argon2id); NIST SP 800-63B-4 (15 letters, no mix demanded).
"""

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from feedwright.errors import BadInput, Conflict, NotAllowed, NotFound, TooOften
from feedwright.farm.access.access import (
    access,
    change_passphrase,
    close_to_network,
    is_open,
    open_to_network,
    prove_passphrase,
    refuse_unguarded,
    set_passphrase,
)
from feedwright.farm.access.access_log import MOST_FROM_ONE, log_lines, network_of
from feedwright.farm.access.devices import add_device, device_of, devices, revoke_device
from feedwright.farm.access.passphrases import checked_passphrase, hashed, matches, to_renew
from feedwright.farm.access.sessions import open_sessions, session_of, sign_in, sign_out, sign_out_everywhere
from feedwright.farm.ground.house import open_farm
from feedwright.farm.ground.people import add_person
from feedwright.records.store import Store

WORDS = "quince anvil harbour moth"
OTHER = "lantern pebble ostrich tin"
HERE = "192.0.2.7"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_farm(tmp_path / "farm", create=True) as held:
        yield held


def now() -> datetime:
    return datetime.now(UTC)


def test_what_is_kept_is_an_argon2id_hash_with_the_rfcs_parameters() -> None:
    assert re.fullmatch(r"\$argon2id\$v=19\$m=65536,t=3,p=4\$[\w+/]{22}\$[\w+/]{43}", hashed(WORDS))
    assert hashed(WORDS) != hashed(WORDS), "each has a salt of its own"


def test_a_passphrase_is_compared_letter_by_letter_and_whole() -> None:
    kept = hashed(f" {WORDS} ")
    assert matches(kept, f" {WORDS} ")
    for given in (WORDS, f" {WORDS.upper()} ", f" {WORDS}", "", "x" * 10_000, f" {WORDS} \0"):
        assert not matches(kept, given)
    assert not matches("no hash", WORDS)


@pytest.mark.parametrize(
    "given",
    ["short", "fourteen lettr", "x" * 201, "aaaaaaaaaaaaaaaa", "abababababababab", "abcdefghijklmnop",
     "qwertyuiopasdfgh", "passwordpassword", "My Password 2026", "feedwright admin", "1234567890123456",
     "larkspur yard 12"],
)  # fmt: skip
def test_what_is_short_or_easily_guessed_is_refused(given: str) -> None:
    with pytest.raises(BadInput):
        checked_passphrase(given, farm="Larkspur Yard")


@pytest.mark.parametrize("given", [WORDS, "Grüße an die Möwe!", "15 letters okay", "日本語の長い合言葉はどうですか"])
def test_any_signs_may_stand_in_it_and_no_mix_is_demanded(given: str) -> None:
    assert checked_passphrase(given, farm="Larkspur Yard") == given


def test_a_hash_of_other_parameters_is_renewed_when_the_passphrase_is_next_given(store: Store) -> None:
    old = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash(WORDS)
    store.access.put_passphrase(old, now())
    assert to_renew(old)
    prove_passphrase(store, WORDS, address=HERE)
    kept = store.access.passphrase()
    assert kept is not None
    assert not to_renew(kept[0])
    prove_passphrase(store, WORDS, address=HERE)


def test_the_network_is_let_in_only_behind_a_passphrase(store: Store) -> None:
    assert not is_open(store)
    with pytest.raises(Conflict, match="passphrase"):
        open_to_network(store)
    with pytest.raises(Conflict, match="access open"):
        refuse_unguarded(store)
    set_passphrase(store, WORDS)
    with pytest.raises(Conflict):
        refuse_unguarded(store)
    assert open_to_network(store, ["Feed.Example"]).names == ("feed.example",)
    refuse_unguarded(store)
    close_to_network(store)
    assert not is_open(store)
    assert access(store).passphrase_set_utc is not None


@pytest.mark.parametrize("name", ["", "a b", "http://x", "x/", "x:80", "-x", "ä.example", "x" * 254, "*"])
def test_a_name_that_is_no_hosts_name_is_refused(store: Store, name: str) -> None:
    set_passphrase(store, WORDS)
    with pytest.raises(BadInput):
        open_to_network(store, [name])
    assert not is_open(store)


def test_a_page_changes_the_passphrase_by_the_one_in_force(store: Store) -> None:
    change_passphrase(store, "", WORDS, address=HERE)
    with pytest.raises(NotAllowed):
        change_passphrase(store, "", OTHER, address=HERE)
    change_passphrase(store, WORDS, OTHER, address=HERE)
    prove_passphrase(store, OTHER, address=HERE)
    with pytest.raises(NotAllowed):
        prove_passphrase(store, WORDS, address=HERE)


def test_a_session_holds_until_it_is_ended(store: Store) -> None:
    set_passphrase(store, WORDS)
    add_person(store, "Ines")
    token, session = sign_in(store, WORDS, person="ines", address=HERE, browser="A browser\x1b[31m" + "x" * 500)
    held = session_of(store, token, now())
    assert held is not None
    assert (held.id, held.person_id, held.browser[:12]) == (session.id, session.person_id, "A browser[31")
    assert len(held.browser) == 120
    assert session_of(store, token[:-1], now()) is None
    assert [line.person for line in open_sessions(store)] == ["Ines"]
    with pytest.raises(NotFound):
        sign_in(store, WORDS, person="Nobody", address=HERE, browser="")
    sign_out(store, session.id)
    assert session_of(store, token, now()) is None
    with pytest.raises(NotFound):
        sign_out(store, session.id)
    sign_in(store, WORDS, address=HERE, browser="")
    assert sign_out_everywhere(store) == 1


def test_no_name_is_given_away_before_the_passphrase_was_right(store: Store) -> None:
    set_passphrase(store, WORDS)
    with pytest.raises(NotAllowed):
        sign_in(store, "wrong", person="Nobody", address=HERE, browser="")


def test_tries_are_counted_by_address_and_refused_once_too_many(store: Store) -> None:
    set_passphrase(store, WORDS)
    for _ in range(MOST_FROM_ONE):
        with pytest.raises(NotAllowed):
            sign_in(store, "wrong", address=HERE, browser="")
    for _ in range(3):
        with pytest.raises(TooOften) as refused:
            sign_in(store, WORDS, address=HERE, browser="")
        assert 0 < refused.value.wait_s <= 900
    kinds = [line.entry.kind for line in log_lines(store)]
    assert kinds.count("sign_in_failed_too_often") == 1, "one line however often it is tried"
    sign_in(store, WORDS, address="192.0.2.8", browser="")


@pytest.mark.parametrize(
    ("address", "network"),
    [("192.0.2.7", "192.0.2.7"), ("::ffff:192.0.2.7", "192.0.2.7"), ("2001:db8:0:1:2:3:4:5", "2001:db8:0:1::/64"),
     ("fe80::1%eth0", "fe80::/64"), ("testclient", ""), ("", "")],
)  # fmt: skip
def test_an_address_is_counted_as_the_network_it_stands_for(address: str, network: str) -> None:
    assert network_of(address) == network


def test_a_device_may_do_what_it_was_made_for_until_it_is_revoked(store: Store) -> None:
    device, token = add_device(store, "Sensor", ["record", "read"])
    assert device.scopes == "read record"
    assert re.fullmatch(r"fw-[\w-]{43}", token)
    assert device_of(store, token, address=HERE, now_utc=now()) == device
    assert device_of(store, device.token_sha256, address=HERE, now_utc=now()) is None, "the hash is no token"
    (line,) = devices(store)
    assert (line.scopes, line.address, line.device.token_sha256) == (["read", "record"], HERE, "")
    with pytest.raises(Conflict):
        add_device(store, "sensor", ["read"])
    for scopes in ([], ["everything"]):
        with pytest.raises(BadInput):
            add_device(store, "Other", scopes)
    with pytest.raises(BadInput):
        revoke_device(store, device.id, reason=" ")
    revoke_device(store, device.id, reason="lost")
    assert device_of(store, token, address=HERE, now_utc=now()) is None
    assert devices(store) == []
    with pytest.raises(NotFound):
        revoke_device(store, device.id, reason="lost")
    assert add_device(store, "Sensor", ["read"])[0].id != device.id
