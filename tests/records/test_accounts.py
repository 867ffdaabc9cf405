from __future__ import annotations

from datetime import timedelta

import pytest
from argon2 import PasswordHasher

from lodestarch.records import accounts
from lodestarch.records.accounts import IDLE, LONGEST, LONGEST_WAIT, LoginRefused, PasswordRefused
from lodestarch.records.tables import Person
from records.harvest import START

GOOD = "four plain words here"


@pytest.fixture(autouse=True)
def quick_hashes(monkeypatch):
    """The same function with less work: a test counts tries, it does not resist guessing."""
    monkeypatch.setattr(accounts, "_HASHER", PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))


def test_the_hash_that_ships_is_argon2id_with_the_library_s_own_cost():
    shipped = PasswordHasher()
    assert shipped.type.name == "ID"
    assert shipped.memory_cost >= 19 * 1024  # KiB; OWASP's least for argon2id (recalled)


@pytest.fixture
def ben(records):
    with records.unit("Ann Example", START) as unit:
        key = unit.add_person("Ben Example", ("analyst",))
        unit.set_password(key, GOOD)
    return key


def who(records, token, at=START):
    with records.view() as view:
        return view.who_is(token, at)


def test_a_token_says_who_it_is_until_the_session_ends(records, ben):
    token = records.log_in("Ben Example", GOOD, "10.0.0.7", START)
    assert (who(records, token).person, who(records, token).roles) == (ben, ("analyst",))
    assert who(records, token + "x") is None
    assert who(records, token, START + IDLE + timedelta(seconds=1)) is None
    records.touch_session(token, START + IDLE)
    assert who(records, token, START + IDLE + timedelta(seconds=1)) is not None
    records.touch_session(token, START + LONGEST)
    assert who(records, token, START + LONGEST + timedelta(seconds=1)) is None
    records.log_out(token)
    assert who(records, token) is None
    assert records.verify().holds


def test_tokens_and_passwords_are_not_kept(records, ben):
    token = records.log_in("Ben Example", GOOD, "10.0.0.7", START)
    with records._reader.connect() as conn:
        kept = str(conn.exec_driver_sql("SELECT * FROM sessions").fetchall())
        kept += str(conn.exec_driver_sql("SELECT * FROM personal").fetchall())
        kept += str(conn.exec_driver_sql("SELECT body FROM events").fetchall())
    assert token not in kept
    assert GOOD not in kept
    assert "$argon2id$" in kept


def refused(records, name, password, origin, at):
    with pytest.raises(LoginRefused) as told:
        records.log_in(name, password, origin, at)
    return told.value.wait_s


def test_guessing_makes_the_guesser_wait_and_nobody_else(records, ben):
    waits = []
    at = START
    for _ in range(8):
        waits.append(refused(records, "Ben Example", "wrong guess", "10.0.0.66", at))
        at += timedelta(seconds=waits[-1])
    assert waits[:4] == [0.0, 0.0, 2.0, 4.0]
    assert waits == sorted(waits)
    assert max(waits) <= LONGEST_WAIT.total_seconds()
    last = at - timedelta(seconds=waits[-1])
    # Even the right password waits from there; from his own place Ben comes in at once.
    assert refused(records, "Ben Example", GOOD, "10.0.0.66", last) > 0
    assert records.log_in("Ben Example", GOOD, "10.0.0.7", last)
    assert records.log_in("Ben Example", GOOD, "10.0.0.66", at)


def test_nobody_and_a_wrong_password_are_told_alike(records, ben):
    with pytest.raises(LoginRefused) as one:
        records.log_in("Ben Example", "wrong guess", "10.0.0.8", START)
    with pytest.raises(LoginRefused) as other:
        records.log_in("No Such Person", "wrong guess", "10.0.0.9", START)
    assert str(one.value) == str(other.value)


def test_a_new_password_and_a_person_who_left_end_the_sessions(records, ben):
    token = records.log_in("Ben Example", GOOD, "10.0.0.7", START)
    with records.unit("Ann Example", START) as unit:
        unit.set_password(ben, GOOD + " and more")
    assert who(records, token) is None
    refused(records, "Ben Example", GOOD, "10.0.0.7", START)
    token = records.log_in("Ben Example", GOOD + " and more", "10.0.0.7", START)
    with records.unit("Ann Example", START) as unit:
        row = unit.get(Person, ben)
        row.active = False
        unit.edit(row, made_from=row.version)
    assert who(records, token) is None
    refused(records, "Ben Example", GOOD + " and more", "10.0.0.7", START)
    assert records.verify().holds


@pytest.mark.parametrize("password", ["short", "password1", "Ben Example", "x" * 1001, "PASSWORD1"])
def test_poor_passwords_are_refused(records, ben, password):
    with pytest.raises(PasswordRefused), records.unit("Ann Example", START) as unit:
        unit.set_password(ben, password)
