"""What is assumed of the scatter before a lab has pairs of its own.

It starts from the stated default and gives way: with n pairs its weight on the scale is about
1/(1 + n), because it is worth one pair.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from lodestarch.common.errors import OutOfRange
from lodestarch.method.scatter import DEFAULT_CV, PUBLISHED_CV_RANGE

__all__ = ["DEFAULT_PRIOR", "ScatterPrior"]


@dataclass(frozen=True, slots=True)
class ScatterPrior:
    """Prior on the scale, on the law, and on the share of gross errors.

    Parameters
    ----------
    cv : float
        Median CV of one tube at the reference level. [1]  Legal 0.0005 to 0.25.
    log_sd : float
        Standard deviation of ln CV. [1]  Above 0. The default ln 2 puts the published 1 to 4 % one SD to
        either side of 2 %: a CV outside is less expected, not impossible.
    law_weights : tuple of four floats
        Weights of constant CV, constant plus proportional, constant in LN, free smooth; sum 1. The stated
        default is a constant CV and has half.
    gross_shares : tuple of float
        Shares of pairs with a gross error that are considered. [1]  The first is 0.
    gross_weights : tuple of float
        Their weights; sum 1.
    gross_factor : float
        SD of a gross error over that of a good tube. [1]  Above 1.

    Notes
    -----
    The law of the variance of "constant plus proportional" is c^2 (q 300^2 + (1 - q) FN^2); q has density
    2(1 - q), so that a constant part is possible at any size and a large one is less expected. All of this
    is a choice of ours (derived); simulation judges it.
    """

    cv: float = DEFAULT_CV
    log_sd: float = math.log(PUBLISHED_CV_RANGE[1] / DEFAULT_CV)
    law_weights: tuple[float, float, float, float] = (0.50, 0.23, 0.23, 0.04)
    gross_shares: tuple[float, ...] = (0.0, 0.02, 0.08)
    gross_weights: tuple[float, ...] = (0.86, 0.10, 0.04)
    gross_factor: float = 4.0

    def __post_init__(self) -> None:
        if not 0.0005 <= self.cv <= 0.25:
            raise OutOfRange("cv", self.cv, 0.0005, 0.25, "1")
        if not self.log_sd > 0.0:
            raise OutOfRange("log_sd", self.log_sd, 0.0, math.inf, "1")
        for name, weights in (("law_weights", self.law_weights), ("gross_weights", self.gross_weights)):
            if min(weights) < 0.0 or abs(sum(weights) - 1.0) > 1e-9:
                raise OutOfRange(f"sum of {name}", sum(weights), 1.0, 1.0, "1")


DEFAULT_PRIOR: Final = ScatterPrior()
