"""Several at once: threads of one process, and writers of one server."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from lodestarch.common.errors import LodestarchError, RecordsBusy
from lodestarch.records.conflict import StaleEdit
from lodestarch.records.engine import open_records, verify_at
from lodestarch.records.tables import Equipment
from records.harvest import START, Clock, day
from records.house import bench_day


def together(*works):
    """Run every piece of work at the same time; return what each gave or raised."""
    start = threading.Barrier(len(works))

    def run(work):
        start.wait()
        try:
            return work()
        except Exception as problem:  # noqa: BLE001 - the test looks at it
            return problem

    with ThreadPoolExecutor(len(works)) as pool:
        return list(pool.map(run, works))


def test_threads_of_one_process_write_in_turn_and_read_at_once(file, clock):
    with open_records(file, clock=clock) as records:

        def write(thread):
            for n in range(6):
                with records.unit("Ann Example", START) as unit:
                    unit.store_day(day(4, first_sample=10000 * (1 + thread) + 10 * n, sheet=f"{thread}-{n}"))

        def read():
            seen = []
            for _ in range(20):
                with records.view() as view:
                    seen.append((view.head()[0], len(view.list_days())))
            return seen

        told = together(lambda: write(0), lambda: write(1), lambda: write(2), read, read)
        assert told[:3] == [None, None, None]
        for seen in told[3:]:
            assert seen == sorted(seen)
        with records.view() as view:
            assert len(view.list_days()) == 18
    assert verify_at(file).holds


def test_a_unit_inside_a_unit_on_a_file_is_a_slip_that_is_told(file, clock):
    with open_records(file, clock=clock) as records:
        with records.unit("Ann Example", START) as unit:
            with (
                pytest.raises(LodestarchError, match="open in this thread already"),
                records.unit("Ann", START),
            ):
                pass
            unit.add(Equipment(key="M1", kind="mill", name="one"))
        with records.view() as view:
            assert view.get(Equipment, "M1") is not None


@pytest.fixture
def database(server, blank_database):
    return server.fresh(blank_database)


def test_writers_of_a_server_queue_for_the_end_of_the_chain_only(database):
    def write(number):
        with open_records(database, clock=Clock()) as records:
            with records.unit("Ann Example", START) as unit:
                day_id = unit.open_day(bench_day(START))
            for n in range(5):
                typed = day(2, first_sample=10000 * number + 10 * n)
                with records.unit("Ann Example", START) as unit:
                    unit.record_readings(day_id, typed.readings)
                    unit.record_results(day_id, typed.results)

    with open_records(database, clock=Clock()) as records, records.unit("Ann Example", START):
        pass
    assert together(*(lambda n=n: write(n) for n in range(1, 5))) == [None] * 4
    report = verify_at(database)
    assert report.holds
    assert report.sites[0].entries == 1 + 1 + 4 + 4 * 5 * 2


def test_one_unit_works_while_another_is_open(database):
    """The first has written rows and waits; the second finishes meanwhile; the first ties in after it."""
    with open_records(database, clock=Clock()) as one, open_records(database, clock=Clock()) as two:
        for records in (one, two):
            with records.unit("Ann Example", START):
                pass
        with one.unit("Ann Example", START) as slow:
            slow.add(Equipment(key="M1", kind="mill", name="one"))
            with two.unit("Ann Example", START) as quick:
                quick.add(Equipment(key="M2", kind="mill", name="two"))
            with two.view() as view:
                assert [e.key for e in view.all(Equipment)] == ["M2"]
        with two.view() as view:
            assert [e.key for e in view.all(Equipment)] == ["M1", "M2"]
    assert verify_at(database).holds


def test_of_many_edits_from_one_version_one_goes_in(database):
    with open_records(database, clock=Clock()) as records, records.unit("Ann Example", START) as unit:
        unit.add(Equipment(key="M1", kind="mill", name="mill"))

    def edit(n):
        with open_records(database, clock=Clock()) as records, records.unit("Ann Example", START) as unit:
            unit.edit(Equipment(key="M1", kind="mill", name="mill", uses=n), made_from=1)
        return n

    told = together(*(lambda n=n: edit(n) for n in range(1, 5)))
    won = [t for t in told if isinstance(t, int)]
    assert len(won) == 1
    lost = [t for t in told if not isinstance(t, int)]
    assert all(isinstance(t, StaleEdit) and t.kept["uses"] == won[0] for t in lost)
    assert verify_at(database).holds


def test_the_same_sheet_handed_in_twice_at_once_is_kept_once(database):
    with open_records(database, clock=Clock()) as records, records.unit("Ann Example", START):
        pass

    def hand_in():
        with open_records(database, clock=Clock()) as records, records.unit("Ann Example", START) as unit:
            return unit.store_day(day(200))

    told = together(hand_in, hand_in)
    kept = [t for t in told if not isinstance(t, Exception) and t.new]
    assert len(kept) == 1
    assert all(isinstance(t, RecordsBusy) or not t.new or t in kept for t in told)
    assert verify_at(database).holds


def test_writers_that_wait_for_each_other_are_told_to_do_it_again(database):
    with open_records(database, clock=Clock()) as one, open_records(database, clock=Clock()) as two:
        with one.unit("Ann Example", START) as unit:
            unit.add(Equipment(key="M1", kind="mill", name="one"))
            unit.add(Equipment(key="M2", kind="mill", name="two"))
        both = threading.Barrier(2)

        def edit(records, first, second):
            with records.unit("Ann Example", START) as unit:
                unit.edit(Equipment(key=first, kind="mill", name=first), made_from=1)
                both.wait(10)
                unit.edit(Equipment(key=second, kind="mill", name=second), made_from=1)

        told = together(lambda: edit(one, "M1", "M2"), lambda: edit(two, "M2", "M1"))
    assert sorted(type(t).__name__ for t in told) == ["NoneType", "RecordsBusy"]
    assert verify_at(database).holds
