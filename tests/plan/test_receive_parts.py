"""The parts of receiving: belief, grades, envelope, blended worth, ranges, queue."""

from __future__ import annotations

import math

import numpy as np
import pytest

from lodestarch.common.errors import OutOfRange
from lodestarch.common.money import MoneyBySeconds
from lodestarch.common.provenance import Provenance
from lodestarch.plan.receive.belief import Belief
from lodestarch.plan.receive.blend_value import best_blend, worth_by_ln
from lodestarch.plan.receive.envelope import envelope_of
from lodestarch.plan.receive.grades import grades_of
from lodestarch.plan.receive.loads import Load, Spread
from lodestarch.plan.receive.ranges import Future, Held, best_ranges
from lodestarch.plan.receive.waiting import waiting

SPREAD = Spread(math.log(24.0), 0.2, 0.1, 0.25, 0.15, 0.06, 0.05, Provenance.INVENTED)


def steps(*pairs: tuple[float, float], least: float) -> MoneyBySeconds:
    """Prices from the numbers up; ``least`` beneath."""
    return MoneyBySeconds(
        np.array([s for s, _ in pairs]),
        np.array([least, *(p for _, p in pairs)]),
        np.zeros(len(pairs) + 1),
        np.ones(len(pairs), dtype=np.bool_),
        "USD/t",
    )


def test_belief_agrees_with_the_joint_normal_law() -> None:
    """Conditioning the joint normal of all results at once (textbook Gaussian conditioning, numpy only)."""
    loads = [
        Load("1", 20, "a", "x"), Load("2", 20, "a", "x"), Load("3", 20, "b", "x"), Load("4", 20, "c", "y"),
        Load("5", 20, "a", "x"), Load("6", 20, "d", "y"),
    ]  # fmt: skip
    z = np.log([20.0, 26.0, 31.0, 18.0])
    s = SPREAD

    def cov(p: Load, q: Load) -> float:
        return (
            s.mean_sd**2
            + s.variety**2 * (p.variety == q.variety)
            + s.field**2 * (p.field == q.field)
            + s.load**2 * (p.ticket == q.ticket)
        )

    whole = np.array([[cov(p, q) for q in loads] for p in loads])
    k = whole[:4, :4] + s.test**2 * np.eye(4)
    mean = s.mean + whole[4:, :4] @ np.linalg.solve(k, z - s.mean)
    left = whole[4:, 4:] - whole[4:, :4] @ np.linalg.solve(k, whole[:4, 4:])

    belief = Belief(s)
    for load, y in zip(loads[:4], z, strict=True):
        belief.learn(load, math.exp(y))
    for i in range(2):
        got = belief.predicted(loads[4 + i])
        assert got.mean == pytest.approx(mean[i], abs=1e-12)
        assert got.variance == pytest.approx(left[i, i], abs=1e-12)


def test_a_composite_tells_as_much_as_its_linear_part() -> None:
    """Loads of one expectation: a composite of two equals the mean of their logarithms to first order."""
    a, b = Load("1", 25, "a", "x"), Load("2", 25, "b", "x")
    belief = Belief(SPREAD)
    before = belief.predicted(Load("9", 25, "a", "x"))
    belief.learn_composite([a, b], 24.0 * math.exp(0.2))
    after = belief.predicted(Load("9", 25, "a", "x"))
    shared = SPREAD.mean_sd**2 + SPREAD.variety**2
    total = shared + (SPREAD.field**2 + SPREAD.load**2) / 2 + SPREAD.test**2
    gain = (shared + SPREAD.field**2 / 2) / total
    assert after.mean - before.mean == pytest.approx(gain * 0.2, abs=1e-12)
    assert before.variance - after.variance == pytest.approx(
        (shared + SPREAD.field**2 / 2) ** 2 / total, abs=1e-12
    )


def test_grades_of_a_stepped_price() -> None:
    grades = grades_of(steps((250.0, 210.0), (275.0, 220.0), (300.0, 230.0), least=185.0))
    assert grades.fn_from_s.tolist() == [300.0, 275.0, 250.0, 62.0]
    assert grades.price.tolist() == [230.0, 220.0, 210.0, 185.0]
    assert np.all(np.isinf(grades.fn_to_s))


def test_grades_of_a_slope_never_promise_more_than_the_price() -> None:
    price = MoneyBySeconds(
        np.array([200.0, 300.0]),
        np.array([180.0, 80.0, 230.0]),
        np.array([0.0, 0.5, 0.0]),
        np.ones(2, dtype=bool),
        "USD/t",
    )
    grades = grades_of(price, slope_step_s=10.0)
    assert grades.size == 12
    for low, paid in zip(grades.fn_from_s, grades.price, strict=True):
        assert paid <= float(price.at(low + 1e-6)) + 1e-6


def test_grades_of_a_window_close_above() -> None:
    """Bought between 120 and 160 s: above, the feed price."""
    price = MoneyBySeconds(
        np.array([120.0, 160.0]),
        np.array([150.0, 200.0, 150.0]),
        np.zeros(3),
        np.array([True, False]),
        "EUR/t",
    )
    grades = grades_of(price)
    assert (grades.fn_from_s[0], grades.fn_to_s[0], grades.price[0]) == (120.0, 160.0, 200.0)


