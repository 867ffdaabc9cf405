"""Choices of the lab for its bench: the profile, the names of the baths, the limits that are read out."""

from __future__ import annotations

import json
from typing import Final

from lodestarch.common.canonical import Json, canonical_text
from lodestarch.common.errors import UnknownName
from lodestarch.method.profile import Profile
from lodestarch.records.tables import Equipment, Setting
from lodestarch.records.unit import Unit, View
from lodestarch.trade.limits import Limit
from lodestarch.work.keeping.profiles import ProfileBook

__all__ = ["BATHS", "LIMITS", "PROFILE", "baths_of", "choose", "limits_read_out", "profile_of_bench"]

PROFILE: Final = "bench-profile"
BATHS: Final = "bench-baths"
LIMITS: Final = "bench-limits"

_USUAL_BATHS: Final = ("A", "B")


def _value(view: View, key: str) -> Json:
    row = view.get(Setting, key)
    return None if row is None else json.loads(row.value)


def choose(unit: Unit, key: str, value: Json) -> None:
    """Keep a choice; the same again changes nothing."""
    row, text = unit.get(Setting, key), canonical_text(value)
    if row is None:
        unit.add(Setting(key=key, value=text))
    elif row.value != text:
        unit.edit(Setting(key=key, value=text), made_from=row.version)


def profile_of_bench(view: View, book: ProfileBook) -> Profile:
    """The profile that the bench works by; the default where nobody chose one, or it is gone."""
    chosen = _value(view, PROFILE)
    try:
        return book.named(chosen if isinstance(chosen, str) else None)
    except UnknownName:
        return book.named(None)


def baths_of(view: View) -> tuple[str, ...]:
    """Names of the baths: as chosen, else those among the equipment, else A and B."""
    chosen = _value(view, BATHS)
    if isinstance(chosen, list) and chosen:
        return tuple(str(name) for name in chosen)
    kept = tuple(e.key for e in view.all(Equipment, kind="bath") if e.replaced_on is None)
    return kept or _USUAL_BATHS


def limits_read_out(view: View) -> tuple[Limit, ...]:
    """Limits that stand beside a result when it is read out, in the order chosen."""
    chosen = _value(view, LIMITS)
    if not isinstance(chosen, list):
        return ()
    return tuple(
        Limit(str(one["name"]), str(one["name"]), _bound(one, "at_least_s"), _bound(one, "at_most_s"), "")
        for one in chosen
        if isinstance(one, dict)
    )


def _bound(one: dict[str, Json], key: str) -> float | None:
    value = one.get(key)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
