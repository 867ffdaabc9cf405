"""Brute simulation of a further test, from its parts up; shares no formula with the closed forms."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lodestarch.common.money import MoneyBySeconds, constant_money
from lodestarch.decide.another_test import Outlet
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.gain import AnotherTest, Design, Source, Spread

NONE = np.zeros(0)


def steps(rng: np.random.Generator) -> MoneyBySeconds:
    n = int(rng.integers(1, 5))
    breaks = 300.0 - 25.0 * np.arange(n)[::-1] + rng.uniform(-8, 8)
    price = 220.0 - rng.uniform(5, 30) * np.arange(n + 1)[::-1]
    return MoneyBySeconds(breaks, price, np.zeros(n + 1), np.ones(n, dtype=bool), "USD/t")


def slope(rng: np.random.Generator) -> MoneyBySeconds:
    start, cap, per = rng.uniform(290, 310), rng.uniform(20, 70), rng.uniform(0.3, 2.0)
    low = start - cap / per
    return MoneyBySeconds(
        np.array([low, start]),
        np.array([220.0 - cap, 220.0 - per * start, 220.0]),
        np.array([0.0, per, 0.0]),
        np.ones(2, dtype=bool),
        "USD/t",
    )


def cliff(rng: np.random.Generator) -> MoneyBySeconds:
    at, drop = rng.uniform(285, 305), rng.uniform(20, 90)
    return MoneyBySeconds(
        np.array([at]), np.array([220.0 - drop, 220.0]), np.zeros(2), np.ones(1, dtype=bool), "USD/t"
    )


def window(rng: np.random.Generator) -> MoneyBySeconds:
    low = rng.uniform(270, 300)
    inside = rng.uniform(200, 240)
    return MoneyBySeconds(
        np.array([low, low + rng.uniform(15, 60)]),
        np.array([inside - rng.uniform(20, 60), inside, inside - rng.uniform(10, 60)]),
        np.zeros(3),
        np.array([True, False]),
        "USD/t",
    )


@dataclass(frozen=True)
class Case:
    outlets: tuple[Outlet, ...]
    test: AnotherTest
    spread: Spread
    design: Design
    result_s: float
    prior: tuple[float, float] | None

    @property
    def stake(self) -> float:
        """Money at stake: best less worst amount that any outlet pays near the result."""
        x = np.linspace(self.result_s - 60, self.result_s + 60, 2401)
        paid = np.concatenate([o.money.at(x) for o in self.outlets])
        return float(paid.max() - paid.min())


def random_case(seed: int) -> Case:
    rng = np.random.default_rng(seed)
    kinds = [steps, slope, cliff, window]
    outlets = [
        Outlet(
            f"o{i}",
            kinds[(seed + i) % 4](rng).plus(float(rng.uniform(-12, 12))),
            DecidingLab(rng.uniform(3, 14), bias_s=rng.uniform(-8, 8), u_bias_s=rng.uniform(0, 6)),
        )
        for i in range(int(rng.integers(1, 4)))
    ]
    outlets.append(Outlet("feed", constant_money(float(rng.uniform(165, 205)), "USD/t"), DecidingLab(0.0)))
    where = int(rng.integers(0, 3))
    other = outlets[0].deciding if where == 2 else DecidingLab(8.0, bias_s=2.0, u_bias_s=4.0)
    test = AnotherTest(
        "one more",
        list(Source)[int(rng.integers(0, 4))],
        Design(int(rng.integers(1, 4))),
        lab=None if where == 0 else other,
        decides=where == 2,
    )
    spread = Spread(rng.uniform(3, 10), rng.uniform(0, 6), rng.uniform(0, 8), rng.uniform(0, 4))
    prior = (float(rng.uniform(290, 330)), float(rng.uniform(10, 40))) if rng.random() < 0.5 else None
    return Case(
        tuple(outlets), test, spread, Design(int(rng.integers(1, 4))), float(rng.uniform(280, 315)), prior
    )


@dataclass(frozen=True)
class Simulated:
    """Worth with everything drawn, and with payments averaged given the test's result; standard errors."""

    drawn: float
    drawn_error: float
    averaged: float
    averaged_error: float


