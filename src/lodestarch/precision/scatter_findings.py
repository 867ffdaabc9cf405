"""What is met in duplicate pairs before anything is fitted to them."""

from __future__ import annotations

from typing import Final

import numpy as np

from lodestarch.common.findings import Finding, Severity
from lodestarch.method.reading import Kind
from lodestarch.precision.pairs import Pairs

__all__ = ["ENOUGH_PAIRS", "pair_findings"]

ENOUGH_PAIRS: Final = 20
"""Pairs from which the stated 95 % interval is held to cover 93 to 97 % (measured by simulation)."""

_NARROW: Final = 1.5
"""Ratio of the 95th to the 5th percentile of level below which laws cannot be told apart (derived: at
50 pairs the slope of ln SD on ln FN then has a standard error near 1)."""


def pair_findings(pairs: Pairs, informative: int) -> tuple[Finding, ...]:
    """Return findings on a set of pairs as a whole.

    Parameters
    ----------
    pairs : Pairs
    informative : int
        Pairs with at least one exact reading.

    Returns
    -------
    tuple of Finding
        ``pairs-none``, ``pairs-all-at-bound``, ``pairs-few``, ``pairs-all-equal``, ``pairs-narrow-levels``.
    """
    if pairs.n == 0:
        return (Finding("pairs-none", severity=Severity.CHECK, values={"given": pairs.given}),)
    if informative == 0:
        code = (
            "pairs-all-at-floor"
            if bool(np.all(pairs.first_kind == Kind.AT_OR_BELOW))
            else "pairs-all-at-bound"
        )
        return (Finding(code, severity=Severity.CHECK, values={"pairs": pairs.n}),)
    out = []
    if informative < ENOUGH_PAIRS:
        out.append(
            Finding(
                "pairs-few", severity=Severity.NOTE, values={"pairs": informative, "enough": ENOUGH_PAIRS}
            )
        )
    exact = pairs.exact
    n_exact = int(exact.sum())
    if n_exact > 2 and not bool(np.any(pairs.gap_s[exact] > 0.0)):
        out.append(Finding("pairs-all-equal", severity=Severity.CHECK, values={"pairs": n_exact}))
    level = pairs.level_s[exact]
    if n_exact >= ENOUGH_PAIRS:
        low, high = np.quantile(level, [0.05, 0.95])
        if high < _NARROW * low:
            values = {"low_s": float(low), "high_s": float(high)}
            out.append(Finding("pairs-narrow-levels", severity=Severity.NOTE, values=values))
    return tuple(out)
