"""What is assumed of the scatter before a lab has pairs of its own.

It starts from the stated default and gives way: it is worth one pair before there are any, and less with
each pair that comes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from lodestarch.common.errors import OutOfRange
from lodestarch.method.scatter import DEFAULT_CV, PUBLISHED_CV_RANGE

__all__ = ["DEFAULT_PRIOR", "ScatterPrior"]

_HALVED_AFTER: Final = 20
"""Pairs after which the default is worth half of what it was (a choice of ours). With the weight of one pair
kept for ever, 90 % intervals from 50 pairs cover 92 % where the CV is 1 % and 89 % where it is 4 %, because
the pull to 2 % straightens their tails at one end of the published range and bends them at the other
(simulated)."""


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
        Weights in the choice of one law: constant CV, constant plus proportional, constant in LN, free
        smooth; sum 1. The stated default is a constant CV and has half, so that it stays until pairs speak
        against it.
    interval_weights : tuple of four floats
        Weights in the average over the laws that makes intervals; sum 1. Constant plus proportional has most:
        it holds every size of the constant part, and constant CV is its edge. With more weight on the edge,
        intervals under a moderate constant part cover too little.
    gross_shares : tuple of float
        Shares of pairs with a gross error that are considered. [1]  The first is 0.
    gross_weights : tuple of float
        Their weights; sum 1.
    gross_factor : float
        SD of a gross error over that of a good tube. [1]  Above 1.

    Notes
    -----
    The law of the variance of "constant plus proportional" is c^2 (q 300^2 + (1 - q) FN^2); q has density
    1.5 - q, so that a constant part is possible at any size and a large one is less expected. All of this is
    a choice of ours (derived): weights and density were chosen so that the cover of 90 % intervals stays near
    90 % over q from 0 to 0.8 and 30 to 400 pairs; simulation judges it.
    """

    cv: float = DEFAULT_CV
    log_sd: float = math.log(PUBLISHED_CV_RANGE[1] / DEFAULT_CV)
    law_weights: tuple[float, float, float, float] = (0.50, 0.23, 0.23, 0.04)
    interval_weights: tuple[float, float, float, float] = (0.30, 0.46, 0.23, 0.01)
    gross_shares: tuple[float, ...] = (0.0, 0.02, 0.08)
    gross_weights: tuple[float, ...] = (0.94, 0.05, 0.01)
    gross_factor: float = 4.0

    def __post_init__(self) -> None:
        if not 0.0005 <= self.cv <= 0.25:
            raise OutOfRange("cv", self.cv, 0.0005, 0.25, "1")
        if not self.log_sd > 0.0:
            raise OutOfRange("log_sd", self.log_sd, 0.0, math.inf, "1")
        for name in ("law_weights", "interval_weights", "gross_weights"):
            weights: tuple[float, ...] = getattr(self, name)
            if min(weights) < 0.0 or abs(sum(weights) - 1.0) > 1e-9:
                raise OutOfRange(f"sum of {name}", sum(weights), 1.0, 1.0, "1")

    def after(self, n: int) -> ScatterPrior:
        """Return the prior as it counts beside ``n`` pairs: the same centre, wider.

        Examples
        --------
        >>> DEFAULT_PRIOR.after(0) == DEFAULT_PRIOR
        True
        >>> round((DEFAULT_PRIOR.after(20).log_sd / DEFAULT_PRIOR.log_sd) ** 2, 6)
        2.0
        """
        return replace(self, log_sd=self.log_sd * math.sqrt(1.0 + n / _HALVED_AFTER))


DEFAULT_PRIOR: Final = ScatterPrior()
