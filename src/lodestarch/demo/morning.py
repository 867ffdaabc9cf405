"""The invented morning after: a check sample fails, and what it holds back to the last good check.

The sheet is handed in twice, as a bench does: first with the early runs, of which one result goes out by
phone, then whole. On the second hand-in bath A's check sample is off.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, replace
from datetime import datetime
from importlib.resources import files
from typing import Final

from lodestarch import demo
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import RetainedSample, Sample
from lodestarch.work.bench.day import run_day
from lodestarch.work.bench.day_order import DayFile, DayOrder
from lodestarch.work.bench.outcome import DayOutcome
from lodestarch.work.quality.fit_growth import FitStep, fit_growth

__all__ = ["MORNING_TITLE", "Morning", "earlier_pairs", "growth", "morning_order", "run_morning"]

MORNING_TITLE: Final = "The morning after, 22 August 2024 (invented)"
PAIRS_NAME: Final = "pairs.csv"
STEPS: Final = (20, 200)
"""After how many of the earlier pairs the fit is shown."""
GONE_OUT: Final = "8902"
"""The result that was read out on the phone before the check sample failed."""
_EARLY_RUNS: Final = ("A-01", "B-01", "A-02", "B-02")
_PLACE: Final = "shelf 2, box {box}"


def _bytes(name: str) -> bytes:
    return files("lodestarch.demo").joinpath("morning", name).read_bytes()


def earlier_pairs() -> bytes:
    """Two hundred earlier duplicate pairs of the invented bench, made from a stated law."""
    return _bytes(PAIRS_NAME)


def growth() -> tuple[FitStep, ...]:
    """The fit after twenty of them and after all."""
    return fit_growth(earlier_pairs(), PAIRS_NAME, STEPS).steps


def morning_order() -> DayOrder:
    """The order of the invented morning, whole."""
    return DayOrder(
        sheet=DayFile(demo.BENCH_NAME, _bytes("bench.csv")),
        samples=DayFile(demo.SAMPLES_NAME, _bytes("samples.csv")),
        profile=demo.PROFILE_ID,
        elevation_m=demo.ELEVATION_M,
        pressure_is_station=True,
        title=MORNING_TITLE,
        demonstration=True,
        materials=demo.check_materials(),
        duplicates=DayFile(PAIRS_NAME, earlier_pairs()),
    )


@dataclass(frozen=True, slots=True)
class Morning:
    """Both hand-ins: the early runs, and the whole morning with the failed check."""

    early: DayOutcome
    whole: DayOutcome


def run_morning(records: Records, *, person: str, at: datetime) -> Morning:
    """Run the invented morning into records.

    Parameters
    ----------
    records : Records
    person : str
    at : datetime
        When, with time zone.
    """
    order = morning_order()
    first = replace(order, sheet=DayFile(order.sheet.name, _early(order.sheet.data)))
    early = run_day(first, records=records, person=person, at=at)
    _keep_and_answer(records, early, person, at)
    return Morning(early, run_day(order, records=records, person=person, at=at))


def _early(sheet: bytes) -> bytes:
    """The rows of the early runs, with the header."""
    rows = list(csv.reader(io.StringIO(sheet.decode())))
    at = rows[0].index("run")
    out = io.StringIO()
    csv.writer(out).writerows([rows[0], *(r for r in rows[1:] if r[at] in _EARLY_RUNS)])
    return out.getvalue().encode()


def _keep_and_answer(records: Records, early: DayOutcome, person: str, at: datetime) -> None:
    """Retain what is left of each load, and read one result out on the phone."""
    loads = [r for r in early.samples.iter_rows(named=True) if r["kind"] == "load"]
    with records.unit(person, at) as unit:
        whose: dict[str, str] = {}
        for box, row in enumerate(loads, 1):
            name = row["grower"]
            if name not in whose:
                whose[name] = unit.add_party(name, "grower")
            unit.add(
                Sample(
                    key=row["sample"], ticket=row["ticket"], kind="load", received_at=utc_text(at),
                    whose=whose[name], material=row["material"],
                )
            )  # fmt: skip
            unit.flush()
            unit.add(
                RetainedSample(
                    key=f"m{box}", sample=row["sample"], mass_g=700.0, place=_PLACE.format(box=box),
                    retained_at=utc_text(at),
                )
            )  # fmt: skip
            unit.flush()
        gone = next(row for row in loads if row["sample"] == GONE_OUT)
        release = unit.release(GONE_OUT, by_rule=True)
        unit.tell(release, "phone", party=whose[gone["grower"]])
