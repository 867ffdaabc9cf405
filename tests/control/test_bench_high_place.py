from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from scipy import stats

from bench_day import PROFILE, judged, minute
from lodestarch.control.bench_pairs import constants_by_sample, tube_pairs
from lodestarch.control.high_place import FALSE_ALARM, LEAST_PAIRS, high_places
from lodestarch.control.signed_rank import exact_signed_rank_p, rank_trend_p, ranks_within, signed_rank_p
from lodestarch.method.scatter import DEFAULT_SCATTER


def bench(rng, runs, *, cv=0.015, stirrers=8, stirrer_share=None, position_share=None, drift_share=None):
    """A day on one bath of four: two samples a run, stirrers dealt out anew for each run.

    The shares say by how much of the level a stirrer or a position reads high, or has come to by the end.
    """
    by_stirrer, by_position, by_end = stirrer_share or {}, position_share or {}, drift_share or {}
    rows = []
    for run in range(runs):
        order = rng.permutation(stirrers)
        for k in range(2):
            level = rng.uniform(150, 380)
            for t in range(2):
                position = 2 * k + t + 1
                stirrer = f"S{order[2 * k + t] + 1}"
                shift = by_stirrer.get(stirrer, 0.0) + by_position.get(position, 0.0)
                shift += by_end.get(stirrer, 0.0) * run / runs
                seconds = level * (1.0 + shift) * rng.normal(1.0, cv)
                rows.append(
                    {"sample": f"{run}-{k}", "run": str(run), "bath": "A", "position": str(position),
                     "stirrer_id": stirrer, "run_at": minute(10 * run), "seconds": round(max(seconds, 63))}
                )  # fmt: skip
    return rows


def find(rows):
    out = judged(rows)
    pairs = tube_pairs(out.readings, constants_by_sample(out.results, [PROFILE]))
    return high_places(pairs, DEFAULT_SCATTER, source="day.csv")


def test_a_stirrer_that_reads_high_is_found_once_and_its_partners_are_not_blamed():
    rows = bench(np.random.default_rng(1), 40, stirrer_share={"S3": 0.05})
    (found,) = find(rows)
    assert (found.code, found.values["place_kind"], found.values["place"]) == (
        "place-runs-high",
        "stirrer",
        "S3",
    )
    assert found.values["difference_pct"] == pytest.approx(5.0, abs=1.0)
    assert found.values["p"] <= FALSE_ALARM
    assert found.where.row == max(n for n, r in enumerate(rows, 2) if r["stirrer_id"] == "S3")


def test_low_is_low():
    rows = bench(np.random.default_rng(2), 40, stirrer_share={"S3": -0.05})
    assert [f.code for f in find(rows)] == ["place-runs-low"]


def test_two_bad_stirrers_are_both_found():
    rows = bench(np.random.default_rng(3), 60, stirrer_share={"S2": 0.05, "S7": -0.06})
    assert {(f.code, f.values["place"]) for f in find(rows)} == {
        ("place-runs-high", "S2"), ("place-runs-low", "S7"),
    }  # fmt: skip


def test_a_position_whose_partner_never_changes_cannot_be_told_from_it():
    rows = bench(np.random.default_rng(4), 40, position_share={3: 0.05})
    (found,) = find(rows)
    assert found.code == "places-apart"
    assert {found.values["place"], found.values["beside"]} == {"A 3", "A 4"}


def test_a_drift_is_told_from_a_shift():
    rows = bench(np.random.default_rng(5), 50, drift_share={"S5": 0.10})
    (found,) = find(rows)
    assert (found.code, found.values["place"]) == ("place-drifts", "S5")
    assert abs(found.values["first_s"]) < 8.0
    assert found.values["last_s"] > 15.0


def test_too_few_pairs_say_nothing():
    rows = bench(np.random.default_rng(6), (LEAST_PAIRS - 1), position_share={1: 0.3})
    assert find(rows) == ()


def test_one_stirrer_for_both_tubes_says_nothing_of_itself():
    rows = [{**r, "stirrer_id": "S1"} for r in bench(np.random.default_rng(7), 30)]
    assert find(rows) == ()


def test_a_significant_difference_too_small_to_matter_is_not_told():
    rows = bench(np.random.default_rng(8), 700, cv=0.01, position_share={1: 0.004})
    assert find(rows) == ()


