from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_day import PROFILE, judged
from lodestarch.control.bench_pairs import constants_by_sample, tube_pairs
from lodestarch.control.swapped import swapped_tubes


def find(*lowered):
    """Each argument is (run, sample, first, second)."""
    rows, at = [], {}
    for run, sample, *seconds in lowered:
        for s in seconds:
            at[run] = at.get(run, 0) + 1
            rows.append({"sample": sample, "run": run, "position": str(at[run]), "bath": "A", "seconds": s})
    out = judged(rows)
    pairs = tube_pairs(out.readings, constants_by_sample(out.results, [PROFILE]))
    return swapped_tubes(pairs, [PROFILE], source="day.csv")


def test_one_exchanged_tube_of_each_is_found_once_and_names_all_four_readings():
    (found,) = find(("1", "a", 300, 180), ("1", "b", 305, 178))
    assert (found.code, found.where.sample, found.where.row, found.where.run) == (
        "tubes-look-swapped",
        "a",
        2,
        "1",
    )
    v = found.values
    assert (v["seconds_1"], v["seconds_2"]) == (300.0, 180.0)
    assert (v["other_sample"], v["other_seconds_1"], v["other_seconds_2"]) == ("b", 305.0, 178.0)
    # The pairs that agree are tubes 1 and 3, 2 and 4: exchanging 2 with 3 gives them, and so does 1 with 4.
    assert (v["position_1"], v["with_position_1"], v["position_2"], v["with_position_2"]) == (
        "1",
        "4",
        "2",
        "3",
    )
    assert v["rows"] == "2, 3, 4, 5"


def test_nothing_is_proposed():
    (found,) = find(("1", "a", 300, 180), ("1", "b", 305, 178))
    numbers = {x for x in found.values.values() if isinstance(x, float)}
    assert numbers == {300.0, 180.0, 305.0, 178.0}  # only what was read


@pytest.mark.parametrize(
    "lowered",
    [
        [("1", "a", 300, 304), ("1", "b", 180, 182)],  # both agree
        [("1", "a", 300, 180), ("1", "b", 178, 182)],  # only one disagrees
        [("1", "a", 300, 180), ("2", "b", 305, 178)],  # not lowered together
        [("1", "a", 300, 180), ("1", "b", 400, 240)],  # no exchange helps
        [("1", "a", 300, 180), ("1", "b", 305, 178), ("1", "c", 302, 179)],  # two ways to explain it
        [("1", "a", 300, 2910), ("1", "b", 305, 178)],  # an impossible reading is its own matter
    ],
)
def test_what_is_no_exchange(lowered):
    assert find(*lowered) == ()


def test_the_other_exchange_is_told_apart():
    # The pairs that agree are tubes 1 and 4, 2 and 3.
    (found,) = find(("1", "a", 300, 180), ("1", "b", 178, 305))
    assert (found.values["with_position_1"], found.values["with_position_2"]) == ("3", "4")


@settings(max_examples=60, deadline=None)  # a busy machine is no failure
@given(
    low=st.integers(70, 380),
    ratio=st.floats(1.3, 4.0),
    wobble=st.tuples(*[st.floats(-0.02, 0.02)] * 4),
    swap=st.tuples(st.sampled_from([0, 1]), st.sampled_from([0, 1])),
)
def test_any_exchange_between_two_clearly_different_samples_is_found(low, ratio, wobble, swap):
    tubes = [[low * (1 + wobble[0]), low * (1 + wobble[1])],
             [low * ratio * (1 + wobble[2]), low * ratio * (1 + wobble[3])]]  # fmt: skip
    if low * ratio * 1.02 > 900:
        return
    i, j = swap
    tubes[0][i], tubes[1][j] = tubes[1][j], tubes[0][i]
    rounded = [[round(x) for x in pair] for pair in tubes]
    (found,) = find(("1", "a", *rounded[0]), ("1", "b", *rounded[1]))
    assert found.values[f"with_position_{i + 1}"] == str(j + 3)


def test_the_rows_may_come_in_any_order_of_runs():
    found = find(("1", "a", 300, 180), ("2", "c", 250, 252), ("1", "b", 305, 178))
    assert [f.values["other_sample"] for f in found] == ["b"]
