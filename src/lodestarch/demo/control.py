"""The invented bench's control: its check materials, what was done between the mornings, the list ticked."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from lodestarch import demo
from lodestarch.common.canonical import Json, canonical_text
from lodestarch.common.provenance import Provenance
from lodestarch.control.upkeep_items import upkeep_item
from lodestarch.records.engine import Records
from lodestarch.records.tables import CheckMaterial, ShiftCheck, UpkeepDone

__all__ = ["SHIFT_BEGAN", "UPKEEP", "keep_control"]

_INVENTED: Final = Provenance.INVENTED.value
_FORMS: Final = {"CW-310": "whole grain", "CM-220": "meal"}
UPKEEP: Final = (
    ("bath-water", "2024-08-21T17:20", "A", "water changed, rim wiped"),
    ("bath-water", "2024-08-21T17:35", "B", "water changed"),
    ("mill-cleaned", "2024-08-21T17:50", "M1", ""),
    ("mill-cleaned", "2024-08-21T18:00", "M2", ""),
    ("stirrers", "2024-08-20T16:40", "", "two bent ones replaced"),
    ("tubes", "2024-07-02T15:10", "", "set looked through"),
)
"""Upkeep of the invented bench: item, when on the bench's clock, where, note. Invented."""
SHIFT_BEGAN: Final = "2024-08-22T06:2"
_TICKS: Final = (("bath-boil", None), ("station-pressure", 955.3), ("tubes-and-stirrers", None))
"""What was ticked at the start of the second morning, with its value [hPa]. Invented."""


def keep_control(records: Records, *, person: str, at: datetime) -> None:
    """Keep the invented bench's materials, upkeep and list.

    Parameters
    ----------
    records : Records
    person : str
    at : datetime
        When it is written, with time zone; what it says is of August 2024, on the bench's own clock.
    """
    with records.unit(person, at) as unit:
        for material in demo.check_materials():
            unit.add(
                CheckMaterial(
                    key=material.material_id, lot="2024/1 (invented)", form=_FORMS[material.material_id],
                    level_s=material.target_s, level_source="mean of twenty runs (invented)",
                    provenance=_INVENTED, u_s=material.u_s, expires_on="2024-12-31",
                )
            )  # fmt: skip
        for number, (item, done_at, place, note) in enumerate(UPKEEP, start=1):
            known = upkeep_item(item)
            unit.add(
                UpkeepDone(
                    key=f"u{number}", item=item, done_at=done_at, done_by=unit.person,
                    changes_results=known is not None and known.changes_results, place=place or None,
                    note=note or None,
                )
            )  # fmt: skip
        for number, (item, value) in enumerate(_TICKS, start=1):
            said: dict[str, Json] = {"item": item, "value": value, "held": True, "note": ""}
            unit.add(
                ShiftCheck(
                    key=f"s{number}", checked_at=f"{SHIFT_BEGAN}{number}", checked_by=unit.person,
                    items=canonical_text([said]), held=True,
                )
            )  # fmt: skip
