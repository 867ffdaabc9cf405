"""What a good bench looks at beyond the seconds: grinding, moisture, times, check samples.

Every rule is a function of frames that returns findings; a finding stands once, at its row, with the numbers
it rests on. :func:`bench_findings` runs them all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

import polars as pl

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.control.bench_pairs import constants_by_sample, tube_pairs
from lodestarch.control.carry_over import carry_over
from lodestarch.control.high_place import high_places
from lodestarch.control.swapped import swapped_tubes
from lodestarch.method.profile import Profile
from lodestarch.method.reading import Kind
from lodestarch.method.scatter import ScatterLaw

__all__ = [
    "CHECK_LIMIT_U",
    "CheckMaterial",
    "bench_findings",
    "check_samples",
    "ground_mass",
    "moisture_rules",
    "times",
    "with_times",
]

CHECK_LIMIT_U: Final = 3.0
"""How many standard uncertainties a check sample may lie from its target [1]. Common practice (action limit
of a control chart); about 3 in 1,000 good runs lie outside."""


@dataclass(frozen=True, slots=True)
class CheckMaterial:
    """A material of known value that is run to watch mill and bath.

    Parameters
    ----------
    material_id : str
        As the sample sheet writes it under ``material``; capitals do not matter.
    name : str
        In words.
    target_s : float
        Value assigned to it. [s]
    u_s : float
        Standard uncertainty of one result on it at this bench, that of the target included. [s]  Above 0.
    """

    material_id: str
    name: str
    target_s: float
    u_s: float


_Row = dict[str, Any]  # one row of a frame whose schema types it


def _where(row: _Row, source: str | None, field: str) -> Where:
    return Where(source=source, row=row["row"], field=field, ticket=row["ticket"], sample=row["sample"])


def _text(time: object) -> str | None:
    return time.isoformat(sep=" ", timespec="minutes") if isinstance(time, datetime) else None


def ground_mass(
    samples: pl.DataFrame, constants: pl.DataFrame, *, source: str | None = None
) -> tuple[Finding, ...]:
    """Find samples of which less was ground than the profile asks.

    Parameters
    ----------
    samples : polars.DataFrame
        In ``method.table.SAMPLES``.
    constants : polars.DataFrame
        From :func:`lodestarch.control.bench_pairs.constants_by_sample`.
    source : str or None
        Name of the sample sheet.

    Returns
    -------
    tuple of Finding
        ``ground-mass-low`` (check). A profile without a least ground mass has the rule off.
    """
    low = samples.join(constants, on="sample").filter(pl.col("ground_mass_g") < pl.col("least_ground_mass_g"))
    return tuple(
        Finding(
            "ground-mass-low",
            _where(r, source, "ground_mass_g"),
            Severity.CHECK,
            {"ground_mass_g": r["ground_mass_g"], "least_ground_mass_g": r["least_ground_mass_g"]},
        )
        for r in low.sort("row").iter_rows(named=True)
    )


def with_times(judged: pl.DataFrame, samples: pl.DataFrame, constants: pl.DataFrame) -> pl.DataFrame:
    """Samples with their profile's constants and the first and last run of each, in the order of the sheet.

    A time of exactly midnight is what a date alone becomes; it says nothing about hours and is left out.
    """
    runs = judged.group_by("sample").agg(
        pl.col("run_at").min().alias("first_run_at"), pl.col("run_at").max().alias("last_run_at")
    )
    frame = samples.join(constants, on="sample").join(runs, on="sample", how="left")
    times = ("ground_at", "moisture_at", "first_run_at", "last_run_at")
    return frame.with_columns(
        pl.when(pl.col(c).dt.time() != pl.time(0, 0, 0)).then(pl.col(c)).alias(c) for c in times
    ).sort("row")


def _hours(later: str, earlier: str) -> pl.Expr:
    return (pl.col(later) - pl.col(earlier)).dt.total_seconds() / 3600.0


def moisture_rules(timed: pl.DataFrame, *, source: str | None = None) -> tuple[Finding, ...]:
    """Find moistures that are not those of the meal as it was weighed.

    Parameters
    ----------
    timed : polars.DataFrame
        From :func:`with_times`.
    source : str or None
        Name of the sample sheet.

    Returns
    -------
    tuple of Finding
        ``moisture-on-grain``: measured on grain, the portion weighed from meal (grinding dries it).
        ``moisture-before-grinding``: said to be on meal, but older than the meal.
        ``moisture-old``: measured longer before the run than the profile lets meal wait. All *check*; none
        for portions weighed as is, which do not use the moisture.
    """
    frame = timed.filter(pl.col("portion_rule") != "as-is")
    found = [
        Finding(
            "moisture-on-grain",
            _where(r, source, "moisture_on"),
            Severity.CHECK,
            {"moisture_method": r["moisture_method"], "material_in_tube": r["material_in_tube"]},
        )
        for r in frame.filter(pl.col("moisture_on") == "grain").iter_rows(named=True)
    ]
    before = frame.filter(pl.col("moisture_on") == "meal", pl.col("moisture_at") < pl.col("ground_at"))
    found += [
        Finding(
            "moisture-before-grinding",
            _where(r, source, "moisture_at"),
            Severity.CHECK,
            {"moisture_at": _text(r["moisture_at"]), "ground_at": _text(r["ground_at"])},
        )
        for r in before.iter_rows(named=True)
    ]
    old = frame.with_columns(_hours("last_run_at", "moisture_at").alias("delay_h")).filter(
        pl.col("delay_h") > pl.col("longest_grind_delay_h")
    )
    found += [
        Finding("moisture-old", _where(r, source, "moisture_at"), Severity.CHECK, _delay(r, "moisture_at"))
        for r in old.iter_rows(named=True)
    ]
    return tuple(found)


def _delay(row: _Row, since: str) -> dict[str, Value]:
    return {
        since: _text(row[since]),
        "run_at": _text(row["last_run_at"]),
        "delay_h": round(row["delay_h"], 1),
        "longest_h": row["longest_grind_delay_h"],
    }


def times(timed: pl.DataFrame, *, source: str | None = None) -> tuple[Finding, ...]:
    """Find meal that waited too long, and runs that are said to lie before the grinding.

    Parameters
    ----------
    timed : polars.DataFrame
        From :func:`with_times`.
    source : str or None
        Name of the sample sheet.

    Returns
    -------
    tuple of Finding
        ``ground-long-before`` and ``run-before-grinding``, both *check*.
    """
    late = timed.with_columns(_hours("last_run_at", "ground_at").alias("delay_h")).filter(
        pl.col("delay_h") > pl.col("longest_grind_delay_h")
    )
    found = [
        Finding("ground-long-before", _where(r, source, "ground_at"), Severity.CHECK, _delay(r, "ground_at"))
        for r in late.iter_rows(named=True)
    ]
    found += [
        Finding(
            "run-before-grinding",
            _where(r, source, "ground_at"),
            Severity.CHECK,
            {"ground_at": _text(r["ground_at"]), "run_at": _text(r["first_run_at"])},
        )
        for r in timed.filter(pl.col("first_run_at") < pl.col("ground_at")).iter_rows(named=True)
    ]
    return tuple(found)


def check_samples(
    results: pl.DataFrame,
    samples: pl.DataFrame,
    materials: Sequence[CheckMaterial],
    *,
    source: str | None = None,
) -> tuple[Finding, ...]:
    """Hold check samples against their targets.

    Parameters
    ----------
    results : polars.DataFrame
        In ``method.table.RESULTS``.
    samples : polars.DataFrame
        In ``method.table.SAMPLES``; those of kind ``check``, joined to a material by ``material``.
    materials : sequence of CheckMaterial
        What the lab keeps.
    source : str or None
        Name of the sample sheet.

    Returns
    -------
    tuple of Finding
        ``check-sample-off`` (check) where a result lies outside target ± 3 u, or is a bound that excludes
        that band; ``check-sample-no-target`` (note) where the material is not known.
    """
    checks = samples.filter(pl.col("kind") == "check").join(
        results.select("sample", "seconds", pl.col("kind").alias("result_kind")), on="sample", how="left"
    )
    by_id = {m.material_id.casefold(): m for m in materials}
    found = []
    for r in checks.sort("row").iter_rows(named=True):
        material = by_id.get((r["material"] or "").strip().casefold())
        where = _where(r, source, "material")
        if material is None:
            values: dict[str, Value] = {"material": r["material"]}
            found.append(Finding("check-sample-no-target", where, Severity.NOTE, values))
            continue
        low = material.target_s - CHECK_LIMIT_U * material.u_s
        high = material.target_s + CHECK_LIMIT_U * material.u_s
        if r["seconds"] is None:
            continue
        kind = Kind(r["result_kind"])
        below = r["seconds"] < low and kind is not Kind.ABOVE
        above = r["seconds"] > high and kind is not Kind.AT_OR_BELOW
        if below or above:
            values = {
                "material": material.name,
                "seconds": r["seconds"],
                "kind": kind.name.lower().replace("_", "-"),
                "target_s": material.target_s,
                "u_s": material.u_s,
                "low_s": low,
                "high_s": high,
            }
            found.append(Finding("check-sample-off", where, Severity.CHECK, values))
    return tuple(found)


def bench_findings(
    judged: pl.DataFrame,
    results: pl.DataFrame,
    samples: pl.DataFrame,
    *,
    profiles: Sequence[Profile],
    scatter: ScatterLaw,
    materials: Sequence[CheckMaterial] = (),
    bench_source: str | None = None,
    sample_source: str | None = None,
) -> tuple[Finding, ...]:
    """Run every bench rule over one day.

    Parameters
    ----------
    judged, results, samples : polars.DataFrame
        In ``method.table.JUDGED``, ``RESULTS`` and ``SAMPLES``; samples may be empty.
    profiles : sequence of Profile
        Those that the results name.
    scatter : ScatterLaw
        What one tube's reading varies by.
    materials : sequence of CheckMaterial
        Check materials that the lab keeps.
    bench_source, sample_source : str or None
        Names of the sheets, for the findings' places.

    Returns
    -------
    tuple of Finding
        Codes as in :data:`lodestarch.control.codes_bench.CODES`.
    """
    constants = constants_by_sample(results, profiles)
    pairs = tube_pairs(judged, constants)
    timed = with_times(judged, samples, constants)
    return (
        *swapped_tubes(pairs, profiles, source=bench_source),
        *high_places(pairs, scatter, source=bench_source),
        *carry_over(results, samples, scatter, source=sample_source),
        *ground_mass(samples, constants, source=sample_source),
        *moisture_rules(timed, source=sample_source),
        *times(timed, source=sample_source),
        *check_samples(results, samples, materials, source=sample_source),
    )