def test_expected_best_line_agrees_with_drawing() -> None:
    rng = np.random.default_rng(3)
    env = envelope_of([230.0, 250.0, 185.0], [-1.0, -1.8, 0.0])
    y = rng.normal(math.log(28.0), 0.4, 400_000)
    drawn = np.array([230.0, 250.0, 185.0])[:, None] + np.array([-1.0, -1.8, 0.0])[:, None] * np.exp(y)
    best = drawn.max(axis=0)
    assert env.expected(math.log(28.0), 0.16) == pytest.approx(
        best.mean(), abs=4 * best.std() / math.sqrt(y.size)
    )


def test_gain_of_knowing_agrees_with_drawing() -> None:
    rng = np.random.default_rng(4)
    heights, slopes = np.array([250.0, 200.0, 185.0]), np.array([-2.0, -0.4, 0.0])
    env = envelope_of(heights, slopes)
    mean, variance, moved = math.log(30.0), 0.09, 0.07
    later = np.exp(mean + math.sqrt(moved) * rng.normal(size=400_000) + (variance - moved) / 2)
    best = (heights[:, None] + slopes[:, None] * later).max(axis=0)
    now = (heights + slopes * math.exp(mean + variance / 2)).max()
    error = best.std() / math.sqrt(later.size)
    assert env.gain(mean, variance, moved) == pytest.approx(best.mean() - now, abs=4 * error)
    assert envelope_of([200.0], [-1.0]).gain(mean, variance, moved) == 0.0


def test_blended_worth_of_the_published_grain_bins() -> None:
    """A 500 t at 400 s, B 400 t at 260 s, C 200 t at 150 s; 230 from 300, 220 from 250 s, 190 beneath.

    Optimum 2,221,000/9 and the worth of one more tonne (237.62, 224.92, 190): derived, to proven
    optimality in the reference of the trade (instance ``grain-bins``).
    """
    grades = grades_of(steps((250.0, 220.0), (300.0, 230.0), least=190.0))
    ln = [6000 / 350, 6000 / 210, 60.0]
    assert best_blend(grades, ln, [500.0, 400.0, 200.0]) == pytest.approx(2_221_000 / 9, rel=1e-9)
    worth = worth_by_ln(grades, ln, [500.0, 400.0, 200.0])
    assert [round(worth.best(x)[1], 2) for x in ln] == [237.62, 224.92, 190.0]


def test_ranges_cut_where_the_worth_bends() -> None:
    points = np.exp(np.linspace(math.log(10.0), math.log(80.0), 60))
    bend = envelope_of([254.0, 200.0], [-1.8, 0.0])  # gives way at 30
    future = Future(1.0, bend, np.full(60, 10.0))
    ranges = best_ranges(points, [Held(0.0, 0.0, 1e6)] * 2, [future])
    step = math.log(8.0) / 59
    assert math.log(ranges.cuts_ln[0]) == pytest.approx(math.log(30.0), abs=step)
    assert ranges.bin_of(20.0) == ranges.order[0]
    assert ranges.bin_of(50.0) == ranges.order[1]


def test_ranges_keep_within_the_room() -> None:
    points = np.exp(np.linspace(math.log(10.0), math.log(80.0), 60))
    future = Future(1.0, envelope_of([254.0, 200.0], [-1.8, 0.0]), np.full(60, 10.0))
    ranges = best_ranges(points, [Held(0.0, 0.0, 100.0), Held(0.0, 0.0, 1e6)], [future])
    small = ranges.order.index(0)
    low = ranges.cuts_ln[small - 1] if small else 0.0
    high = ranges.cuts_ln[small] if small < 1 else np.inf
    assert np.sum((points > low) & (points < high)) * 10.0 <= 100.0


@pytest.mark.parametrize(
    ("trucks", "share", "minutes", "lanes", "busy"), [(6.0, 0.5, 12.0, 1, 0.6), (20.0, 0.4, 15.0, 3, 2 / 3)]
)
def test_waiting_agrees_with_a_simulated_queue(
    trucks: float, share: float, minutes: float, lanes: int, busy: float
) -> None:
    """One lane is exact (Pollaczek-Khinchine); several are the usual approximation, good to a tenth."""
    rng = np.random.default_rng(5)
    gaps = rng.exponential(60.0 / (trucks * share), 200_000)
    at = np.cumsum(gaps)
    free = np.zeros(lanes)
    waits = np.empty(at.size)
    for i, t in enumerate(at):
        k = int(np.argmin(free))
        begin = max(t, free[k])
        waits[i] = begin - t
        free[k] = begin + minutes
    got = waiting(trucks, share, minutes, lanes)
    assert got.busy == pytest.approx(busy)
    assert got.wait_min == pytest.approx(waits.mean(), rel=0.03 if lanes == 1 else 0.1)


def test_waiting_without_end_and_wrong_figures() -> None:
    assert math.isinf(waiting(10.0, 1.0, 15.0, 1).held_min)
    with pytest.raises(OutOfRange, match="test_min"):
        waiting(1.0, 1.0, 0.0, 1)
    with pytest.raises(OutOfRange, match="test_share"):
        waiting(1.0, 1.5, 10.0, 1)
