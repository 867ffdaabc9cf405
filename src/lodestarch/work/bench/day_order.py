"""What to make a day from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from lodestarch.control.bench_rules import CheckMaterial
from lodestarch.plan.advice import Costs

__all__ = ["DayFile", "DayOrder"]


@dataclass(frozen=True, slots=True)
class DayFile:
    """A file as it was handed over."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True)
class DayOrder:
    """What to make a day from.

    Parameters
    ----------
    sheet : DayFile
        Bench sheet.
    samples, terms : DayFile or None
        Sample sheet, terms.
    mapping : DayFile or None
        Header names of the sheets beside ours, TOML.
    checks : DayFile or None
        Check materials with their assigned values, TOML.
    profile : str or None
        For rows that name none; ``id`` or ``id@version``.
    elevation_m : float or None
        Of the lab. [m]
    pressure_is_station : bool
        Somebody has said that the pressures on the sheet are station pressures.
    title : str or None
        Otherwise the sheet's name.
    demonstration : bool
        Invented data; every paper says so.
    materials : tuple of CheckMaterial
        Check materials with their assigned values.
    grades : DayFile or None
        Other factors of the samples, for their prices.
    costs : Costs
        What one more pair and keeping cost, for the advice.
    duplicates : DayFile or None
        Earlier duplicate pairs of this bench, beside those in the records.
    check_causes : mapping of str to str
        Cause by check sample that was off; it lifts what that check holds.
    take_changes : str or None
        The reason for which rows that say something else than before take the place of what is kept.
    """

    sheet: DayFile
    samples: DayFile | None = None
    terms: DayFile | None = None
    mapping: DayFile | None = None
    checks: DayFile | None = None
    profile: str | None = None
    elevation_m: float | None = None
    pressure_is_station: bool = False
    title: str | None = None
    demonstration: bool = False
    materials: tuple[CheckMaterial, ...] = ()
    take_changes: str | None = None
    grades: DayFile | None = None
    costs: Costs = field(default_factory=Costs)
    duplicates: DayFile | None = None
    check_causes: Mapping[str, str] = field(default_factory=dict)
