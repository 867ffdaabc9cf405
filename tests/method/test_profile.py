from __future__ import annotations

import dataclasses
import json
import math

import pytest

from lodestarch.common.errors import UnknownName
from lodestarch.common.findings import Severity
from lodestarch.common.provenance import Provenance
from lodestarch.method.profile import (
    Constants,
    ProfileField,
    check_profile,
    profile_from_document,
    profile_to_document,
    revise,
)
from lodestarch.method.profile_fields import FIELDS, field_spec
from lodestarch.method.shipped import DEFAULT_PROFILE, SHIPPED, shipped_profile, shipped_profiles
from method.support import own

EVERY = pytest.mark.parametrize("profile", shipped_profiles(), ids=lambda p: p.name)


def faults(**values):
    return [(f.code, f.where.field) for f in check_profile(own(**values))]


# --- what is shipped --------------------------------------------------------------------------------------


def test_the_default_comes_first():
    assert SHIPPED[0] == DEFAULT_PROFILE == "meal-15"
    assert [p.profile_id for p in shipped_profiles()] == list(SHIPPED)


@EVERY
def test_a_shipped_profile_checks_clean(profile):
    assert check_profile(profile) == ()
    assert profile.version == 1
    assert profile.name == f"{profile.profile_id}@1"


@EVERY
def test_every_field_states_provenance_and_source(profile):
    assert set(profile.fields) == set(FIELDS)
    for key, field in profile.fields.items():
        assert field.key == key
        assert isinstance(field.provenance, Provenance)
        assert len(field.source) > 8, key
        assert field.unit == FIELDS[key].unit


@EVERY
def test_what_is_recalled_is_listed_and_never_called_published(profile):
    assert set(profile.recalled_fields) == {
        k for k, f in profile.fields.items() if f.provenance is Provenance.RECALLED
    }
    for key in ("mass_tolerance_g", "water_temp_c", "agreement_limits", "disagreement_rule"):
        assert key in profile.recalled_fields
    assert "not held against" in shipped_profile("meal-15").fields["moisture_basis_pct"].source


@EVERY
def test_nothing_shipped_is_invented_or_entered_by_a_lab(profile):
    shown = {f.provenance for f in profile.fields.values()}
    assert not shown & {Provenance.INVENTED, Provenance.ENTERED_BY_LAB, Provenance.MEASURED_HERE}


def test_shipped_profiles_differ_where_their_titles_say():
    c = {p.profile_id: p.constants for p in shipped_profiles()}
    assert [c[i].moisture_basis_pct for i in SHIPPED] == [15.0, 14.0, None, 15.0, 14.0]
    assert [c[i].base_mass_g for i in SHIPPED] == [7.0, 7.0, 7.0, 9.0, 7.0]
    assert [c[i].portion_rule for i in SHIPPED] == [
        "dry-matter-to-total-water",
        "dry-matter-to-total-water",
        "as-is",
        "dry-matter-to-total-water",
        "dry-matter-to-total-water",
    ]
    assert c["flour-14"].material == "flour"
    assert c["flour-14"].least_ground_mass_g is None
    assert c["meal-14"].shaking == "by machine"
    assert (c["meal-15"].stirring_s, c["meal-15"].floor_s) == (60.0, 62.0)


def test_no_two_shipped_profiles_are_comparable():
    assert len({p.comparable_key for p in shipped_profiles()}) == len(SHIPPED)


def test_an_unknown_shipped_profile_is_named():
    with pytest.raises(UnknownName, match="meal-15"):
        shipped_profile("meal-13")


# --- comparable or not ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "changes",
    [
        {"base_mass_g": 6.5},
        {"moisture_basis_pct": 14.0},
        {"portion_rule": "dry-matter"},
        {"water_ml": 24.0},
        {"material": "flour"},
        {"portion_rule": "as-is"},
        {"portion_rule": "table", "portion_table": ((8.0, 6.3), (16.0, 7.1))},
    ],
)
def test_what_makes_results_not_comparable(changes):
    assert own(**changes).comparable_key != shipped_profile("meal-15").comparable_key


@pytest.mark.parametrize(
    "changes", [{"rounding_s": 5.0}, {"tubes": 3.0}, {"floor_s": 60.0}, {"mass_tolerance_g": 0.02}]
)
def test_what_leaves_results_comparable(changes):
    assert own(**changes).comparable_key == shipped_profile("meal-15").comparable_key


