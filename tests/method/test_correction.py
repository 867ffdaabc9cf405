from __future__ import annotations

import math

import numpy as np
import pytest

from bench_day import readings
from lodestarch.common.errors import OutOfRange, UnknownName
from lodestarch.common.findings import Severity, Where
from lodestarch.method.bath import pressure_from_elevation_hpa
from lodestarch.method.correction import (
    FORMS,
    Correction,
    coefficient_findings,
    corrected_s,
    correction_findings,
    correction_of,
)
from lodestarch.method.judging import judge
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.method.shipped import shipped_profile, shipped_profiles
from method.support import own

SOURCE = "an example, no real coefficient"
SANE = [
    Correction("proportional", (0.0087,), SOURCE),
    Correction("log-linear-elevation", (4.209093e-6,), SOURCE),
    Correction("polynomial", (1.0 - 0.0087 * 101.325, 0.0087), SOURCE),
    Correction("polynomial", (1.0 - 0.0123 * 101.325 + 1.5e-5 * 101.325**2, 0.0123, -1.5e-5), SOURCE),
]
NOWHERE = Where(field="correction_coefficients")


def codes(correction):
    return [f.code for f in correction_findings(correction, NOWHERE)]


# --- forms ------------------------------------------------------------------------------------------------


def test_no_correction_returns_what_it_was_given():
    values = np.array([250.0, 300.0])
    assert corrected_s(300.0, 900.0, Correction("none", ())) == 300.0
    assert corrected_s(values, np.array([900.0, 800.0]), Correction("none", ())).tolist() == [250.0, 300.0]


def test_proportional_is_per_kilopascal_from_the_standard_atmosphere():
    c = Correction("proportional", (0.01,))
    assert corrected_s(300.0, 1013.25, c) == 300.0
    assert corrected_s(300.0, 1003.25, c) == pytest.approx(297.0)
    assert corrected_s(300.0, 1023.25, c) == pytest.approx(303.0)


def test_log_linear_works_on_the_feet_of_the_standard_atmosphere():
    c = Correction("log-linear-elevation", (5e-6,))
    at_2000_ft = pressure_from_elevation_hpa(609.6)
    assert corrected_s(300.0, at_2000_ft, c) == pytest.approx(
        10 ** (math.log10(300.0) * (1 - 0.01)), rel=1e-9
    )
    assert corrected_s(300.0, 1013.25, c) == pytest.approx(300.0, abs=1e-9)


def test_polynomial_is_in_kilopascals_lowest_power_first():
    c = Correction("polynomial", (0.5, 0.002, 0.00003))
    assert corrected_s(200.0, 900.0, c) == pytest.approx(200.0 * (0.5 + 0.002 * 90.0 + 0.00003 * 8100.0))


def test_arrays_and_scalars_agree_in_every_form():
    seconds, pressures = np.array([65.0, 210.0, 300.0, 420.0]), np.array([820.0, 930.0, 1013.25, 1035.0])
    for c in [*SANE, Correction("none", ())]:
        one_by_one = [corrected_s(s, p, c) for s, p in zip(seconds.tolist(), pressures.tolist(), strict=True)]
        assert corrected_s(seconds, pressures, c).tolist() == pytest.approx(one_by_one, rel=1e-15)
        assert corrected_s(seconds, 930.0, c)[2] == pytest.approx(corrected_s(300.0, 930.0, c), rel=1e-15)


def test_an_unknown_form_or_a_wrong_number_of_coefficients_is_refused():
    with pytest.raises(UnknownName, match="proportional"):
        Correction("quadratic", (1.0,))
    for form, given in (
        ("none", (0.1,)),
        ("proportional", ()),
        ("proportional", (1.0, 2.0)),
        ("log-linear-elevation", ()),
        ("polynomial", ()),
        ("polynomial", (1.0,) * 7),
    ):
        with pytest.raises(OutOfRange, match="number of coefficients"):
            Correction(form, given)


# --- entered coefficients are looked at -------------------------------------------------------------------


@pytest.mark.parametrize("correction", SANE, ids=lambda c: c.form)
def test_sane_coefficients_pass(correction):
    assert correction_findings(correction, NOWHERE) == ()


def test_something_at_standard_pressure_is_a_finding():
    # Slope as it should be, but 2 % off everywhere.
    offset = Correction("polynomial", (1.02 - 0.0087 * 101.325, 0.0087))
    assert "correction-not-zero-at-standard" in codes(offset)
    assert correction_findings(offset, NOWHERE)[0].values["at_standard_s"] == pytest.approx(6.0)


