from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from lodestarch.common.errors import UnknownName
from lodestarch.common.provenance import Provenance
from lodestarch.method.profile import ProfileField, revise
from lodestarch.method.shipped import shipped_profile, shipped_profiles
from lodestarch.method.signoff import sign_off, sign_off_state

MEAL = shipped_profile("meal-15")
NEEDED = tuple(k for k, f in MEAL.fields.items() if f.value is not None)
HOW = {"standard": "our printed copy", "clause": "7.3", "person": "R. Aldous", "on": date(2031, 7, 1)}


def sign(profile, *keys):
    return [sign_off(profile, key, **HOW) for key in keys]


def test_a_profile_starts_with_every_field_open():
    state = sign_off_state(MEAL, [])
    assert (state.profile, state.confirmed, state.open, state.stale) == ("meal-15@1", (), NEEDED, ())
    assert not state.complete


@pytest.mark.parametrize("profile", shipped_profiles(), ids=lambda p: p.name)
def test_it_is_complete_once_every_field_with_a_value_is_confirmed(profile):
    needed = [k for k, f in profile.fields.items() if f.value is not None]
    assert not sign_off_state(profile, sign(profile, *needed[:-1])).complete
    done = sign_off_state(profile, sign(profile, *needed))
    assert done.complete
    assert done.confirmed == tuple(needed)


def test_rules_that_are_off_need_no_signature():
    assert "correction_coefficients" not in NEEDED
    assert "portion_table" not in NEEDED


def test_a_changed_value_makes_a_sign_off_stale_and_the_field_open_again():
    given = sign(MEAL, *NEEDED)
    changed = replace(MEAL, fields={**MEAL.fields, "floor_s": replace(MEAL.fields["floor_s"], value=61.0)})
    state = sign_off_state(changed, given)
    assert (state.open, state.stale, state.complete) == (("floor_s",), ("floor_s",), False)
    assert sign_off_state(changed, [*given, *sign(changed, "floor_s")]).complete


def test_only_the_value_counts_not_the_note_beside_it():
    noted = replace(
        MEAL, fields={**MEAL.fields, "floor_s": replace(MEAL.fields["floor_s"], note="seen on the bench")}
    )
    assert sign_off_state(noted, sign(MEAL, *NEEDED)).complete


def test_a_sign_off_counts_for_its_version_alone():
    next_version = revise(
        MEAL, {"floor_s": ProfileField("floor_s", 61.0, Provenance.ENTERED_BY_LAB, "our text")}
    )
    state = sign_off_state(next_version, sign(MEAL, *NEEDED))
    assert (state.confirmed, state.stale) == ((), ())
    assert not state.complete


def test_a_sign_off_says_who_when_where_and_which_value():
    (given,) = sign(MEAL, "agreement_limits")
    assert (given.profile, given.field, given.value) == ("meal-15@1", "agreement_limits", ((0.0, 10.0),))
    assert (given.standard, given.clause, given.person, given.on) == (
        "our printed copy",
        "7.3",
        "R. Aldous",
        date(2031, 7, 1),
    )


@pytest.mark.parametrize("blank", ["standard", "person"])
def test_a_sign_off_without_standard_or_person_confirms_nothing(blank):
    with pytest.raises(ValueError, match="names the printed standard and the person"):
        sign_off(MEAL, "floor_s", **(HOW | {blank: "  "}))


def test_there_is_no_sign_off_of_a_field_that_does_not_exist():
    with pytest.raises(UnknownName, match="flor_s"):
        sign_off(MEAL, "flor_s", **HOW)
