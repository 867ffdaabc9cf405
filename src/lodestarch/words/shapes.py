"""What pages and papers need to know of a day, without importing the room that makes it.

``work`` gives a value with more on it; whatever has these attributes fits, and the type checker holds the
two together where the value is handed over.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Protocol

import polars as pl

from lodestarch.common.findings import Finding
from lodestarch.method.day_counts import DayCounts
from lodestarch.method.profile import Profile
from lodestarch.method.scatter import ScatterLaw
from lodestarch.plan.bin_state import BinState
from lodestarch.words.limits import LimitShape

__all__ = ["DayShape", "RefusedShape", "SheetShape"]


class SheetShape(Protocol):
    """What became of the rows of one sheet."""

    @property
    def name(self) -> str:
        """File name."""
        ...

    @property
    def sha256(self) -> str:
        """Digest of its bytes."""
        ...

    @property
    def rows(self) -> int:
        """Data rows met."""
        ...

    @property
    def taken(self) -> int:
        """Rows taken."""
        ...

    @property
    def taken_with_finding(self) -> int:
        """Rows taken that carry a finding."""
        ...

    @property
    def refused(self) -> int:
        """Rows not taken."""
        ...

    @property
    def already_known(self) -> int:
        """Rows read before, unchanged."""
        ...

    @property
    def changed_since(self) -> int:
        """Rows read before with other contents."""
        ...


class RefusedShape(Protocol):
    """A row that could not be taken."""

    @property
    def row(self) -> int:
        """Line in its sheet."""
        ...

    @property
    def text(self) -> str:
        """The row as read."""
        ...

    @property
    def code(self) -> str:
        """Code of its finding."""
        ...


class DayShape(Protocol):
    """Everything that one bench sheet comes to; frames in ``method.table``."""

    @property
    def day_id(self) -> str:
        """Name of the day in addresses."""
        ...

    @property
    def title(self) -> str:
        """Its title."""
        ...

    @property
    def read_at(self) -> datetime:
        """When the sheet was read."""
        ...

    @property
    def demonstration(self) -> bool:
        """Invented data."""
        ...

    @property
    def sheet(self) -> SheetShape:
        """The bench sheet."""
        ...

    @property
    def sample_sheet(self) -> SheetShape | None:
        """The sample sheet, where there is one."""
        ...

    @property
    def profiles(self) -> Sequence[Profile]:
        """Profiles that results refer to."""
        ...

    @property
    def scatter(self) -> ScatterLaw:
        """Law of one tube's scatter."""
        ...

    @property
    def readings(self) -> pl.DataFrame:
        """In ``JUDGED``."""
        ...

    @property
    def results(self) -> pl.DataFrame:
        """In ``RESULTS``."""
        ...

    @property
    def samples(self) -> pl.DataFrame:
        """In ``SAMPLES``."""
        ...

    @property
    def refused(self) -> Sequence[RefusedShape]:
        """Rows not taken."""
        ...

    @property
    def findings(self) -> Sequence[Finding]:
        """In order of severity, then row."""
        ...

    @property
    def counts(self) -> DayCounts:
        """The day in figures."""
        ...

    @property
    def limits(self) -> Sequence[LimitShape]:
        """Buyers' floors and windows."""
        ...

    @property
    def bins(self) -> Sequence[BinState]:
        """Bins as the day leaves them."""
        ...
