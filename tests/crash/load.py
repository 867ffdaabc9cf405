"""The work that is cut off: readings typed, sheets stored, results let out, each told once it is kept."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from lodestarch.records.engine import Records
from records.harvest import START, day
from records.house import bench_day

PERSON = "Ann Example"


def work(records: Records, told: Callable[[str], None], rounds: int, seed: int) -> None:
    """Do ``rounds`` pieces of work; after each say which sample is kept now: ``b1234``, ``s1234``."""
    random = Random(seed)
    with records.unit(PERSON, START) as unit:
        day_id = unit.open_day(bench_day(START))
    base = 10_000 * (1 + seed)
    for n in range(rounds):
        sample = base + 10 * n
        if random.random() < 0.75:
            typed = day(2, first_sample=sample, seed=n)
            with records.unit(PERSON, START) as unit:
                unit.record_readings(day_id, typed.readings)
                unit.record_results(day_id, typed.results)
            told(f"b{sample}")
        else:
            with records.unit(PERSON, START) as unit:
                unit.store_day(day(12, first_sample=sample, seed=n, sheet=f"{seed}-{n}"))
                unit.release(str(sample), by_rule=True)
                unit.root()
            told(f"s{sample}")


def missing(records: Records, acked: list[str]) -> list[str]:
    """Return what was told as kept and is not there whole."""
    lost = []
    with records._reader.connect() as conn:
        count = {
            row[0]: row[1]
            for row in conn.exec_driver_sql("SELECT sample, count(*) FROM readings GROUP BY sample")
        }
        let_out = {row[0] for row in conn.exec_driver_sql("SELECT sample FROM releases")}
    for mark in acked:
        sample = mark[1:]
        whole = count.get(sample) == 2 and (
            mark[0] == "b" or (count.get(str(int(sample) + 5)) == 2 and sample in let_out)
        )
        if not whole:
            lost.append(mark)
    return lost


def halves(records: Records) -> int:
    """Return how many samples have a reading without its pair, or no result: something half written."""
    sql = (
        "SELECT count(*) FROM (SELECT sample, count(*) AS n FROM readings GROUP BY sample) r "
        "WHERE r.n <> 2 OR NOT EXISTS (SELECT 1 FROM results x WHERE x.sample = r.sample)"
    )
    with records._reader.connect() as conn:
        return int(conn.exec_driver_sql(sql).scalar_one())
