"""Whole harvests: what a third of the tests keeps, and that the desk holds to its word.

A short form of ``benchmarks/bench_receive.py`` with wider bounds; its figures
stand in ``docs/performance.md``.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from lodestarch.common.money import MoneyBySeconds, constant_money
from lodestarch.common.provenance import Provenance
from lodestarch.plan.receive.bins import OpenBin, RoomFull
from lodestarch.plan.receive.desk import Desk, Mode, Season, Word
from lodestarch.plan.receive.grades import grades_of
from lodestarch.plan.receive.harvest import draw_harvest, shuffled
from lodestarch.plan.receive.loads import Load, Spread
from lodestarch.plan.receive.posting import posted
from lodestarch.plan.receive.simulate import hindsight, one_bin, play, ratio_of_sums

PRICE = MoneyBySeconds(
    np.array([225.0, 250.0, 275.0, 300.0]),
    np.array([185.0, 203.0, 212.0, 221.0, 230.0]),
    np.zeros(5),
    np.ones(4, dtype=np.bool_),
    "USD/t",
)
GRADES = grades_of(PRICE)
SPREAD = Spread(math.log(6000.0 / 240.0), 0.15, 0.10, 0.25, 0.14, 0.06, 0.05, Provenance.INVENTED)


def desk(bins: int = 4, tests: int = 40, mode: Mode = Mode.HOLD, capacity_t: float = 2000.0) -> Desk:
    return Desk(
        GRADES,
        SPREAD,
        Season(120, tests, 24.0),
        [OpenBin(str(i + 1), capacity_t) for i in range(bins)],
        mode,
        days=3,
    )


def test_a_third_of_the_tests_keeps_most_of_what_all_of_them_bring() -> None:
    rows = []
    for seed in range(8):
        harvest = draw_harvest(SPREAD, np.random.default_rng([1, seed]), loads=150)
        value = {
            rule: play(harvest, GRADES, SPREAD, rule, share, seed=seed).value
            for rule, share in (("none", 0.0), ("all", 1.0), ("worth", 1 / 3), ("random", 1 / 3))
        }
        mixed = shuffled(harvest, np.random.default_rng([2, seed]))
        value["mixed"] = play(mixed, GRADES, SPREAD, "worth", 1 / 3, seed=seed).value
        rows.append(value | {"one": one_bin(harvest, GRADES), "most": hindsight(harvest, GRADES)})
    v = {k: np.array([row[k] for row in rows]) for k in rows[0]}
    everything = (v["all"] - v["none"]).sum()
    assert everything > 0
    assert (v["worth"] - v["none"]).sum() > 0.7 * everything
    assert (v["worth"] - v["random"]).sum() > 0.1 * everything
    assert (v["mixed"] - v["none"]).sum() < 0.7 * everything  # no word about the load, no gain over chance
    assert (v["all"] - v["one"]).sum() > 0.88 * (v["most"] - v["one"]).sum()
    assert np.all(v["all"] <= v["most"] + 1e-6)


def test_a_play_is_the_same_each_time() -> None:
    harvest = draw_harvest(SPREAD, np.random.default_rng(1), loads=60)
    first = play(harvest, GRADES, SPREAD, "worth", 1 / 3, seed=1)
    assert play(harvest, GRADES, SPREAD, "worth", 1 / 3, seed=1) == first
    assert first.tests <= 20


def test_the_word_holds_once_given() -> None:
    d = desk()
    load = Load("8814", 25.0, "north", "x", to_come=6)
    said = d.ask(load)
    assert said.word is Word.HOLD
    d.result(load, 30.0)
    assert d.ask(load) is said
    assert said.low_s < said.expected_fn_s < said.high_s


def test_a_result_moves_the_load_and_its_neighbours() -> None:
    d = desk()
    first, second = Load("1", 25.0, "north", "x"), Load("2", 25.0, "north", "x")
    before = d.belief.predicted(second).fn_s
    d.result(first, 60.0)
    d.dump(first)
    assert d.belief.predicted(second).fn_s < before - 20.0
    assert d.belief.seen(first).fn_s < d.belief.predicted(second).fn_s


def test_nothing_to_gain_is_said() -> None:
    """One price for everything: no test moves a load, commingling costs nothing."""
    d = Desk(
        grades_of(constant_money(200.0, "USD/t")),
        SPREAD,
        Season(50, 20, 24.0),
        [OpenBin("1", 5000.0), OpenBin("2", 5000.0)],
    )
    assert d.ask(Load("1", 25.0, "north", "x", 5)).word is Word.DUMP
    rule = posted(d)
    assert rule.tells_nothing
    assert rule.test_from_s is None
    assert not rule.new_fields


def test_dumping_first_a_test_is_worth_only_what_it_tells_of_others() -> None:
    held, dumped = desk(mode=Mode.HOLD), desk(mode=Mode.DUMP)
    last = Load("1", 25.0, "north", "x", to_come=0)
    assert held.ask(last).word is Word.HOLD
    assert dumped.ask(last).word is Word.DUMP
    assert dumped.ask(Load("2", 25.0, "south", "x", to_come=8)).word is Word.TEST


def test_tests_run_out() -> None:
    d = desk(tests=1)
    load = Load("1", 25.0, "north", "x", 5)
    assert d.ask(load).word is Word.HOLD
    d.result(load, 25.0)
    d.dump(load)
    assert d.ask(Load("2", 25.0, "south", "x", 5)).word is Word.DUMP
    assert posted(d).test_from_s is None


def test_full_bins() -> None:
    d = desk(bins=2, capacity_t=30.0)
    for ticket in ("1", "2"):
        d.dump(Load(ticket, 25.0, "north", "x"))
    with pytest.raises(RoomFull, match="3"):
        d.dump(Load("3", 25.0, "north", "x"))


def test_posted_ranges_are_neighbours_in_whole_fives() -> None:
    d = desk()
    for i in range(30):
        load = Load(str(i), 25.0, f"f{i % 5}", "x")
        d.result(load, 18.0 + (i * 7) % 30)
        d.dump(load)
    rule = posted(d)
    assert rule.bins[0].to_s is None
    assert rule.bins[-1].from_s is None
    for upper, lower in zip(rule.bins[:-1], rule.bins[1:], strict=True):
        assert upper.from_s == lower.to_s
        assert upper.from_s is not None
        assert upper.from_s % 5.0 == 0.0
    assert 1 <= rule.loads_until_renewed <= d.renew_every


def test_ratio_of_sums_is_paired() -> None:
    rng = np.random.default_rng(1)
    base = rng.uniform(1.0, 100.0, 200)
    value, low, high = ratio_of_sums(0.8 * base, base, rng)
    assert value == pytest.approx(0.8)
    assert low == pytest.approx(0.8)
    assert high == pytest.approx(0.8)
