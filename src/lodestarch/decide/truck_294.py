"""The published reading of 294 s, with the one derivation that gives it and its conditions.

Published: a composite at or below 294 s fails to reach 300 s on probing again at the same facility more than
95 times in 100 (Delwiche and Vinyard 2017, Cereal Chemistry 94(3):480-484, abstract). The authors' derivation
was not found; the one below is ours and is named as such wherever the number is shown.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from scipy.special import ndtri

from lodestarch.common.errors import OutOfRange

__all__ = ["LIMIT_S", "PROBES", "PROBE_VAR_S2", "PUBLISHED_S", "WANTED", "Reading294", "reading_294"]

PUBLISHED_S: Final = 294.0
"""The level as published. [s]  Published: Delwiche and Vinyard 2017, abstract."""

PROBE_VAR_S2: Final = 100.0
"""Variance among probings of one truck, sampling and method; "typically below". [s2]  Published, same."""

PROBES: Final = 7
"""Probings of one truck in the official protocol as used there. [1]  Published: same authors, meeting
abstract, 2016."""

LIMIT_S: Final = 300.0
"""Limit of the statement. [s]  Published, same."""

WANTED: Final = 0.95
"""How often it fails. [1]  Published, same."""


@dataclass(frozen=True, slots=True)
class Reading294:
    """A level at or below which a second probing fails as often as wanted.

    Parameters
    ----------
    level_s : float
        [s]
    composite_sd_s : float
        Of the mean of all probings. [s]
    difference_sd_s : float
        Of second minus first, as it is taken. [s]
    first_is_true : bool
        The first result was taken as the true value.
    """

    level_s: float
    composite_sd_s: float
    difference_sd_s: float
    first_is_true: bool


def reading_294(
    *, first_is_true: bool = True, probe_var_s2: float = PROBE_VAR_S2, probes: int = PROBES,
    limit_s: float = LIMIT_S, wanted: float = WANTED,
) -> Reading294:  # fmt: skip
    """Derive the level.

    Parameters
    ----------
    first_is_true : bool
        Take the first result as the true value; this alone reproduces the published number. Otherwise the
        first is as uncertain as the second.
    probe_var_s2, probes : float, int
        Variance of one probing [s2], probings in a composite.
    limit_s, wanted : float
        [s, 1]

    Notes
    -----
    L - z_p sqrt(V/n) taken as true, L - z_p sqrt(2 V/n) otherwise. Neither contains a part between days or
    between labs.

    Examples
    --------
    >>> round(reading_294().level_s, 1), round(reading_294(first_is_true=False).level_s, 1)
    (293.8, 291.2)
    """
    if not (probe_var_s2 > 0.0 and math.isfinite(probe_var_s2)):
        raise OutOfRange("probe_var_s2", probe_var_s2, 0.0, math.inf, "s2")
    if probes < 1:
        raise OutOfRange("probes", probes, 1, math.inf, "1")
    if not 0.5 < wanted < 1.0:
        raise OutOfRange("wanted", wanted, 0.5, 1.0, "1")
    composite = math.sqrt(probe_var_s2 / probes)
    difference = composite if first_is_true else composite * math.sqrt(2.0)
    return Reading294(limit_s - float(ndtri(wanted)) * difference, composite, difference, first_is_true)