def test_the_wrong_sign_is_a_finding():
    found = codes(Correction("proportional", (-0.0087,)))
    assert "correction-wrong-sign" in found
    assert "correction-not-zero-at-standard" not in found


def test_a_correction_that_turns_round_is_a_finding_and_nothing_else_is():
    # A cubic: nothing at standard, right sign on both sides, sane at 3,000 ft, but a wave far below.
    about = np.polynomial.Polynomial([-101.325, 1.0])
    turned = 1.0 + 0.012 * about + 9.7e-4 * about**2 + 2.2e-5 * about**3
    assert codes(Correction("polynomial", tuple(turned.coef))) == ["correction-not-monotonic"]


@pytest.mark.parametrize(
    ("c_per_kpa", "fine"), [(0.0025, False), (0.0033, True), (0.0087, True), (0.018, True), (0.02, False)]
)
def test_a_size_that_is_not_plausible_is_a_finding(c_per_kpa, fine):
    assert codes(Correction("proportional", (c_per_kpa,))) == ([] if fine else ["correction-size"])


def test_each_miss_has_its_numbers_and_severity():
    found = {f.code: f for f in correction_findings(Correction("polynomial", (2.0, -0.02)), NOWHERE)}
    assert set(found) == {
        "correction-not-zero-at-standard",
        "correction-wrong-sign",
        "correction-not-monotonic",
        "correction-size",
    }
    for code, finding in found.items():
        assert finding.severity is Severity.STOP, code
        assert finding.where is NOWHERE
        assert {"form", "at_standard_s", "at_3000_ft_s"} <= set(finding.values)
    assert (found["correction-size"].values["least_s"], found["correction-size"].values["most_s"]) == (
        10.0,
        60.0,
    )


@pytest.mark.parametrize("coefficients", [(math.nan,), (math.inf,), (1e300,), (-1e300,), (0.0,)])
@pytest.mark.parametrize("form", ["proportional", "log-linear-elevation", "polynomial"])
def test_coefficients_out_of_this_world_give_findings_and_no_warning(form, coefficients):
    found = codes(Correction(form, coefficients))
    assert {"correction-size", "correction-not-monotonic"} & set(found)


def test_coefficients_per_hectopascal_instead_of_kilopascal_are_too_small():
    assert codes(Correction("proportional", (0.00087,))) == ["correction-size"]


# --- in a profile -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("profile", shipped_profiles(), ids=lambda p: p.name)
def test_none_is_active_as_shipped(profile):
    assert profile.constants.correction_form == "none"
    assert profile.constants.correction_coefficients is None
    assert correction_of(profile) == Correction("none", (), profile.fields["correction_coefficients"].source)


def test_a_profile_carries_the_labs_coefficients_and_their_source():
    profile = own(correction_form="polynomial", correction_coefficients="0.118, 0.0087")
    assert correction_of(profile) == Correction("polynomial", (0.118, 0.0087), "the lab's own text")


@pytest.mark.parametrize(
    ("form", "text"),
    [
        ("proportional", "0.0087 per kPa"),
        ("proportional", None),
        ("none", "0.01"),
        ("proportional", "1 2"),
        ("polynomial", ""),
    ],
)
def test_coefficients_that_cannot_be_read_are_a_finding(form, text):
    (finding,) = coefficient_findings(own(correction_form=form, correction_coefficients=text))
    assert (finding.code, finding.severity) == ("correction-unreadable", Severity.STOP)
    assert finding.where.field == "correction_coefficients"
    assert finding.values["why"]


def test_every_form_is_a_choice_of_the_profile_field():
    profile = shipped_profile("meal-15")
    assert profile.fields["correction_form"].key == "correction_form"
    from lodestarch.method.profile_fields import FIELDS

    assert FIELDS["correction_form"].choices == FORMS


# --- on readings ------------------------------------------------------------------------------------------

CORRECTING = own("meal-14", correction_form="proportional", correction_coefficients="0.0087")


def day(*tubes, profile=CORRECTING):
    rows = [
        {"sample": "A", "position": str(i), "pressure_hpa": 913.25, "corrected_by_instrument": False, **t}
        for i, t in enumerate(tubes, start=1)
    ]
    return judge(readings(rows), {}, profile, DEFAULT_SCATTER)


def result(*tubes, **kw):
    return day(*tubes, **kw).results.row(0, named=True)


