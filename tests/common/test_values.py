"""Findings, measured values, provenance, errors, arrays: the small values that every room passes around."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from lodestarch.common import errors
from lodestarch.common.arrays import as_array, like
from lodestarch.common.findings import NOWHERE, Finding, Severity, Where, worst
from lodestarch.common.measured import Measured
from lodestarch.common.provenance import Provenance


def test_a_finding_cannot_be_changed():
    finding = Finding("one-tube", Where(row=3), Severity.NOTE, {"needed": 2})
    with pytest.raises(dataclasses.FrozenInstanceError):
        finding.code = "other"
    assert Finding("one-tube").where is NOWHERE
    assert dict(Finding("one-tube").values) == {}


def test_the_gravest_finding_counts():
    note, check, stop = (Finding("x", severity=s) for s in (Severity.NOTE, Severity.CHECK, Severity.STOP))
    assert worst([]) is None
    assert worst([note]) is Severity.NOTE
    assert worst((note, check)) is Severity.CHECK
    assert worst([check, stop, note]) is Severity.STOP


def test_a_measured_value_without_uncertainty_says_so():
    value = Measured(287.0, "s", None, Provenance.MEASURED_HERE)
    assert value.u is None
    with pytest.raises(dataclasses.FrozenInstanceError):
        value.value = 288.0


def test_what_is_recalled_or_read_second_hand_needs_confirming():
    assert {p for p in Provenance if p.needs_confirming} == {
        Provenance.RECALLED,
        Provenance.SECONDARY_COPY,
        Provenance.COMMON_PRACTICE,
    }


def test_every_exception_has_one_root_and_carries_its_numbers():
    for name in errors.__all__:
        assert issubclass(getattr(errors, name), errors.LodestarchError)
    out = errors.OutOfRange("moisture_pct", 17.0, 8.0, 16.0, "%")
    assert (out.name, out.value, out.low, out.high, out.unit) == ("moisture_pct", 17.0, 8.0, 16.0, "%")
    assert isinstance(out, ValueError)
    assert str(errors.UnknownName("rule", "E", ())) == "no rule named 'E'; there are: none"
    answer = errors.NoAnswer("blend-moisture-partly", stated=1, lots=2)
    assert (answer.code, answer.values) == ("blend-moisture-partly", {"stated": 1, "lots": 2})
    mix = errors.NotComparable("a", "b")
    assert (mix.first, mix.second) == ("a", "b")


def test_a_scalar_comes_back_as_a_float_and_an_array_as_itself():
    assert type(like(3, np.float64(4.0))) is float
    assert type(like(np.float64(3.0), np.array(4.0))) is float
    assert like(np.array([1.0, 2.0]), np.array([3.0, 4.0])).tolist() == [3.0, 4.0]
    assert as_array(3).dtype == np.float64
    assert as_array([1, 2]).dtype == np.float64
