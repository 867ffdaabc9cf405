"""Worth of a further test: closed forms against brute simulation at equal accuracy; money over the odds in bulk.

``python benchmarks/bench_decide.py`` prints figures as JSON. Loads differ in result, spread and prices (steps,
slope, cliff, window, and a sure price). The simulation draws what the test shows and what the deciding lab then
reports, and chooses the outlet from a table made by an inner simulation with common draws; both sides get the same
reduced problem and run on one thread. Accuracy is in money at stake: best less worst amount near the result.
"""

from __future__ import annotations

import json
import time
from itertools import pairwise

import numpy as np
from scipy.integrate import quad
from scipy.stats import norm

from lodestarch.common.money import MoneyBySeconds, constant_money
from lodestarch.decide.expected_money import expected_money, expected_moneys
from lodestarch.decide.information import worth_of_information

LOADS, SHOWN, WANTED = 1000, 20, 1e-3


def prices() -> list[MoneyBySeconds]:
    yes = np.array([True, True])
    return [
        MoneyBySeconds(np.array([275.0, 300.0]), np.array([180.0, 205.0, 230.0]), np.zeros(3), yes, "USD/t"),
        MoneyBySeconds(
            np.array([250.0, 305.0]), np.array([171.0, -19.0, 227.0]), np.array([0.0, 0.8, 0.0]), yes, "USD/t"
        ),
        MoneyBySeconds(np.array([280.0, 330.0]), np.array([165.0, 222.0, 195.0]), np.zeros(3), yes, "USD/t"),
        constant_money(207.0, "USD/t"),
    ]


def loads(n: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(1)
    result, u = rng.uniform(285.0, 315.0, n), rng.uniform(6.0, 12.0, n)
    lab = np.array([8.0, 11.0, 6.0, 0.0])
    sd = np.hypot(u[:, None], lab)
    gain = np.repeat(u[:, None] * rng.uniform(0.3, 0.8, n)[:, None], 4, axis=1)
    return result[:, None] + np.array([0.0, -3.0, 2.0, 0.0]), sd, gain


def stake(moneys: list[MoneyBySeconds]) -> float:
    x = np.linspace(240.0, 360.0, 2401)
    paid = np.stack([m.at(x) for m in moneys])
    return float(paid.max() - paid.min())


def exact(moneys: list[MoneyBySeconds], m: np.ndarray, sd: np.ndarray, gain: np.ndarray) -> float:
    """Adaptive quadrature to 1e-9, told where the best outlet changes."""
    left = np.sqrt(sd**2 - gain**2)

    def paid(z: float) -> list[float]:
        return [float(expected_money(money, m[a] + gain[a] * z, left[a])) for a, money in enumerate(moneys)]

    grid = np.linspace(-8.0, 8.0, 1601)
    best = [int(np.argmax(paid(z))) for z in grid]
    turns = [0.5 * (grid[i] + grid[i + 1]) for i in range(grid.size - 1) if best[i] != best[i + 1]]
    edges = [-8.0, *turns, 8.0]
    after = sum(
        quad(lambda z: max(paid(z)) * norm.pdf(z), a, b, epsabs=1e-9, epsrel=1e-11, limit=300)[0]
        for a, b in pairwise(edges)
    )
    return after - max(float(expected_money(money, m[a], sd[a])) for a, money in enumerate(moneys))


def simulated(moneys, m, sd, gain, n: int, rng) -> tuple[float, float]:
    """Worth and its standard error from n draws."""
    left = np.sqrt(sd**2 - gain**2)
    at, inner = np.linspace(-4.5, 4.5, 91), rng.standard_normal(400)
    table = np.stack(
        [
            money.at(m[a] + gain[a] * at[:, None] + left[a] * inner).mean(axis=1)
            for a, money in enumerate(moneys)
        ]
    )
    z = rng.standard_normal(n)
    paid = np.stack(
        [money.at(m[a] + gain[a] * z + left[a] * rng.standard_normal(n)) for a, money in enumerate(moneys)]
    )
    near = np.clip(np.rint((z - at[0]) / (at[1] - at[0])).astype(int), 0, at.size - 1)
    gained = paid[table.argmax(axis=0)[near], np.arange(n)] - paid[paid.mean(axis=1).argmax()]
    return float(gained.mean()), float(gained.std() / np.sqrt(n))


def timed(work, repeats: int) -> float:
    best = np.inf
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - began)
    return best


