"""Everything that the page Bench control shows: the verdict, and beneath it what the chemist reads."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

import polars as pl

from lodestarch.common.findings import Finding
from lodestarch.control.bench_places import BlindReport, PlaceReport, bench_places, blind_reports
from lodestarch.control.check_charts import PairDrift, Promise, drifts, promises
from lodestarch.control.check_outcomes import check_outcomes
from lodestarch.control.duplicate_table import RuleLine, rule_table
from lodestarch.control.duplicates import LEVELS_S, DuplicateReport, read_duplicates
from lodestarch.control.own_pairs import of_method, own_pairs
from lodestarch.control.own_precision import OwnPrecision, own_precision
from lodestarch.method.judge import agreement_limit_s
from lodestarch.records.engine import Records
from lodestarch.records.tables import SampleParent
from lodestarch.records.unit import View
from lodestarch.work.bench.choices import profile_of_bench
from lodestarch.work.keeping.profiles import book_of
from lodestarch.work.quality.bench_now import BenchWatchNow, bench_watch_of
from lodestarch.work.quality.check_entries import BLIND
from lodestarch.work.quality.control_records import known_materials

__all__ = ["BenchControl", "DuplicatesNow", "bench_control"]

_RULE_AT_S: Final = 300.0
"""Level at which the rules for duplicates are compared. [s]"""
_SEED: Final = 300
_FEW_PAIRS: Final = 10
"""Pairs below which the law of scatter is mostly the default, and moves as that does. A setting of ours."""


@dataclass(frozen=True, slots=True)
class DuplicatesNow:
    """Duplicates of the bench.

    Parameters
    ----------
    report : DuplicateReport
    own : OwnPrecision
    rule_limit_s, limit_sd : float
        Limit of the method in use at 300 s, and the same in SDs of a tube. [s, 1]
    rules : tuple of RuleLine
        What "fresh pair" and "third tube" do under it.
    levels_s, gaps_s : tuple of float
        Of the exact pairs, for a picture. [s]
    """

    report: DuplicateReport
    own: OwnPrecision
    rule_limit_s: float
    limit_sd: float
    rules: tuple[RuleLine, ...]
    levels_s: tuple[float, ...]
    gaps_s: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class BenchControl:
    """The whole page; ``duplicates`` and ``places`` are ``None`` and empty without pairs."""

    watch: BenchWatchNow
    promises: tuple[Promise, ...]
    drifts: tuple[PairDrift, ...]
    duplicates: DuplicatesNow | None
    places: tuple[PlaceReport, ...]
    blind: tuple[BlindReport, ...]
    findings: tuple[Finding, ...]


def bench_control(records: Records, *, at: datetime) -> BenchControl:
    """Return everything on the control of the bench, as the records stand."""
    with records.view() as view:
        watch = bench_watch_of(view, at)
        earlier = watch.earlier
        profile = profile_of_bench(view, book_of(view))
        kept = own_pairs(earlier.readings, earlier.results, floor_s=profile.constants.floor_s)
        checks = check_outcomes(earlier.results, earlier.samples, known_materials(view))
        pairs, _ = of_method(kept, profile.comparable_key)
        own = own_precision(kept, pairs.clear(), checks, method=profile.comparable_key)
        duplicates, places = None, tuple[PlaceReport, ...]()
        if pairs.height:
            limit_s = float(agreement_limit_s(_RULE_AT_S, profile.constants))
            sd_s = float(own.law.sd_s(_RULE_AT_S))
            limit_sd = round(limit_s / sd_s, 1)
            report = read_duplicates(
                pairs["first_s"].to_numpy(),
                pairs["second_s"].to_numpy(),
                first_kind=pairs["first_kind"].to_numpy(),
                second_kind=pairs["second_kind"].to_numpy(),
                names=pairs["sample"].to_list(),
                at_s=LEVELS_S,
            )
            exact = pairs.filter(pl.col("first_kind") == 0, pl.col("second_kind") == 0)
            levels = tuple((0.5 * (exact["first_s"] + exact["second_s"])).to_list())
            gaps = tuple((exact["first_s"] - exact["second_s"]).abs().to_list())
            rules = rule_table(limit_sd, _SEED)
            duplicates = DuplicatesNow(report, own, limit_s, limit_sd, rules, levels, gaps)
            labels = checks.select("sample", pl.col("material").alias("label"))
            mills = earlier.samples.select("sample", "mill_id")
            dof = float(max(pairs.height, _FEW_PAIRS))
            places = bench_places(earlier.readings, mills, labels, own.law, dof)
        targets = {m.key: m.target_s for m in watch.materials}
        apart = drifts(watch.values, targets)
        blind = blind_reports(_blind(view, pairs, earlier.readings, earlier.results), own.law)
    found = [f for chart in watch.charts for f in chart.findings]
    found += [f for drift in apart if drift.drift for f in drift.drift.findings]
    found += [f for place in places if place.effects for f in place.effects.findings]
    if watch.hold:
        found += watch.hold.findings
    return BenchControl(watch, promises(), apart, duplicates, places, blind, tuple(found))


def _blind(view: View, pairs: pl.DataFrame, readings: pl.DataFrame, results: pl.DataFrame) -> pl.DataFrame:
    """Blind duplicates that were read: whose, the pair, and the lab's own result on the parent."""
    links = pl.DataFrame(
        [(r.sample, r.parent) for r in view.all(SampleParent, how="split") if r.reason == BLIND],
        schema={"sample": pl.String, "parent": pl.String},
        orient="row",
    )
    analysts = readings.filter(pl.col("analyst").is_not_null()).unique("sample", keep="first")
    own = results.select(pl.col("sample").alias("parent"), pl.col("mean_s").alias("reference_s"))
    return (
        links.join(pairs, on="sample", how="inner", maintain_order="left")
        .join(analysts.select("sample", "analyst"), on="sample", how="inner", maintain_order="left")
        .join(own.unique("parent"), on="parent", how="left", maintain_order="left")
        .select("analyst", "first_s", "second_s", "reference_s")
    )
