"""The tables, typed, by what they keep."""

from __future__ import annotations

from lodestarch.records.tables.base import Base, Kept
from lodestarch.records.tables.bench import Answer, Lowering, PageEntry, PortionWeighed, Setting
from lodestarch.records.tables.control import CheckCause, UpkeepDone, UpkeepInterval
from lodestarch.records.tables.day import (
    Day,
    DayFinding,
    Reading,
    RefusedRow,
    Relisted,
    Result,
    SheetSample,
)
from lodestarch.records.tables.equipment import Equipment, EquipmentCheck, ShiftCheck
from lodestarch.records.tables.grain import Bin, BinLayer, Cargo, Load, Lot, Movement, Sublot
from lodestarch.records.tables.issued import Attachment, AttachmentBytes, Document, Release, ReleaseCopy
from lodestarch.records.tables.log import Event, Head, Site
from lodestarch.records.tables.offers import TermsVersion, ToldPrice
from lodestarch.records.tables.office import (
    CheckMaterial,
    CheckRun,
    FeeCode,
    FeeItem,
    Plan,
    RingResult,
    RingTest,
    Terms,
)
from lodestarch.records.tables.outside import OUTSIDE, Draft, HeldPackage, LoginDelay, Session
from lodestarch.records.tables.outward import ApiToken, CustodyStep, HeardLine
from lodestarch.records.tables.people import Party, Person, Personal
from lodestarch.records.tables.profiles import ProfileVersion, SignOff
from lodestarch.records.tables.retests import Retest
from lodestarch.records.tables.samples import (
    Moisture,
    Preparation,
    RetainedSample,
    RetainedUse,
    RetentionRule,
    Sample,
    SampleParent,
    SentResult,
    SentSample,
)

KEPT: tuple[type[Kept], ...] = (
    Person, Party, ProfileVersion, SignOff, Equipment, EquipmentCheck, ShiftCheck, Day, Sample, SampleParent,
    Preparation, Moisture, RetentionRule, RetainedSample, RetainedUse, Terms, Bin, Load, BinLayer, Lot, Cargo,
    Sublot, Movement, Release, Document, ReleaseCopy, SentSample, SentResult, Plan, CheckMaterial, CheckRun,
    RingTest, RingResult, FeeCode, FeeItem, Attachment, PortionWeighed, Lowering, Answer, PageEntry, Setting,
    ApiToken, CustodyStep, HeardLine, UpkeepDone, UpkeepInterval, CheckCause,
    Retest, TermsVersion, ToldPrice,
)  # fmt: skip
"""Every kind of kept row, each after those that it refers to."""

__all__ = [
    "KEPT",
    "OUTSIDE",
    "Answer",
    "ApiToken",
    "Attachment",
    "AttachmentBytes",
    "Base",
    "Bin",
    "BinLayer",
    "Cargo",
    "CheckCause",
    "CheckMaterial",
    "CheckRun",
    "CustodyStep",
    "Day",
    "DayFinding",
    "Document",
    "Draft",
    "Equipment",
    "EquipmentCheck",
    "Event",
    "FeeCode",
    "FeeItem",
    "Head",
    "HeardLine",
    "HeldPackage",
    "Kept",
    "Load",
    "LoginDelay",
    "Lot",
    "Lowering",
    "Moisture",
    "Movement",
    "PageEntry",
    "Party",
    "Person",
    "Personal",
    "Plan",
    "PortionWeighed",
    "Preparation",
    "ProfileVersion",
    "Reading",
    "RefusedRow",
    "Release",
    "ReleaseCopy",
    "Relisted",
    "Result",
    "RetainedSample",
    "RetainedUse",
    "RetentionRule",
    "Retest",
    "RingResult",
    "RingTest",
    "Sample",
    "SampleParent",
    "SentResult",
    "SentSample",
    "Session",
    "Setting",
    "SheetSample",
    "ShiftCheck",
    "SignOff",
    "Site",
    "Sublot",
    "Terms",
    "TermsVersion",
    "ToldPrice",
    "UpkeepDone",
    "UpkeepInterval",
]
