"""Decision rules against check values from outside. Data and marks: ``tests/data/checks``.

Values marked R there are recalled: those tests say so and claim no conformity with the standard.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.special import ndtri

from lodestarch.decide.guard import acceptance_limit
from lodestarch.decide.limits import chance_between
from lodestarch.decide.risk import Rule, risks

CHECKS = Path(__file__).resolve().parents[1] / "data" / "checks"


def loaded(name: str) -> dict:
    return json.loads((CHECKS / f"{name}.json").read_text("utf-8"))


def rows(name: str) -> list[dict[str, float]]:
    lines = [r for r in (CHECKS / name).read_text("utf-8").splitlines() if r and not r.startswith("#")]
    head = lines[0].split(",")
    return [dict(zip(head, map(float, r.split(",")), strict=True)) for r in lines[1:]]


@pytest.mark.parametrize(("at", "key"), [(0, "burst"), (1, "zener"), (2, "viscosity")])
def test_conformance_probability_recalled(at, key):
    # JCGM 106:2012 worked examples, recalled; the further digits are derived.
    body = loaded("jcgm106_conformance")
    case = body["data"][at]
    between, _, _ = chance_between(
        case["y"], case["u"], case.get("lower", -math.inf), case.get("upper", math.inf)
    )
    assert float(between) == pytest.approx(body["expected"]["derived"][key], abs=1e-9)
    assert round(float(between), 2) == body["expected"]["printed"][key]


def test_act_above_a_speed_recalled():
    body = loaded("jcgm106_conformance")
    case = body["data"][3]
    # Relative uncertainty of the reading: y (1 - z u_rel) must reach the limit.
    z_u = acceptance_limit(0.0, case["u_relative"], case["required_probability"])
    assert case["limit"] / (1 - z_u) == pytest.approx(
        body["expected"]["derived"]["speed_act_above"], abs=1e-6
    )
    assert math.ceil(case["limit"] / (1 - z_u)) == body["expected"]["printed"]["speed_act_above"]


def test_resistors_recalled():
    body = loaded("jcgm106_resistor")
    d, low_high = body["data"], body["data"]["limits_ohm"]
    got = risks(Rule(*low_high, *d["acceptance_limits_ohm"]), 0.0, d["process_sd_ohm"], d["u_ohm"])
    e = body["expected"]["derived"]
    assert got.consumer == pytest.approx(e["consumer_risk"], abs=2e-9)
    assert got.producer == pytest.approx(e["producer_risk"], abs=2e-8)
    assert got.conforming == pytest.approx(e["p_conforming"], abs=1e-9)
    assert got.accepted == pytest.approx(e["p_accepted"], abs=1e-9)


def test_deaver_secondary_copy():
    body = loaded("global_risk_deaver")
    for case in body["data"]:
        low, high = case["limits"]
        got = risks(Rule.guarded(low, high), 0.0, case["sigma0"], case["u"])
        derived, printed = (body["expected"][k][case["case"]] for k in ("derived", "printed"))
        assert got.consumer == pytest.approx(derived["consumer_risk"], abs=1e-10)
        assert got.producer == pytest.approx(derived["producer_risk"], abs=1e-10)
        assert got.consumer == pytest.approx(printed["consumer_risk"], abs=6e-5)
        if "producer_risk" in printed:
            assert got.producer == pytest.approx(printed["producer_risk"], abs=6e-4)


def test_calibration_risk_secondary_copy():
    # NCSLI RP-19 (draft), read in a secondary copy.
    for row in rows("rp19_calibration_risk.csv"):
        sd = 1.0 / float(ndtri((1.0 + row["itp"]) / 2.0))
        got = risks(Rule.guarded(-1.0, 1.0), 0.0, sd, sd / 4.0)
        assert 100 * got.consumer == pytest.approx(row["pfa_percent"], abs=3e-6)
        assert 100 * got.false_among_accepted == pytest.approx(row["cpfa_percent"], abs=3e-6)
        assert got.conforming == pytest.approx(row["itp"], abs=1e-12)


def test_specific_risk_secondary_copy():
    for row in rows("specific_risk_cpk.csv"):
        _, under, over = chance_between(row["mean"], 0.4, 9.0, 11.0)
        assert float(under + over) == pytest.approx(row["risk"], abs=6e-6)
        assert float(under) == pytest.approx(row["risk_low"], abs=6e-8)
        assert float(over) == pytest.approx(row["risk_high"], abs=6e-8)


@pytest.mark.parametrize(
    ("mu0", "u", "guard", "false_accept", "false_reject", "accepted"),
    [
        (330, 9, 0, 0.0237, 0.0341, 0.8309), (330, 9, 14.805, 0.0013, 0.1565, 0.6862),
        (310, 9, 0, 0.0414, 0.0467, 0.6252), (310, 4.5, 0, 0.0217, 0.0231, 0.6292),
        (300, 9, 0, 0.0464, 0.0464, 0.5000),
    ],
)  # fmt: skip
def test_floor_of_300_derived(mu0, u, guard, false_accept, false_reject, accepted):
    # Lots N(mu0, 30), derived by quadrature.
    got = risks(Rule.guarded(300.0, math.inf, guard), mu0, 30.0, u)
    np.testing.assert_allclose(
        [got.consumer, got.producer, got.accepted], [false_accept, false_reject, accepted], atol=5.1e-5
    )