def found_in(judged):
    return [f.code for f in judged.findings]


def test_readings_are_corrected_once_and_the_result_says_by_what():
    row = result({"seconds": "300"}, {"seconds": "300"})
    assert row["mean_s"] == pytest.approx(300.0 * (1 - 0.0087 * 10))
    assert (row["correction"], row["corrected_by_instrument"]) == ("proportional, own@1", False)


def test_readings_corrected_by_the_instrument_are_not_corrected_again():
    row = result(*[{"seconds": "300", "corrected_by_instrument": True}] * 2)
    assert row["mean_s"] == 300.0
    assert (row["correction"], row["corrected_by_instrument"], row["status"]) == (
        "by instrument",
        True,
        "preliminary",
    )


@pytest.mark.parametrize("other", [False, None])
def test_readings_corrected_and_uncorrected_never_make_a_result(other):
    judged = day(
        {"seconds": "300", "corrected_by_instrument": True},
        {"seconds": "302", "corrected_by_instrument": other},
    )
    row = judged.results.row(0, named=True)
    assert (row["status"], row["correction"], row["corrected_by_instrument"]) == ("held", "mixed", None)
    assert row["mean_s"] == 301.0
    assert "correction-mixed" in found_in(judged)
    assert "pair-disagrees" not in found_in(judged)


def test_mixed_corrections_and_a_disagreement_are_both_told():
    judged = day({"seconds": "300", "corrected_by_instrument": True}, {"seconds": "400"})
    assert {"correction-mixed", "pair-disagrees"} <= set(found_in(judged))


def test_a_tube_set_aside_does_not_mix_corrections_nor_lack_a_pressure():
    aside = {
        "seconds": "300",
        "corrected_by_instrument": True,
        "pressure_hpa": None,
        "set_aside_cause": "leak",
    }
    row = result({"seconds": "300"}, aside, {"seconds": "302"})
    assert (row["status"], row["correction"]) == ("preliminary", "proportional, own@1")
    assert row["mean_s"] == pytest.approx(301.0 * (1 - 0.087))


def test_whether_the_instrument_corrected_is_kept_as_it_was_stated():
    assert (
        result(*[{"seconds": "300", "corrected_by_instrument": None}] * 2)["corrected_by_instrument"] is None
    )
    half = result({"seconds": "300"}, {"seconds": "300", "corrected_by_instrument": None})
    assert half["corrected_by_instrument"] is None
    plain = result(
        *[{"seconds": "300", "corrected_by_instrument": None}] * 2, profile=shipped_profile("meal-14")
    )
    assert (plain["correction"], plain["corrected_by_instrument"]) == ("not stated", None)
    off = result(*[{"seconds": "300"}] * 2, profile=shipped_profile("meal-14"))
    assert (off["correction"], off["corrected_by_instrument"]) == ("none", False)


@pytest.mark.parametrize("pressure_hpa", [None, 29.92, 101.3, 5000.0])
def test_without_a_pressure_that_can_be_one_nothing_is_corrected_and_it_is_told(pressure_hpa):
    for form in ("proportional", "log-linear-elevation"):
        profile = own("meal-14", correction_form=form, correction_coefficients="0.000005")
        judged = day({"seconds": "300"}, {"seconds": "302", "pressure_hpa": pressure_hpa}, profile=profile)
        row = judged.results.row(0, named=True)
        assert (row["mean_s"], row["correction"]) == (301.0, "no pressure")
        assert "correction-no-pressure" in found_in(judged)


def test_a_floor_stays_a_floor_and_a_stopped_tube_is_corrected_as_a_bound():
    floor = result({"seconds": "<=62"}, {"seconds": "61"})
    assert (floor["kind"], floor["seconds"]) == (1, 62.0)
    stopped = result({"seconds": ">400"}, {"seconds": ">400"})
    assert (stopped["kind"], stopped["mean_s"]) == (2, pytest.approx(400.0 * 0.913))
    at_floor_on_a_high_day = result(
        *[{"seconds": "62", "pressure_hpa": 1040.0}] * 2
    )  # 63.4 s if it were a value
    assert (at_floor_on_a_high_day["kind"], at_floor_on_a_high_day["seconds"]) == (1, 62.0)
    fell = result({"seconds": "66"}, {"seconds": "66"})  # 60.3 s after correction: at or below the floor
    assert (fell["kind"], fell["seconds"]) == (1, 62.0)