def worth_figures() -> dict[str, object]:
    moneys, (m, sd, gain) = prices(), loads(LOADS)
    at_stake = stake(moneys)
    bulk = timed(lambda: worth_of_information(moneys, m, sd, gain), 3) / LOADS
    alone = timed(lambda: worth_of_information(moneys, m[:1], sd[:1], gain[:1]), 20)
    ours = worth_of_information(moneys, m[:SHOWN], sd[:SHOWN], gain[:SHOWN]).worth
    errors = [abs(ours[i] - exact(moneys, m[i], sd[i], gain[i])) / at_stake for i in range(5)]
    rng, took, spread, away = np.random.default_rng(2), [], [], []
    for i in range(SHOWN):
        _, error = simulated(moneys, m[i], sd[i], gain[i], 20_000, rng)
        n = max(2000, int(20_000 * (error / (WANTED * at_stake)) ** 2))
        began = time.perf_counter()
        mean, error = simulated(moneys, m[i], sd[i], gain[i], n, rng)
        took.append(time.perf_counter() - began)
        spread.append(error / at_stake)
        away.append(abs(mean - ours[i]) / max(error, 1e-12))
    brute, reached = float(np.median(took)), float(np.median(spread))
    draws = timed(lambda: simulated(moneys, m[0], sd[0], gain[0], 400_000, rng), 2) / 400_000
    _, error = simulated(moneys, m[0], sd[0], gain[0], 400_000, rng)
    needed = 400_000 * (error / at_stake / max(errors)) ** 2
    return {
        "loads": LOADS,
        "closed form, a load among many, s": bulk,
        "closed form, one load alone, s": alone,
        "closed form, largest error over quadrature, share of stake": max(errors),
        "simulation to 0.1 % of stake, a load, s": brute,
        "simulation, error reached, share of stake": reached,
        "simulation, largest distance to the closed form, standard errors": float(max(away)),
        "times faster among many, simulation at 0.1 %": brute / bulk,
        "times faster alone, simulation at 0.1 %": brute / alone,
        "times faster alone at equal accuracy (time by 1/error^2)": needed * draws / alone,
        "times faster among many at equal accuracy (time by 1/error^2)": needed * draws / bulk,
    }


def money_figures() -> dict[str, object]:
    """500,000 results at 12 buyers, against one numpy row at a time and against reading memory alone."""
    rng = np.random.default_rng(3)
    n = 500_000
    m, s = rng.uniform(240.0, 380.0, n), rng.uniform(5.0, 15.0, n)
    moneys = (prices()[:3] * 4)[:12]
    ours = timed(lambda: expected_moneys(moneys, m, s), 2)
    few = 2000
    rows = timed(
        lambda: [[float(expected_money(f, m[i], s[i])) for f in moneys] for i in range(few // 20)], 1
    )
    out = np.empty((n, 12))
    floor = timed(lambda: np.add(m[:, None], s[:, None], out=out), 3)
    return {
        "results": n,
        "buyers": 12,
        "vectorised, s": ours,
        "row by row, s (from a twentieth of 2,000 rows)": rows * n / (few // 20),
        "times faster than row by row": rows * n / (few // 20) / ours,
        "writing the answer alone, s": floor,
        "times the floor": ours / floor,
    }


if __name__ == "__main__":
    print(
        json.dumps(
            {"worth of a further test": worth_figures(), "money over the odds": money_figures()}, indent=2
        )
    )
