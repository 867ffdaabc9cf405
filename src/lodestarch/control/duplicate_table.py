"""What duplicates may differ by, and what each rule for those that differ does: one table for the chemist."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from lodestarch.control.duplicate_rules import RuleCharacteristic, fresh_pair, third_tube

__all__ = ["GROSS_SD", "RuleLine", "rule_table"]

GROSS_SD: Final = (0.0, 2.0, 3.0, 4.0, 6.0)
"""Gross errors of one tube for which the rules are shown. [SDs of a tube]"""


@dataclass(frozen=True, slots=True)
class RuleLine:
    """Both rules under one gross error."""

    gross_sd: float
    fresh: RuleCharacteristic
    third: RuleCharacteristic


@lru_cache(maxsize=16)
def rule_table(limit_sd: float, seed: int) -> tuple[RuleLine, ...]:
    """Return the operating characteristic of "fresh pair" and of "third tube".

    Parameters
    ----------
    limit_sd : float
        Agreement limit of a pair in SDs of a tube; give it rounded, the answer is kept. Above 0.
    seed : int
        Of the draws for the third tube.

    Examples
    --------
    >>> line = rule_table(2.77, 1)[3]
    >>> round(line.fresh.p_accepted_at_once, 2), round(line.fresh.bias_sd, 1)
    (0.19, 0.4)
    """
    return tuple(
        RuleLine(g, fresh_pair(limit_sd, g), third_tube(limit_sd, np.random.default_rng(seed), g))
        for g in GROSS_SD
    )
