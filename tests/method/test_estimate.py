from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from lodestarch.common.provenance import Provenance
from lodestarch.method.estimate import Estimate, estimate_level
from lodestarch.method.reading import Kind, Seconds, parse_seconds
from lodestarch.method.scatter import DEFAULT_SCATTER, ScatterLaw

LAWS = [
    DEFAULT_SCATTER,
    ScatterLaw("constant-cv", (0.04,), Provenance.DERIVED),
    ScatterLaw("constant-plus-proportional", (2.0, 0.015), Provenance.DERIVED),
    ScatterLaw("constant-in-ln", (0.6,), Provenance.DERIVED),
    ScatterLaw("table", (2.0, 9.0), Provenance.DERIVED, "", (100.0, 400.0)),
]
STEP_S = 0.04
GRID = np.arange(60.0, 900.0, STEP_S)


def typed(*texts):
    return [parse_seconds(t) for t in texts]


def likelihood(levels, readings, law):
    """Log-likelihood of levels, written independently of the code under test."""
    sd = np.maximum(law.sd_s(levels), 1e-9)
    total = np.zeros_like(levels)
    for r in readings:
        if r.kind is Kind.EXACT:
            total += stats.norm.logpdf(r.value_s, levels, sd)
        elif r.kind is Kind.AT_OR_BELOW:
            total += stats.norm.logcdf(r.value_s, levels, sd)
        else:
            total += stats.norm.logsf(r.value_s, levels, sd)
    return total


def by_grid(readings, law):
    """Level of the greatest likelihood on a fine grid, with the log-likelihood everywhere."""
    total = likelihood(GRID, readings, law)
    return float(GRID[np.argmax(total)]), total


CASES = [
    typed("290", "296"),
    typed("206"),
    typed("390", ">401"),
    typed("62", "70"),
    typed("<=62", "66", "64"),
    typed("300", ">280"),
    typed(">400", "395", "402"),
    typed("250", "300", "288", "290"),
    typed("<=62", "300"),
    typed("100", "400"),
    typed("64", "64.5", "<=64.2"),
    typed("350", "360", ">355", ">340"),
    typed("<=62", "<=62", "75"),
]


@pytest.mark.parametrize("law", LAWS, ids=lambda x: f"{x.kind} {x.parameters[0]}")
@pytest.mark.parametrize(
    "readings", CASES, ids=lambda rs: " ".join(f"{r.kind.name[0]}{r.value_s:g}" for r in rs)
)
def test_level_and_u_against_a_fine_grid(readings, law):
    level, total = by_grid(readings, law)
    found = estimate_level(readings, law)
    assert found.level_s == pytest.approx(level, abs=STEP_S)
    if 61.0 < level < 899.0 and law.sd_s(level) > 1.0:
        at = int(np.argmax(total))
        span = max(3, int(0.05 * law.sd_s(level) / STEP_S))
        bend = np.polyfit(GRID[at - span : at + span + 1] - level, total[at - span : at + span + 1], 2)[0]
        assert found.u_s == pytest.approx(1.0 / math.sqrt(-2.0 * bend), rel=0.02)


def test_many_random_samples_against_a_grid():
    rng = np.random.default_rng(12)
    for trial in range(100):
        law, level = LAWS[trial % len(LAWS)], rng.uniform(64.0, 450.0)
        values = np.clip(
            rng.normal(level, 40.0 if trial % 3 == 0 else law.sd_s(level), rng.integers(1, 6)), 62.5, 880.0
        )
        kinds = [Kind.EXACT, *(Kind(int(k)) for k in rng.choice([0, 0, 1, 2], values.size - 1))]
        readings = [Seconds(float(v), k) for v, k in zip(values, kinds, strict=True)]
        found = estimate_level(readings, law)
        # The likelihood at the level found is not beaten anywhere on the grid.
        there = float(likelihood(np.array([found.level_s]), readings, law)[0])
        assert there >= likelihood(GRID, readings, law).max() - 1e-6, (readings, law.kind)


def test_one_exact_reading_under_a_steep_law_is_its_own_level():
    steep = ScatterLaw("constant-in-ln", (0.6,), Provenance.DERIVED)
    found = estimate_level(typed("206.5"), steep)
    assert found.level_s == pytest.approx(206.5, abs=0.3)
    assert found.u_s == pytest.approx(steep.sd_s(206.5), rel=0.05)


def test_a_pair_gives_nearly_its_mean_with_the_laws_uncertainty():
    found = estimate_level(typed("290", "296"), DEFAULT_SCATTER)
    assert found.level_s == pytest.approx(293.0, abs=0.2)
    assert found.u_s == pytest.approx(0.02 * 293.0 / math.sqrt(2.0), rel=0.02)
    assert (found.readings, found.censored) == (2, 0)


def test_censored_readings_pull_the_right_way():
    alone = estimate_level(typed("390"), DEFAULT_SCATTER).level_s
    assert estimate_level(typed("390", ">400"), DEFAULT_SCATTER).level_s > alone
    assert estimate_level(typed("390", "<=380"), DEFAULT_SCATTER).level_s < alone
    # One stopped far below says hardly anything.
    assert estimate_level(typed("390", ">200"), DEFAULT_SCATTER).level_s == pytest.approx(alone, abs=0.01)


@pytest.mark.parametrize("readings", [[], typed(">400"), typed("<=62", "<=62"), typed("<=62", ">400")])
def test_without_an_exact_reading_there_is_no_level(readings):
    assert estimate_level(readings, DEFAULT_SCATTER) == Estimate(None, None, len(readings), len(readings))


def test_at_an_end_of_the_range_u_is_not_evaluated():
    found = estimate_level(typed("60.5", *["<=60.2"] * 6), DEFAULT_SCATTER)
    assert (found.level_s, found.u_s) == (pytest.approx(60.0, abs=1e-2), None)
