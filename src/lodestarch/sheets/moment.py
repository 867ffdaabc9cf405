"""Dates and times: ISO 8601 only, and clock time kept as it was written.

``2026-08-14``, ``2026-08-14 09:30``, ``2026-08-14T09:30:15``, each with fractions of a second and a zone
(``Z``, ``+02:00``) if wanted. Whatever could be read in two ways (03/04/2026) is a finding and never
guessed. A zone does not move the clock time: the frame holds the time that the bench's clock showed, the
text of the row keeps the zone, and the sheet says so in a finding.
"""

from __future__ import annotations

import re
from contextlib import suppress
from datetime import datetime
from typing import Final

import polars as pl

from lodestarch.sheets.cells import Trouble, at, put

__all__ = ["FIRST_YEAR", "LAST_YEAR", "read_dates", "read_moments"]

FIRST_YEAR: Final = 1900
LAST_YEAR: Final = 2199
"""Years outside are slips of the keyboard (common practice)."""

_FORMATS: Final = {10: "%Y-%m-%d", 16: "%Y-%m-%dT%H:%M", 19: "%Y-%m-%dT%H:%M:%S"}
_SHAPE: Final = r"^[0-9]{4}-[0-9][0-9]-[0-9][0-9](?:[T ][0-9][0-9]:[0-9][0-9](?::[0-9][0-9])?)?$"
_ZONE: Final = re.compile(r"\s?(Z|z|[+-][0-9][0-9](?::?[0-9][0-9])?)$")
_TIMED: Final = re.compile(r"^[0-9]{4}-[0-9][0-9]-[0-9][0-9][T ][0-9][0-9]:[0-9][0-9]")
_ISO: Final = re.compile(
    r"^[0-9]{4}-[0-9][0-9]-[0-9][0-9](?:[T ][0-9][0-9]:[0-9][0-9](?::[0-9][0-9](?:[.,][0-9]{1,9})?)?)?$"
)
_ZONED: Final = f"^({_TIMED.pattern.removeprefix('^')}[0-9:.,]*){_ZONE.pattern}"
_THREE_PARTS: Final = re.compile(r"^([0-9]{1,4})[./\-\s]([0-9]{1,2})[./\-\s]([0-9]{1,4})\b")


def read_moments(texts: pl.Series) -> tuple[pl.Series, list[Trouble], tuple[str, ...]]:
    """Read a column of moments.

    Parameters
    ----------
    texts : polars.Series
        Stripped text, empty being null.

    Returns
    -------
    values : polars.Series
        ``Datetime("us")`` without a zone: the clock time as written; midnight for a bare date.
    troubles : list of Trouble
    zones : tuple of str
        Zones met, in alphabetical order, with "" where other times stood without one; empty where all did.

    Examples
    --------
    >>> values, troubles, zones = read_moments(pl.Series(["2026-08-14 09:30+02:00", "03/04/2026"]))
    >>> values.to_list()[0], troubles[0].code, zones
    (datetime.datetime(2026, 8, 14, 9, 30), 'field-date-ambiguous', ('+02:00',))
    """
    shaped = texts.str.contains(_SHAPE)
    clock: pl.Series = texts
    zones: tuple[str, ...] = ()
    if not shaped.all():
        clock, zones = _without_zones(texts)
        shaped = clock.str.contains(_SHAPE)
    values = put(_of_shape(clock, shaped), _fractions(clock, ~shaped))
    legal = values.dt.year().is_between(FIRST_YEAR, LAST_YEAR)
    values = pl.select(pl.when(legal).then(values)).to_series()
    bad = at(values.is_null() & texts.is_not_null(), texts)
    return values, [Trouble(i, _why(text), {"value": text}) for i, text in bad], zones


def read_dates(texts: pl.Series) -> tuple[pl.Series, list[Trouble], tuple[str, ...]]:
    """Read a column of dates; of a moment its date is taken."""
    values, troubles, zones = read_moments(texts)
    return values.dt.date(), troubles, zones


def _of_shape(texts: pl.Series, shaped: pl.Series) -> pl.Series:
    """Moments of the three common shapes, which their lengths tell apart."""
    length = texts.str.len_bytes()
    met = [n for n in _FORMATS if (length == n).any()]
    plain = (
        texts.str.replace(" ", "T", literal=True) if texts.str.contains(" ", literal=True).any() else texts
    )
    read = [
        pl.when(shaped & (length == n)).then(plain).str.to_datetime(_FORMATS[n], time_unit="us", strict=False)
        for n in met
    ]
    if not read:
        return pl.Series([None], dtype=pl.Datetime("us")).new_from_index(0, len(texts))
    return pl.select(pl.coalesce(read)).to_series()


def _without_zones(texts: pl.Series) -> tuple[pl.Series, tuple[str, ...]]:
    """Clock times as written, and the zones that stood behind them; "" where some stood without."""
    zone = texts.str.extract(_ZONED, 2)
    zones = set(zone.drop_nulls().str.to_uppercase().unique().to_list())
    if not zones:
        return texts, ()
    zoned = zone.is_not_null()
    if (texts.str.contains(_TIMED.pattern) & ~zoned).any():
        zones.add("")
    clock = pl.select(pl.when(zoned).then(texts.str.extract(_ZONED, 1)).otherwise(texts)).to_series()
    return clock, tuple(sorted(zones))


def _fractions(clock: pl.Series, others: pl.Series) -> dict[int, datetime]:
    """Moments with fractions of a second, by place."""
    moments: dict[int, datetime] = {}
    for i, text in at(others, clock):
        if _ISO.match(text):
            with suppress(ValueError):  # what is not in the calendar stays out and becomes a finding
                moments[i] = datetime.fromisoformat(text.replace(",", "."))
    return moments


def _why(text: str) -> str:
    if _ISO.match(_ZONE.sub("", text) if _TIMED.match(text) else text):
        return "field-date-impossible"
    parts = _THREE_PARTS.match(text)
    if parts is None or len(parts[1]) == 4:
        return "field-date-not-iso"
    day, month = int(parts[1]), int(parts[2])
    return "field-date-ambiguous" if day <= 12 and month <= 12 and day != month else "field-date-not-iso"
