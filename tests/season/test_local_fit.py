"""A local fit holds only where it wins on seasons that it has not seen."""

from __future__ import annotations

import numpy as np
import pytest

from lodestarch.common.errors import LodestarchError
from lodestarch.season.local_fit import Verdict, local_fit


def test_leaving_out_by_leverage_is_leaving_out():
    rng = np.random.default_rng(1)
    x, y = rng.normal(size=(20, 2)), rng.normal(300.0, 50.0, 20)
    errors = []
    for i in range(20):
        keep = np.arange(20) != i
        design = np.column_stack([np.ones(19), x[keep]])
        beta = np.linalg.lstsq(design, y[keep], rcond=None)[0]
        errors.append(y[i] - beta @ [1.0, *x[i]])
    fit = local_fit(y, x, ["a", "b"])
    assert fit.error_s == pytest.approx(np.sqrt(np.mean(np.square(errors))))
    assert fit.no_model_s == pytest.approx(np.sqrt(np.mean(np.square((y - y.mean()) * 20 / 19))))


def test_a_strong_relation_holds_and_predicts_and_noise_is_refused():
    rng = np.random.default_rng(2)
    x = rng.normal(0.0, 1.0, 20)
    strong = local_fit(300.0 - 50.0 * x + rng.normal(0.0, 10.0, 20), x, ["rain"])
    assert strong.verdict is Verdict.HOLDS
    assert strong.predict([1.0]) == pytest.approx(250.0, abs=15.0)
    passed = sum(
        local_fit(rng.normal(300.0, 50.0, 20), rng.normal(0.0, 1.0, 20), ["rain"]).verdict is Verdict.HOLDS
        for _ in range(300)
    )
    assert passed <= 6  # noise gets through once in fifty at most


def test_few_seasons_flat_predictors_and_many_predictors():
    assert [f.code for f in local_fit([1.0] * 14, list(range(14)), ["x"]).findings] == ["season-fit-few"]
    flat = local_fit(np.arange(16.0), [3.0] * 16, ["x"])
    assert [f.code for f in flat.findings] == ["season-fit-flat"]
    twice = local_fit(np.arange(16.0), np.column_stack([np.arange(16.0)] * 2), ["x", "x"])
    assert [f.code for f in twice.findings] == ["season-fit-flat"]
    with pytest.raises(LodestarchError):
        local_fit(np.arange(20.0), np.ones((20, 3)), ["a", "b", "c"])