def simulate(case: Case, n: int, rng: np.random.Generator) -> Simulated:
    """Worth of the further test by drawing everything."""
    truth, parts = _truth_and_errors(case, n, rng)
    test_lasting, test_result = _shown(case, truth, parts, n, rng)
    reports = []
    for outlet in case.outlets:
        met = case.test.decides and case.test.lab == outlet.deciding
        d = outlet.deciding
        lasting = test_lasting if met else d.bias_s + d.u_bias_s * rng.standard_normal(n)
        reports.append(truth + lasting + d.sd_s * rng.standard_normal(n))
    paid = np.stack([o.money.at(r) for o, r in zip(case.outlets, reports, strict=True)])
    at = np.linspace(test_result.min(), test_result.max(), 401)
    table = _money_at(case, reports, test_result, at)
    today = [
        _mean_money(o.money, r.mean(), r.std(), 100_000) for o, r in zip(case.outlets, reports, strict=True)
    ]
    best_now = int(np.argmax(today))
    near = np.clip(np.rint((test_result - at[0]) / (at[1] - at[0])).astype(int), 0, at.size - 1)
    chosen = table.argmax(axis=0)[near]
    gain = paid[chosen, np.arange(n)] - paid[best_now]
    gain_at = np.interp(test_result, at, table.max(axis=0) - table[best_now])
    root = np.sqrt(n)
    return Simulated(gain.mean(), gain.std() / root, gain_at.mean(), gain_at.std() / root)


def _truth_and_errors(case, n, rng):
    """Draws of the true value and of the first result's errors, given that result (Matheron's rule)."""
    s, d = case.spread, case.design
    sds = {
        "tube": s.tube_s / np.sqrt(d.tubes), "grind": s.grind_s / np.sqrt(d.grinds),
        "probe": s.probe_s / np.sqrt(d.probes), "lab": s.lab_s,
    }  # fmt: skip
    parts = {k: v * rng.standard_normal(n) for k, v in sds.items()}
    if case.prior is None:
        return case.result_s - sum(parts.values()), parts
    m, sd = case.prior
    truth = m + sd * rng.standard_normal(n)
    miss = case.result_s - truth - sum(parts.values())
    total = sd**2 + sum(v**2 for v in sds.values())
    return truth + sd**2 / total * miss, {k: parts[k] + sds[k] ** 2 / total * miss for k in parts}


def _shown(case, truth, parts, n, rng):
    s, t = case.spread, case.test
    same_sample = t.source is not Source.NEW_PROBE
    probe = parts["probe"] if same_sample else s.probe_s * rng.standard_normal(n)
    if t.lab is not None:
        lasting = t.lab.bias_s + t.lab.u_bias_s * rng.standard_normal(n)
        sent = parts["grind"] if t.source is Source.SAME_MEAL else 0.0  # our meal, sent there
        return lasting, truth + probe + sent + lasting + t.lab.sd_s * rng.standard_normal(n)
    grind = parts["grind"] if t.source is Source.SAME_MEAL else s.grind_s * rng.standard_normal(n)
    tube = s.tube_s / np.sqrt(t.design.tubes) * rng.standard_normal(n)
    return 0.0, truth + parts["lab"] + probe + grind + tube


def _mean_money(money, mean, sd, points):
    """Midpoint sum over a fine grid."""
    edges = np.linspace(-6.5, 6.5, points + 1)
    z = 0.5 * (edges[1:] + edges[:-1])
    w = np.exp(-0.5 * z * z)
    return float((money.at(mean + sd * z) * w).sum() / w.sum())


def _money_at(case, reports, shown, at):
    """Money of each outlet by result of the test, from means and spreads of the draws themselves."""
    around = shown - shown.mean()
    var = float((around * around).mean())
    out = []
    for outlet, report in zip(case.outlets, reports, strict=True):
        pull = float((around * (report - report.mean())).mean()) / var
        left = float(np.sqrt(max(report.var() - pull * pull * var, 1e-12)))
        mean = report.mean() - pull * shown.mean()
        out.append([_mean_money(outlet.money, mean + pull * y, left, 1500) for y in at])
    return np.array(out)
