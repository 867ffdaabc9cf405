from __future__ import annotations

import numpy as np
import pytest

from bench_day import judged, minute, samples
from lodestarch.control.carry_over import RESIDUE_SHARE, carry_over, carry_over_shift_s
from lodestarch.method.blend import Lot, blend
from lodestarch.method.scatter import DEFAULT_SCATTER


def day(levels, grounds):
    """Samples a, b, c, ... with one level each, ground as given (mill, minute)."""
    names = "abcdefgh"[: len(levels)]
    rows = [{"sample": n, "seconds": s} for n, s in zip(names, levels, strict=True) for _ in range(2)]
    sheet = samples(
        {"sample": n, "mill_id": mill, "ground_at": None if at is None else minute(at)}
        for n, (mill, at) in zip(names, grounds, strict=True)
    )
    return carry_over(judged(rows).results, sheet, DEFAULT_SCATTER, source="samples.csv")


def test_a_sound_sample_straight_after_the_floor_is_found_once_with_its_evidence():
    (found,) = day([300, 62, 310, 305], [("M1", 0), ("M1", 6), ("M1", 12), ("M1", 18)])
    assert (found.code, found.where.sample, found.where.row, found.where.field) == (
        "mill-carry-over", "c", 4, "ground_at",
    )  # fmt: skip
    assert found.values["previous_sample"] == "b"
    assert found.values["previous_kind"] == "at-or-below"
    assert found.values["residue_pct"] == 0.5
    assert found.values["gap_min"] == 6.0
    assert found.values["shift_s"] == pytest.approx(30.1, abs=0.05)


def test_the_order_is_each_mills_own_and_not_that_of_the_sheet():
    # b is at the floor on mill M1; c comes next in time but on M2; d is next on M1, though first in the sheet
    assert [
        f.where.sample for f in day([310, 62, 300, 300], [("M1", 30), ("M1", 6), ("M2", 12), ("M1", 40)])
    ] == ["a"]


@pytest.mark.parametrize(
    ("levels", "grounds"),
    [
        ([62, 62], [("M1", 0), ("M1", 6)]),  # itself at the floor
        ([62, 90], [("M1", 0), ("M1", 6)]),  # moved by less than its own scatter
        ([62, ">400"], [("M1", 0), ("M1", 6)]),  # stopped early: no value to move
        ([150, 300], [("M1", 0), ("M1", 6)]),  # the one before is low, but not very low
        ([62, 300], [("M1", 0), ("M1", 6 + 8 * 60)]),  # cleaned between shifts
        ([62, 300], [("M1", 0), ("M1", None)]),  # nobody wrote when it was ground
        ([62, 300], [("M1", 6), ("M1", 0)]),  # the sound one came first
    ],
)
def test_what_is_no_carry_over(levels, grounds):
    assert day(levels, grounds) == ()


def test_a_sheet_that_names_no_mill_is_one_mill():
    assert len(day([62, 300], [(None, 0), (None, 6)])) == 1


def test_very_low_counts_like_the_floor():
    assert len(day([90, 300], [("M1", 0), ("M1", 6)])) == 1


def test_a_reading_that_the_residue_alone_could_explain_has_no_figure():
    # LN 2.5 from half a per cent at the floor: a sample of 2450 s would be all residue; shown as none
    shift = carry_over_shift_s(np.array([2500.0]), np.array([62.0]))
    assert np.isinf(shift[0])


@pytest.mark.parametrize("clean_s", [120.0, 250.0, 300.0, 380.0])
@pytest.mark.parametrize("previous_s", [62.0, 80.0])
def test_the_shift_is_the_blend_law_turned_round(clean_s, previous_s):
    mixed = blend(
        [Lot(clean_s, 1.0 - RESIDUE_SHARE), Lot(previous_s, RESIDUE_SHARE)], cap_s=None, censoring=False
    ).seconds_s
    shift = carry_over_shift_s(np.array([mixed]), np.array([previous_s]))
    assert mixed + shift[0] == pytest.approx(clean_s, abs=1e-6)
