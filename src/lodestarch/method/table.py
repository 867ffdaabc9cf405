"""The columns in which readings, samples and results travel from room to room.

Rows are polars frames with exactly these columns and types, so that a day of 60 tubes and a harvest of
a million take the same way. ``sheets`` makes them, ``method`` and ``control`` read them, ``records``
keeps them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import polars as pl

from lodestarch.common.errors import LodestarchError

__all__ = ["JUDGED", "READINGS", "RESULTS", "SAMPLES", "conform", "empty"]

READINGS: Final[dict[str, pl.DataType]] = {
    "row": pl.Int64(),  # line in its sheet, the header being 1
    "sample": pl.String(),
    "ticket": pl.String(),
    "profile": pl.String(),  # id or id@version; null: the day's profile
    "run": pl.String(),  # never null: as typed, else the date of run_at, else "1"
    "bath": pl.String(),
    "position": pl.String(),  # never null: as typed, else the order within sample and run
    "tube_id": pl.String(),
    "stirrer_id": pl.String(),
    "seconds": pl.Float64(),  # as typed; its kind beside it
    "kind": pl.Int8(),  # method.reading.Kind
    "moisture_pct": pl.Float64(),
    "mass_g": pl.Float64(),
    "pressure_hpa": pl.Float64(),
    "corrected_by_instrument": pl.Boolean(),
    "analyst": pl.String(),
    "run_at": pl.Datetime("us"),
    "set_aside_cause": pl.String(),  # method.reading.Cause
    "position_stated": pl.Boolean(),
    "row_text": pl.String(),  # the row as read, fields joined by U+001F in the order of the sheet's columns
}
"""A row a tube, as a bench sheet holds it."""

SAMPLES: Final[dict[str, pl.DataType]] = {
    "row": pl.Int64(),
    "ticket": pl.String(),
    "sample": pl.String(),
    "kind": pl.String(),  # load, bin, composite, check, retest
    "material": pl.String(),
    "grower": pl.String(),
    "origin": pl.String(),
    "variety": pl.String(),
    "harvest_date": pl.Date(),
    "tonnes": pl.Float64(),
    "bin": pl.String(),
    "received_at": pl.Datetime("us"),
    "ground_mass_g": pl.Float64(),
    "mill_id": pl.String(),
    "ground_at": pl.Datetime("us"),
    "moisture_method": pl.String(),
    "moisture_on": pl.String(),  # grain or meal
    "moisture_at": pl.Datetime("us"),
    "row_text": pl.String(),
}
"""A row a sample, as a sample sheet holds it."""

JUDGED: Final[dict[str, pl.DataType]] = {
    **READINGS,
    "state": pl.Int8(),  # method.reading.State
    "state_code": pl.String(),  # finding code or cause that decided the state; null where it stands
    "portion_g": pl.Float64(),  # mass that the profile wants for this moisture; null where it cannot be told
}
"""A row a tube, judged."""

RESULTS: Final[dict[str, pl.DataType]] = {
    "sample": pl.String(),
    "ticket": pl.String(),
    "profile": pl.String(),  # id@version
    "status": pl.String(),  # method.judge.Status: none, screen, preliminary, held
    "kind": pl.Int8(),  # method.reading.Kind of the result
    "seconds": pl.Float64(),  # rounded as the profile says; the bound where kind is not exact
    "mean_s": pl.Float64(),  # before rounding
    "how": pl.String(),  # mean, median, single
    "tubes": pl.Int64(),  # readings that count
    "set_aside": pl.Int64(),
    "run_again": pl.Int64(),
    "tubes_stated": pl.Boolean(),  # false: one row without position, so the number of tubes is not known
    "spread_s": pl.Float64(),
    "limit_s": pl.Float64(),  # what the spread may be at this level and number of tubes
    "agreement": pl.String(),  # agrees, disagrees, not judged
    "u_s": pl.Float64(),  # null: not evaluated
    "ln": pl.Float64(),  # null where censored
    "ln_low": pl.Float64(),
    "ln_high": pl.Float64(),  # null: no upper bound
    "estimate_s": pl.Float64(),  # likelihood estimate for odds; null where all are censored or it is held
    "estimate_u_s": pl.Float64(),
    "moisture_pct": pl.Float64(),
    "pressure_hpa": pl.Float64(),
    "corrected_by_instrument": pl.Boolean(),  # null: not stated
    "correction": pl.String(),  # none, by instrument, mixed, not stated, or the name of a lab's correction
    "comparable_key": pl.String(),
    "first_row": pl.Int64(),
}
"""A row a sample: what its readings say."""


def empty(schema: Mapping[str, pl.DataType]) -> pl.DataFrame:
    """Return a frame without rows in a schema."""
    return pl.DataFrame(schema=dict(schema))


def conform(frame: pl.DataFrame, schema: Mapping[str, pl.DataType]) -> pl.DataFrame:
    """Return ``frame`` with exactly the columns and types of ``schema``; missing columns become null.

    Raises
    ------
    LodestarchError
        When the frame has a column that the schema does not know.
    """
    unknown = [c for c in frame.columns if c not in schema]
    if unknown:
        raise LodestarchError(f"columns not in the schema: {', '.join(unknown)}")
    return frame.select(
        pl.col(name).cast(dtype) if name in frame.columns else pl.lit(None, dtype=dtype).alias(name)
        for name, dtype in schema.items()
    )
