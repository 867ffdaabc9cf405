"""What a price or a limit can depend on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from lodestarch.common.nomenclature import quantity

__all__ = ["FACTORS", "Factor"]


@dataclass(frozen=True, slots=True)
class Factor:
    """One factor of quality.

    Parameters
    ----------
    key : str
        Name with its unit as suffix.
    unit : str
    low, high : float
        Legal range, both ends included: bounds what can be a value at all.
    """

    key: str
    unit: str
    low: float
    high: float


def _of_nomenclature(key: str, name: str) -> Factor:
    line = quantity(name)
    return Factor(key, line.unit, line.low, line.high)


def _percent(key: str) -> Factor:
    return Factor(key, "%", 0.0, 100.0)


_TABLE: Final = (
    _of_nomenclature("fn_s", "seconds"),
    Factor("protein_pct", "%", 0.0, 30.0),
    _of_nomenclature("moisture_pct", "moisture_pct"),
    Factor("test_weight_kg_hl", "kg/hl", 30.0, 100.0),
    Factor("test_weight_lb_bu", "lb/bu", 25.0, 80.0),
    _percent("damage_pct"),
    _percent("sprout_pct"),
    _percent("dockage_pct"),
    _percent("foreign_pct"),
    _percent("broken_pct"),
    _percent("ergot_pct"),
    Factor("don_mg_kg", "mg/kg", 0.0, 100.0),
    Factor("t2_ht2_ug_kg", "µg/kg", 0.0, 100_000.0),
    Factor("aflatoxin_ug_kg", "µg/kg", 0.0, 100_000.0),
)

FACTORS: Final[dict[str, Factor]] = {f.key: f for f in _TABLE}
"""Factors by key. Ranges: common practice, wide enough for anything that is grain."""
