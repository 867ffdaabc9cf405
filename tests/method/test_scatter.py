from __future__ import annotations

import math

import numpy as np
import pytest

from lodestarch.common.errors import OutOfRange, UnknownName
from lodestarch.common.provenance import Provenance
from lodestarch.method.liquefaction import u_of_ln
from lodestarch.method.scatter import DEFAULT_CV, DEFAULT_SCATTER, PUBLISHED_CV_RANGE, ScatterLaw

DERIVED = Provenance.DERIVED


def law(kind, *parameters, knots=()):
    return ScatterLaw(kind, parameters, DERIVED, "", knots)


def test_the_default_lies_inside_the_published_range_and_says_that_it_is_a_default():
    low, high = PUBLISHED_CV_RANGE
    assert low < DEFAULT_CV < high
    assert DEFAULT_SCATTER.provenance is DERIVED
    assert "default" in DEFAULT_SCATTER.note
    assert DEFAULT_SCATTER.sd_s(300.0) == 6.0


# Two candidate laws, both 9 s at 300 s; derived.
LEVELS = (80, 100, 150, 200, 250, 300, 350, 400, 500)
CONSTANT_CV_3 = (2.4, 3.0, 4.5, 6.0, 7.5, 9.0, 10.5, 12.0, 15.0)
CONSTANT_LN = (0.13, 0.36, 1.44, 3.24, 5.76, 9.00, 12.96, 17.64, 29.16)


def test_constant_cv_by_level_derived():
    assert law("constant-cv", 0.03).sd_s(np.array(LEVELS, float)) == pytest.approx(CONSTANT_CV_3, abs=1e-9)


def test_constant_in_ln_by_level_derived():
    assert law("constant-in-ln", 0.864).sd_s(np.array(LEVELS, float)) == pytest.approx(
        CONSTANT_LN, abs=0.0051
    )


def test_constant_in_ln_is_the_same_u_of_ln_at_every_level():
    one = law("constant-in-ln", 0.864)
    for level in (70.0, 200.0, 300.0, 450.0):
        assert u_of_ln(level, one.sd_s(level)) == pytest.approx(0.864)


def test_constant_plus_proportional_adds_in_squares():
    both = law("constant-plus-proportional", 3.0, 0.02)
    assert both.sd_s(200.0) == pytest.approx(5.0)
    assert both.sd_s(0.0) == 3.0


def test_a_table_is_linear_between_knots_and_flat_outside():
    t = law("table", 2.0, 6.0, 5.0, knots=(100.0, 300.0, 400.0))
    assert [t.sd_s(x) for x in (60.0, 100.0, 200.0, 300.0, 350.0, 900.0)] == [2.0, 2.0, 4.0, 6.0, 5.5, 5.0]
    assert law("table", 4.0, knots=(250.0,)).sd_s(90.0) == 4.0


@pytest.mark.parametrize(
    "one",
    [
        DEFAULT_SCATTER,
        law("constant-plus-proportional", 1.0, 0.02),
        law("constant-in-ln", 0.5),
        law("table", 2.0, 9.0, knots=(100.0, 400.0)),
    ],
    ids=lambda x: x.kind,
)
def test_scalars_and_arrays_agree(one):
    levels = np.linspace(60.0, 900.0, 57)
    assert one.sd_s(levels).tolist() == [one.sd_s(x) for x in levels.tolist()]
    assert isinstance(one.sd_s(300.0), float)
    assert one.sd_s(levels.reshape(19, 3)).shape == (19, 3)


@pytest.mark.parametrize(
    ("parameters", "knots"),
    [
        ((), ()),
        ((1.0,), ()),
        ((1.0, 2.0), (100.0,)),
        ((1.0, 2.0), (300.0, 100.0)),
        ((1.0, 2.0), (100.0, 100.0)),
        ((1.0, 2.0), (100.0, math.nan)),
    ],
)
def test_a_table_needs_a_value_at_each_knot_and_knots_that_ascend(parameters, knots):
    with pytest.raises(OutOfRange):
        law("table", *parameters, knots=knots)


@pytest.mark.parametrize(
    ("kind", "parameters"),
    [
        ("constant-cv", ()),
        ("constant-cv", (0.02, 0.1)),
        ("constant-plus-proportional", (1.0,)),
        ("constant-in-ln", (1.0, 2.0)),
        ("constant-cv", (-0.02,)),
        ("constant-cv", (math.nan,)),
        ("constant-cv", (math.inf,)),
    ],
)
def test_parameters_that_no_law_can_have_are_refused(kind, parameters):
    with pytest.raises(OutOfRange):
        law(kind, *parameters)


def test_an_unknown_kind_is_named_with_what_there_is():
    with pytest.raises(UnknownName, match="constant-in-ln"):
        law("constant", 1.0)
