"""The lab's own law of scatter at the bench: fitted as for a sheet, and again only when there are new pairs.

Pairs of the day in work count from the next day on, as those of a sheet count from the next sheet on: so the
u of a result does not depend on which samples were read after it.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock
from typing import Final

import polars as pl

from lodestarch.control.check_outcomes import check_outcomes
from lodestarch.control.own_laws import laws_by_profile
from lodestarch.control.own_pairs import OWN_PAIRS, own_pairs
from lodestarch.control.own_precision import OwnPrecision, own_precision
from lodestarch.method.profile import Profile
from lodestarch.method.scatter import ScatterLaw
from lodestarch.method.table import empty
from lodestarch.records.tables import Day
from lodestarch.records.unit import View
from lodestarch.work.bench.bench_day_kind import is_bench_day
from lodestarch.work.bench.earlier import earlier_days
from lodestarch.work.keeping.profiles import ProfileBook
from lodestarch.work.quality.control_records import known_materials

__all__ = ["BenchLaw", "law_of_bench"]

_AT_HAND: Final = 8
"""Laws kept at hand: one for each set of records that is open, and for each profile in turn."""

_Key = tuple[object, ...]
_fitted: OrderedDict[_Key, BenchLaw] = OrderedDict()
_lock = Lock()


@dataclass(frozen=True, slots=True)
class BenchLaw:
    """What results at the bench are judged with."""

    own: OwnPrecision
    laws: dict[str, ScatterLaw]
    """By ``Profile.name``, for every profile that can be named."""


def law_of_bench(view: View, profile: Profile, book: ProfileBook) -> BenchLaw:
    """Return the lab's own law for the bench, from earlier days.

    Parameters
    ----------
    view : View
    profile : Profile
        The one that the bench works by.
    book : ProfileBook
    """
    materials = known_materials(view)
    newest = tuple((d.key, d.version, d.fingerprint) for d in view.latest(Day, "day_no", 3))
    key = (
        tuple(view.entries(1, 1)), newest, profile.name, tuple(m.material_id for m in materials),
        tuple(book.versions),
    )  # fmt: skip
    with _lock:
        kept = _fitted.get(key)
    if kept is None:
        kept = _fit(view, profile, book)
        with _lock:
            _fitted[key] = kept
            while len(_fitted) > _AT_HAND:
                _fitted.popitem(last=False)
    return kept


def _fit(view: View, profile: Profile, book: ProfileBook) -> BenchLaw:
    days = view.list_days()
    in_work = next((d.day_id for d in days if is_bench_day(d.summary)), None)
    sheets = [d for d in days if d.inputs]
    # Records of invented days alone are read as a whole; otherwise invented days say nothing of this bench.
    invented = bool(sheets) and all(d.demonstration for d in sheets)
    earlier = earlier_days(view, (), demonstration=None if invented else False, in_work=in_work)
    pairs = own_pairs(earlier.readings, earlier.results, floor_s=profile.constants.floor_s)
    same = earlier.results.filter(pl.col("comparable_key") == profile.comparable_key)
    checks = check_outcomes(same, earlier.samples, known_materials(view))
    own = own_precision(pairs, empty(OWN_PAIRS), checks, method=profile.comparable_key)
    return BenchLaw(own, laws_by_profile(pairs, tuple(book.versions.values()), profile, own))