def test_the_as_is_rule_has_no_basis_whatever_its_field_says():
    kept = own("meal-15", portion_rule="as-is")
    assert kept.comparable_key == kept.as_is_key == shipped_profile("as-is").comparable_key
    assert "15" not in kept.comparable_key


def test_a_table_without_a_basis_is_not_called_as_is():
    pasted = own("as-is", portion_rule="table", portion_table=((8.0, 6.3), (16.0, 7.1)))
    assert pasted.comparable_key != pasted.as_is_key
    assert "not stated" in pasted.comparable_key


# --- values that cannot stand -----------------------------------------------------------------------------

NUMBERS = [k for k, s in FIELDS.items() if s.kind == "number"]


@pytest.mark.parametrize("key", NUMBERS)
def test_a_number_outside_its_range_is_a_finding(key):
    spec = field_spec(key)
    for value in (
        math.nextafter(spec.low, -math.inf),
        math.nextafter(spec.high, math.inf),
        math.nan,
        math.inf,
    ):
        assert faults(**{key: value}) == [("profile-field-illegal", key)]
    (finding,) = check_profile(own(**{key: spec.high + 1.0}))
    assert finding.severity is Severity.STOP
    assert finding.values["why"] == "outside"
    assert finding.values["name"] == spec.name
    allowed = ", ".join(spec.choices) or f"{spec.low:g} to {spec.high:g} {spec.unit}"
    assert finding.values["allowed"] == allowed


@pytest.mark.parametrize("key", [k for k, s in FIELDS.items() if s.kind == "choice"])
def test_a_value_that_is_no_choice_is_a_finding(key):
    (finding,) = check_profile(own(**{key: "whatever"}))
    assert (finding.where.field, finding.values["why"]) == (key, "not-a-choice")
    assert finding.values["allowed"] == ", ".join(FIELDS[key].choices)


@pytest.mark.parametrize("key", [k for k, s in FIELDS.items() if not s.optional])
def test_a_field_that_is_needed_may_not_be_empty(key):
    assert ("profile-field-illegal", key) in faults(**{key: None})


@pytest.mark.parametrize("text", ["", "   "])
def test_a_profile_cites_something(text):
    assert faults(cites=text) == [("profile-field-illegal", "cites")]


@pytest.mark.parametrize("tubes", [1.5, 2.5, 0.0])
def test_tubes_are_whole(tubes):
    (finding,) = check_profile(own(tubes=tubes))
    assert finding.where.field == "tubes"
    assert finding.values["allowed"].startswith("1, 2, 3")


@pytest.mark.parametrize(
    "limits",
    [
        (),
        ((100.0, 10.0), (0.0, 8.0)),
        ((0.0, 10.0), (0.0, 8.0)),
        ((0.0, 0.0),),
        ((0.0, -5.0),),
        ((0.0, 1000.0),),
        ((0.0, math.nan),),
        ((math.nan, 10.0),),
        ((0.0, math.inf),),
    ],
)
def test_limits_ascend_and_are_sane(limits):
    assert faults(agreement_limits=limits) == [("profile-field-illegal", "agreement_limits")]


@pytest.mark.parametrize(
    "rows",
    [
        ((9.0, 6.40), (12.0, 66.97)),
        ((12.0, 6.70), (9.0, 6.40)),
        ((9.0, 6.40), (12.0, 6.04)),
        ((9.0, 0.64), (12.0, 6.70)),
        ((math.nan, 6.4), (12.0, 6.7)),
    ],
)
def test_a_slip_in_a_pasted_table_is_a_finding(rows):
    assert faults(portion_rule="table", portion_table=rows) == [("profile-field-illegal", "portion_table")]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"moisture_min_pct": 16.0, "moisture_max_pct": 8.0}, "moisture_max_pct"),
        ({"floor_s": 59.0}, "floor_s"),
        ({"stirring_s": 63.0}, "floor_s"),
        ({"portion_rule": "table"}, "portion_table"),
        ({"moisture_basis_pct": None}, "moisture_basis_pct"),
        ({"agreement_limits": ((100.0, 10.0),)}, "agreement_limits"),
    ],
)
def test_fields_that_contradict_each_other_are_a_finding(changes, field):
    assert faults(**changes) == [("profile-fields-disagree", field)]


