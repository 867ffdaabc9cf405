"""Clauses over sublots, each against simulation within its error."""

from __future__ import annotations

import numpy as np
import pytest

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.decide.clause_odds import (
    Sublots,
    composite_odds,
    composite_seconds,
    every_sublot_odds,
    minimum_odds,
    weighted_average_odds,
    worst_of_odds,
)
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.limits import Limits

SUBLOTS = Sublots.of(
    [318.0, 305.0, 296.0, 330.0, 312.0], [7.0, 9.0, 6.0, 8.0, 9.0], [500, 400, 300, 500, 250]
)
DECIDING = DecidingLab(8.0, bias_s=-4.0, u_bias_s=5.0, drift_s=2.0, u_drift_s=3.0)
WINDOW = Limits(300.0, 330.0, 299.5, 330.5)
N = 400_000


def draws() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(17)
    true = SUBLOTS.value_s + SUBLOTS.u_s * rng.standard_normal((N, 5))
    lasting = DECIDING.shift_s + DECIDING.lasting_sd_s * rng.standard_normal((N, 1))
    reports = true + lasting + DECIDING.sd_s * rng.standard_normal((N, 5))
    return true, lasting, reports


TRUE, LASTING, REPORTS = draws()


def agree(got: float | None, met: np.ndarray, beside: float = 0.0) -> None:
    assert got is not None
    assert got == pytest.approx(met.mean(), abs=4 * max(met.std(), 0.02) / np.sqrt(N) + beside)


@pytest.mark.parametrize("limits", [Limits(300.0), WINDOW, Limits(None, 315.0)])
def test_weighted_average(limits):
    true, other = weighted_average_odds(SUBLOTS, limits, DECIDING)
    mean = TRUE @ SUBLOTS.share
    agree(true, (mean >= limits.low_s) & (mean <= limits.high_s))
    mean = REPORTS @ SUBLOTS.share
    agree(other, (mean >= limits.low_report_s) & (mean <= limits.high_report_s))


@pytest.mark.parametrize("limits", [Limits(290.0), WINDOW])
def test_every_sublot(limits):
    true, other = every_sublot_odds(SUBLOTS, limits, DECIDING)
    agree(true, np.all((limits.low_s <= TRUE) & (limits.high_s >= TRUE), axis=1))
    agree(other, np.all((limits.low_report_s <= REPORTS) & (limits.high_report_s >= REPORTS), axis=1))


@pytest.mark.parametrize("limits", [Limits(308.0), Limits(300.0, 315.0), Limits(None, 310.0)])
def test_composite(limits):
    true, other = composite_odds(SUBLOTS, limits, DECIDING)
    mix = 50.0 + 6000.0 / ((6000.0 / (TRUE - 50.0)) @ SUBLOTS.share)
    agree(true, (mix >= limits.low_s) & (mix <= limits.high_s), 1e-3)
    rng = np.random.default_rng(4)
    report = mix + LASTING[:, 0] + DECIDING.sd_s * rng.standard_normal(N)
    agree(other, (report >= limits.low_report_s) & (report <= limits.high_report_s), 1e-3)


def test_average_with_a_least_of_any_sublot():
    limits = Limits(305.0)
    true, other = minimum_odds(SUBLOTS, limits, 290.0, DECIDING)
    agree(true, (TRUE @ SUBLOTS.share >= 305.0) & (TRUE.min(axis=1) >= 290.0), 0.003)
    agree(other, (REPORTS @ SUBLOTS.share >= 305.0) & (REPORTS.min(axis=1) >= 290.0), 0.003)
    only = minimum_odds(SUBLOTS, limits, 1.0, DECIDING)
    assert only == pytest.approx(weighted_average_odds(SUBLOTS, limits, DECIDING), abs=1e-9)


def test_five_sublots_under_each_side_by_side():
    # 340, 330, 320, 280, 250: composite 299.1 under, average 304 makes it, every sublot 250 under (derived).
    cargo = Sublots.of([340.0, 330.0, 320.0, 280.0, 250.0], 1e-3)
    assert composite_seconds(cargo)[0] == pytest.approx(299.113, abs=5e-4)
    assert composite_odds(cargo, Limits(300.0))[0] < 1e-9
    assert weighted_average_odds(cargo, Limits(300.0))[0] > 1 - 1e-9
    assert every_sublot_odds(cargo, Limits(300.0))[0] < 1e-9


def test_twenty_sublots_of_uniform_grain():
    assert worst_of_odds(310.0, 10.0, 20, Limits(300.0)) == pytest.approx(1 - 0.968, abs=5e-4)


def test_one_sublot_is_one_load():
    one = Sublots.of(310.0, 9.0)
    for clause in (weighted_average_odds, every_sublot_odds):
        true, other = clause(one, Limits(300.0), DecidingLab(12.0))
        assert true == pytest.approx(0.86674, abs=1e-5)
        assert other == pytest.approx(0.74751, abs=1e-5)
    assert composite_odds(one, Limits(300.0), DecidingLab(12.0)) == pytest.approx((0.8667, 0.7475), abs=2e-3)


def test_what_is_no_cargo_is_refused():
    with pytest.raises(NoAnswer):
        Sublots.of([], 9.0)
    with pytest.raises(OutOfRange):
        Sublots.of([310.0], 9.0, [0.0])
    with pytest.raises(OutOfRange):
        Sublots.of([310.0, 320.0], 9.0, [1.0, 2.0, 3.0])