def test_a_few_wild_pairs_do_not_make_a_place_high():
    rows = bench(np.random.default_rng(9), 40)
    for r in [r for r in rows if r["stirrer_id"] == "S1"][:3]:
        r["seconds"] = min(880, r["seconds"] * 2)
    assert find(rows) == ()


def test_the_stated_false_alarm_rate_holds():
    # 300 sound days: at most 3 alarms are expected; 9 or more would come once in 200 times
    rng = np.random.default_rng(11)
    alarms = 0
    for _ in range(300):
        pairs = 40
        level = rng.uniform(150, 380, pairs)
        stirrer = np.array([rng.permutation(8)[:2] for _ in range(pairs)])
        frame = pl.DataFrame(
            {
                "row_1": np.arange(pairs) * 2 + 2, "row_2": np.arange(pairs) * 2 + 3, "bath": "A",
                "run_at": pl.Series([None] * pairs, dtype=pl.Datetime), "positions_stated": True,
                "position_1": pl.Series((np.arange(pairs) % 2) * 2 + 1).cast(pl.String),
                "position_2": pl.Series((np.arange(pairs) % 2) * 2 + 2).cast(pl.String),
                "stirrer_id_1": pl.Series(stirrer[:, 0]).cast(pl.String),
                "stirrer_id_2": pl.Series(stirrer[:, 1]).cast(pl.String),
                "tube_id_1": pl.Series([None] * pairs, dtype=pl.String),
                "tube_id_2": pl.Series([None] * pairs, dtype=pl.String),
                "seconds_1": np.round(level * rng.normal(1, 0.03, pairs)),
                "seconds_2": np.round(level * rng.normal(1, 0.03, pairs)), "kind_1": 0, "kind_2": 0,
            }
        )  # fmt: skip
        alarms += bool(high_places(frame, DEFAULT_SCATTER))
    assert alarms <= 8


# --- the tests behind it, against an independent implementation ---


@pytest.mark.parametrize("n", [5, 10, 17, 25])
def test_exact_signed_rank_agrees_with_scipy(n):
    rng = np.random.default_rng(n)
    for _ in range(20):
        x = rng.normal(0.4, 1.0, n)
        rank = stats.rankdata(np.abs(x))
        mine = exact_signed_rank_p(float(rank[x > 0].sum()), n)
        assert mine == pytest.approx(stats.wilcoxon(x, method="exact").pvalue, rel=1e-12)


def test_signed_rank_by_group_agrees_with_scipy_one_by_one():
    rng = np.random.default_rng(2)
    sizes = [12, 40, 200, 11]
    values = [rng.normal(m, 1.0, n) for m, n in zip((1.2, 0.8, 0.3, 0.0), sizes, strict=True)]
    group = np.repeat(np.arange(4), sizes)
    mixed = rng.permutation(len(group))
    mine = signed_rank_p(group[mixed], np.concatenate(values)[mixed], 4)
    for i, x in enumerate(values[:3]):
        exact = stats.wilcoxon(x, method="exact").pvalue if len(x) <= 60 else None
        expected = exact if exact is not None else stats.wilcoxon(x, method="approx", correction=True).pvalue
        assert mine[i] == pytest.approx(expected, rel=1e-9)
    assert mine[3] == pytest.approx(
        stats.wilcoxon(values[3], method="approx", correction=True).pvalue, rel=1e-9
    )


def test_ranks_within_groups_agree_with_scipy():
    rng = np.random.default_rng(3)
    group = rng.integers(0, 5, 300)
    value = rng.integers(0, 20, 300).astype(float)
    mine = ranks_within(group, value)
    for g in range(5):
        assert mine[group == g] == pytest.approx(stats.rankdata(value[group == g]))


def test_rank_trend_agrees_with_scipy():
    rng = np.random.default_rng(4)
    group = rng.integers(0, 3, 120)
    value = rng.normal(size=120) + 0.02 * np.arange(120) * (group == 1)
    mine = rank_trend_p(group, value, 3)
    for g in range(3):
        x = value[group == g]
        assert mine[g] == pytest.approx(stats.spearmanr(np.arange(len(x)), x).pvalue, rel=1e-9)


def test_groups_without_differences_give_one():
    assert signed_rank_p(np.array([0, 0]), np.zeros(2), 2).tolist() == [1.0, 1.0]
    assert rank_trend_p(np.array([0, 0, 0, 0]), np.ones(4), 2).tolist() == [1.0, 1.0]