def test_a_floor_at_the_stirring_time_is_one_texts_own():
    assert faults(floor_s=60.0) == []


@pytest.mark.parametrize(
    "profile_id", ["", "Meal", "meal 15", "meal_15", "-meal", "meal--15", "meal@1", "mäl"]
)
def test_a_name_that_no_sheet_could_use_is_a_finding(profile_id):
    named = dataclasses.replace(shipped_profile("meal-15"), profile_id=profile_id)
    assert [f.code for f in check_profile(named)] == ["profile-id-illegal"]


def test_every_fault_is_told_at_once():
    found = faults(tubes=0.0, floor_s=500.0, shaking="softly", cites=" ")
    assert sorted(field for _, field in found) == ["cites", "floor_s", "shaking", "tubes"]


def test_a_correction_that_cannot_be_is_a_finding_of_the_profile():
    found = faults(correction_form="proportional", correction_coefficients="-0.0087")
    assert ("correction-wrong-sign", "correction_coefficients") in found
    assert faults(correction_form="proportional", correction_coefficients="0.0087") == []


# --- a lab's own profile ----------------------------------------------------------------------------------


def test_revising_gives_the_next_version_and_leaves_the_old_one_alone():
    old = shipped_profile("meal-15")
    new = revise(old, {"floor_s": ProfileField("floor_s", 61.0, Provenance.ENTERED_BY_LAB, "our text, 6.2")})
    assert (new.name, new.based_on, old.name) == ("meal-15@2", "meal-15@1", "meal-15@1")
    assert (old.constants.floor_s, new.constants.floor_s) == (62.0, 61.0)
    assert {k for k in FIELDS if old.fields[k] != new.fields[k]} == {"floor_s"}
    with pytest.raises(TypeError):
        new.fields["floor_s"] = old.fields["floor_s"]
    with pytest.raises(dataclasses.FrozenInstanceError):
        new.version = 3


def test_another_name_starts_at_version_one():
    new = revise(shipped_profile("meal-15"), {}, new_id="bench-two", title="Bench two")
    assert (new.name, new.title, new.based_on) == ("bench-two@1", "Bench two", "meal-15@1")
    assert revise(new, {}).name == "bench-two@2"
    assert revise(new, {}, version=7).name == "bench-two@7"
    assert revise(new, {}, new_id="bench-two").name == "bench-two@2"


def test_a_change_to_a_field_that_no_profile_has_is_refused():
    with pytest.raises(UnknownName, match="no profile field named 'flor_s'"):
        revise(shipped_profile("meal-15"), {"flor_s": ProfileField("flor_s", 62.0, Provenance.RECALLED, "x")})


# --- documents --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "profile",
    [
        *shipped_profiles(),
        own(portion_rule="table", portion_table=((9.0, 6.4), (12.0, 6.7))),
        own(correction_form="polynomial", correction_coefficients="0.118 0.0087"),
    ],
    ids=lambda p: f"{p.name} {p.constants.portion_rule} {p.constants.correction_form}",
)
def test_documents_round_trip_through_json(profile):
    text = json.dumps(profile_to_document(profile), allow_nan=False)
    again = profile_from_document(json.loads(text))
    assert again == profile
    assert again.constants == profile.constants
    assert json.dumps(profile_to_document(again)) == text


def test_a_document_with_an_unknown_or_a_missing_field_is_refused():
    document = profile_to_document(shipped_profile("meal-15"))
    document["fields"]["flor_s"] = document["fields"]["floor_s"]
    with pytest.raises(UnknownName, match="flor_s"):
        profile_from_document(document)
    document = profile_to_document(shipped_profile("meal-15"))
    del document["fields"]["floor_s"]
    with pytest.raises(UnknownName, match="floor_s"):
        profile_from_document(document)


def test_an_optional_field_that_is_absent_turns_its_rule_off_and_says_so():
    document = profile_to_document(shipped_profile("meal-15"))
    del document["fields"]["longest_grind_delay_h"]
    field = profile_from_document(document).fields["longest_grind_delay_h"]
    assert (field.value, field.source) == (None, "not stated; rule off")


def test_constants_are_the_fields():
    assert {f.name for f in dataclasses.fields(Constants)} == set(FIELDS)
