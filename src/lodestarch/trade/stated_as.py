"""Factors of a lot as an offer takes them, and the part of its mass that is paid for."""

from __future__ import annotations

from collections.abc import Mapping

from lodestarch.common.money import MoneyBySeconds
from lodestarch.trade.grain_units import protein_at, water_shrink_pct, weight_by_volume, weight_by_volume_back
from lodestarch.trade.offer import StatedAs
from lodestarch.trade.price_curve import PriceCurve

__all__ = ["factors_there", "paid_part", "shrunk"]

_KG_HL, _LB_BU = "test_weight_kg_hl", "test_weight_lb_bu"


def factors_there(
    factors: Mapping[str, float], stated: StatedAs, protein_basis_pct: float | None = None
) -> dict[str, float]:
    """Return factors in the units and on the basis of an offer.

    Parameters
    ----------
    factors : mapping
        By key of ``factors.FACTORS``.
    stated : StatedAs
    protein_basis_pct : float, optional
        Moisture on which the lot's protein is stated; not stated, it is taken as on the offer's. [%]

    Notes
    -----
    A test weight in one unit becomes the other by the convention that the offer names; without one it stays
    as it is, and the offer's own factor is not known.

    Examples
    --------
    >>> wanted = StatedAs(protein_basis_pct=12.0, test_weight_by="us-wheat")
    >>> there = factors_there({"protein_pct": 13.636, "test_weight_lb_bu": 60.0}, wanted, 0.0)
    >>> round(there["protein_pct"], 2), round(there["test_weight_kg_hl"], 2)
    (12.0, 78.94)
    """
    out = dict(factors)
    to = stated.protein_basis_pct
    if to is not None and protein_basis_pct is not None and "protein_pct" in out:
        out["protein_pct"] = float(protein_at(out["protein_pct"], protein_basis_pct, to))
    if stated.test_weight_by is not None:
        if _KG_HL not in out and _LB_BU in out:
            out[_KG_HL] = float(weight_by_volume(out[_LB_BU], stated.test_weight_by))
        elif _LB_BU not in out and _KG_HL in out:
            out[_LB_BU] = float(weight_by_volume_back(out[_KG_HL], stated.test_weight_by))
    return out


def paid_part(factors: Mapping[str, float], stated: StatedAs) -> float | None:
    """Return the part of a lot's mass that an offer pays for; ``None`` where its moisture is not known. [1]

    Examples
    --------
    Grain of 16.5 % paid at 15.5 %, with half a per cent for handling:

    >>> round(paid_part({"moisture_pct": 16.5}, StatedAs(shrink_to_pct=15.5, shrink_handling_pct=0.5)), 5)
    0.98317
    >>> paid_part({"moisture_pct": 13.0}, StatedAs(shrink_to_pct=15.5, shrink_handling_pct=0.5))
    1.0
    """
    if stated.shrink_to_pct is None:
        return 1.0
    moisture = factors.get("moisture_pct")
    if moisture is None:
        return None
    if moisture <= stated.shrink_to_pct:
        return 1.0
    lost = water_shrink_pct(moisture, stated.shrink_to_pct, handling_pct=stated.shrink_handling_pct)
    return max(0.0, 1.0 - lost / 100.0)


def shrunk(curve: PriceCurve, part: float) -> PriceCurve:
    """Return a price for a tonne as delivered, where a part of it is paid for."""
    if part == 1.0:
        return curve
    money: MoneyBySeconds = curve.money.times(part)
    return PriceCurve(money, curve.standing)
