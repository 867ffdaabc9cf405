"""Faults planted in sound data are found with their evidence, and sound data stay quiet."""

from __future__ import annotations

import numpy as np
import pytest

from lodestarch.season.faults import find_faults
from lodestarch.season.table import factor_of, table_of


def sound(seed, n=400, decimals=0):
    rng = np.random.default_rng(seed)
    place = rng.integers(0, 12, n)
    y = 280.0 + rng.normal(0.0, 25.0, 12)[place] + rng.normal(0.0, 25.0, n)
    return np.round(np.clip(y, 63.0, 900.0), decimals), factor_of("origin", place.astype(str))


def kinds(y, factor):
    faults, notes = find_faults(table_of(y, [factor]))
    return {f.kind: f for f in reversed(faults)}, {n.code for n in notes}


def test_sound_data_stay_quiet():
    met = [kind for seed in range(25) for kind in kinds(*sound(seed))[0]]
    assert len(met) <= 1  # five tests of one in a thousand, 25 times


def test_copied_values():
    y, f = sound(1)
    y[300:312] = y[40:52]
    found = kinds(y, f)[0]["copied"]
    assert (found.finding.values["count"], found.rows) == (12, (41, 301))
    assert found.chance < 1e-9


def test_a_block_that_lies_lower():
    y, f = sound(2)
    y[120:160] -= 35.0
    found = kinds(y, f)[0]["shift"]
    assert found.rows[0] == pytest.approx(121, abs=4)
    assert found.rows[1] == pytest.approx(160, abs=4)
    assert found.finding.values["shift_sd"] < -0.8


def test_two_samples_that_changed_places():
    y, f = sound(3)
    y[200], y[201] = y[200] + 190.0, y[201] - 190.0
    assert kinds(y, f)[0]["mixed-up"].rows == (201, 202)


@pytest.mark.parametrize(("parts", "name"), [(3, "thirds"), (2, "halves")])
def test_averages_among_single_readings(parts, name):
    y, f = sound(4)
    rng = np.random.default_rng(0)
    for i in rng.choice(y.size, 60, replace=False):
        y[i] = round(float(np.mean(y[i] + rng.integers(-9, 9, parts))), 2)
    found, notes = kinds(y, f)
    assert found["averaged"].finding.values["fraction"] == name
    assert "season-averages-unseen" not in notes


def test_heaping_at_the_floor_and_at_tens():
    y, f = sound(5)
    y[:30] = 62.0
    assert kinds(y, f)[0]["heaped"].finding.code == "season-heaped-floor"
    y, f = sound(6)
    y[::4] = np.round(y[::4], -1)
    found = kinds(y, f)[0]["heaped"]
    assert found.finding.code == "season-heaped-tens"
    assert found.finding.values["count"] > found.finding.values["expected"]


def test_too_few_results_are_not_looked_at():
    y, f = sound(7, n=12)
    assert kinds(y, f) == ({}, {"season-faults-few"})
