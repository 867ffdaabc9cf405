"""A law of scatter for each profile of a day, from the pairs that were made by its method."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from lodestarch.control.own_pairs import of_method, pairs_of
from lodestarch.control.own_precision import OwnPrecision
from lodestarch.method.profile import Profile
from lodestarch.method.scatter import DEFAULT_SCATTER, ScatterLaw
from lodestarch.precision.scatter_fit import fit_pairs

__all__ = ["laws_by_profile"]


def laws_by_profile(
    kept: pl.DataFrame, profiles: Sequence[Profile], default: Profile, own: OwnPrecision
) -> dict[str, ScatterLaw]:
    """Fit one law a method.

    Parameters
    ----------
    kept : polars.DataFrame
        Earlier pairs, in ``control.own_pairs.KEPT_PAIRS``.
    profiles : sequence of Profile
        Those under which readings may be judged.
    default : Profile
        The one that ``own`` speaks of; profiles that are comparable with it share its law.
    own : OwnPrecision

    Returns
    -------
    dict of str to ScatterLaw
        By ``Profile.name``. A method without pairs of its own has the stated default: the pairs of another
        one are not lent to it.
    """
    by_method = {default.comparable_key: own.law}
    for profile in profiles:
        key = profile.comparable_key
        if key not in by_method:
            mine, _ = of_method(kept, key)
            fit = fit_pairs(pairs_of(mine)) if mine.height else None
            by_method[key] = DEFAULT_SCATTER if fit is None or fit.used == 0 else fit.law
    return {p.name: by_method[p.comparable_key] for p in (*profiles, default)}
