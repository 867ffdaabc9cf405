"""Doses of malt: the interval covers what it says."""

from __future__ import annotations

import numpy as np
import pytest

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.plan.dose import Trial, dose_to_reach


def test_the_interval_covers_the_true_dose_in_95_of_100_benches():
    rng = np.random.default_rng(8)
    slope, now, cv = 0.14, 380.0, 0.02
    true = (6000 / 210.0 - 6000 / (now - 50)) / slope  # to reach 260 s
    doses = (60.0, 120.0)
    met = 0
    for _ in range(2000):
        fn = [now, *(50 + 6000 / (6000 / (now - 50) + slope * d) for d in doses)]
        read = [f * (1 + cv * rng.standard_normal()) for f in fn]
        trials = [Trial(d, s) for d, s in zip(doses, read[1:], strict=True)]
        got = dose_to_reach(260.0, read[0], trials, cv=cv)
        met += got.low <= true and (got.high is None or true <= got.high)
    assert met / 2000 == pytest.approx(0.95, abs=0.015)


def test_one_weak_trial_leaves_the_upper_end_open():
    assert dose_to_reach(250.0, 400.0, [Trial(5.0, 395.0)]).high is None


@pytest.mark.parametrize(
    ("target", "now", "trials", "error"),
    [
        (250.0, 400.0, [], NoAnswer),
        (400.0, 300.0, [Trial(50.0, 250.0)], NoAnswer),
        (250.0, 400.0, [Trial(50.0, 420.0)], NoAnswer),
        (40.0, 400.0, [Trial(50.0, 300.0)], OutOfRange),
        (250.0, float("nan"), [Trial(50.0, 300.0)], OutOfRange),
        (250.0, 400.0, [Trial(-1.0, 300.0)], OutOfRange),
    ],
)
def test_what_has_no_dose(target, now, trials, error):
    with pytest.raises(error):
        dose_to_reach(target, now, trials)
