import json
import math
from dataclasses import FrozenInstanceError

import pytest

from lodestarch.common.errors import OutOfRange, UnknownName
from lodestarch.common.provenance import Provenance
from lodestarch.tube.layout import PARAMETER_COLUMNS
from lodestarch.tube.origins import decay_of, origin, origins
from lodestarch.tube.parameters import LUMPED, constants, set_names, shipped_set, source_text
from lodestarch.tube.standing import Standing
from tube.tables import table


def test_every_constant_has_a_standing_and_a_source_that_exists():
    for key, constant in constants().items():
        assert key == constant.key
        assert constant.unit
        assert constant.symbol
        assert isinstance(constant.provenance, Provenance)
        assert len(source_text(constant.source)) > 5


def test_what_is_guessed_says_so():
    assert constants()["film_outer_w_m2k"].provenance == Provenance.RECALLED
    assert constants()["decay_prefactor_per_s"].provenance == Provenance.SECONDARY_COPY
    assert constants()["bore_mm"].provenance == Provenance.PUBLISHED


def test_no_published_constant_is_one_of_those_that_a_fit_moved():
    assert all(constants()[key].provenance == Provenance.DERIVED for key in LUMPED)


@pytest.mark.parametrize("name", set_names())
def test_sets_are_whole_named_and_uncalibrated(name):
    one = shipped_set(name)
    assert Standing.UNCALIBRATED is one.standing
    assert set(LUMPED) == set(one.fitted)
    assert len(PARAMETER_COLUMNS) == one.vector().size
    assert all(math.isfinite(x) for x in one.vector())
    assert name == one.name


def test_sets_differ_from_the_reference_only_where_they_say():
    ref = shipped_set()
    for name in set_names():
        other = shipped_set(name)
        moved = {key for key in ref.table if ref[key] != other[key]}
        assert moved <= set(other.fitted) | set(other.assumed)


def test_a_set_is_frozen_and_replacing_leaves_it_alone():
    ref = shipped_set()
    with pytest.raises(FrozenInstanceError):
        ref.name = "other"
    mine = ref.replaced("mine", {"film_inner_w_m2k": 2000.0}, Provenance.MEASURED_HERE, "run of 3 May")
    assert mine["film_inner_w_m2k"] == 2000.0
    assert mine.table["film_inner_w_m2k"].provenance == Provenance.MEASURED_HERE
    assert ref["film_inner_w_m2k"] == 1500.0


def test_wrong_names_and_values_are_refused():
    with pytest.raises(UnknownName):
        shipped_set("best")
    with pytest.raises(UnknownName):
        shipped_set()["viscosity"]
    with pytest.raises(UnknownName):
        source_text("nowhere")
    with pytest.raises(UnknownName):
        shipped_set().replaced("x", {"viscosity": 1.0}, Provenance.DERIVED, "x")
    for key, value in (("shells", 1.0), ("paste_time_s", 0.0), ("paste_exponent", math.nan)):
        with pytest.raises(OutOfRange):
            shipped_set().replaced("x", {key: value}, Provenance.DERIVED, "x")


def test_decay_table_of_the_malt_constants():
    decay = decay_of("barley-malt", shipped_set())
    for row in table("decay.csv"):
        rate = decay.at(float(row["T_C"]), 8.314)
        # Six of the seven rows carry four digits, printed half times three.
        assert float(row["k_d_per_s"]) == pytest.approx(rate, rel=5e-4), row
        assert float(row["half_life_s"]) == pytest.approx(math.log(2.0) / rate, rel=5e-3)


def test_origins_rank_bacterial_over_cereal_over_fungal_at_85():
    ref = shipped_set()
    rate = {name: decay_of(name, ref).at_85_per_s for name in origins()}
    assert rate["bacterial"] < rate["rye"] < rate["germination"] < rate["pericarp"]
    assert rate["germination"] < rate["fungal"]
    assert rate["late-maturity"] == rate["germination"]


def test_an_origin_with_d_and_z_returns_them():
    fungal, ref = origin("fungal"), shipped_set()
    decay = decay_of("fungal", ref)
    assert fungal.d_value_s == pytest.approx(math.log(10.0) / decay.at(75.0, 8.314))
    # z is a local slope: half a kelvin to each side of the temperature at which it is stated.
    slope = math.log(decay.at(75.5, 8.314) / decay.at(74.5, 8.314))
    assert fungal.z_c == pytest.approx(math.log(10.0) / slope, rel=1e-4)
    with pytest.raises(UnknownName):
        origin("elsewhere")


def test_standings_travel_as_plain_text():
    assert json.dumps(constants()["decay_energy_j_mol"].provenance) == '"secondary copy"'
