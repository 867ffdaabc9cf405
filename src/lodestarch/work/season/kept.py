"""What the records hold of a season: results as they stand, and the bench's own tests, read once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import polars as pl

from lodestarch.method.reading import Kind
from lodestarch.records.engine import Records
from lodestarch.records.tables import SampleParent, SentResult, SentSample
from lodestarch.records.unit import View
from lodestarch.season.performance import TESTED
from lodestarch.season.told_odds import Outcome

__all__ = ["KEPT", "KeptSeason", "outcomes_of", "read_kept", "together"]

KEPT: Final[dict[str, pl.DataType]] = {
    "sample": pl.String(), "ticket": pl.String(), "day_id": pl.String(), "seconds": pl.Float64(),
    "kind": pl.Int8(), "status": pl.String(), "u_s": pl.Float64(), "comparable_key": pl.String(),
    "sample_kind": pl.String(), "grower": pl.String(), "origin": pl.String(), "variety": pl.String(),
    "harvest_date": pl.Date(), "analyst": pl.String(), "bath": pl.String(),
}  # fmt: skip
"""A row a result, on each day that its sample was tested, the earlier day first."""


@dataclass(frozen=True, slots=True)
class KeptSeason:
    """Frames in :data:`KEPT` and ``season.performance.TESTED``, and what links first tests to second ones.

    Parameters
    ----------
    results, tested : polars.DataFrame
    checks_off : frozenset of (str, str)
        Day and sample of check samples outside their limits.
    retests : tuple of (str, str)
        Sample of a retest, and the sample that it was made from.
    elsewhere : tuple of (str, str, float, int)
        Sample sent out, the other lab, what it found and its kind.
    demonstration : bool
        Some of it is invented.
    """

    results: pl.DataFrame
    tested: pl.DataFrame
    checks_off: frozenset[tuple[str, str]]
    retests: tuple[tuple[str, str], ...]
    elsewhere: tuple[tuple[str, str, float, int], ...]
    demonstration: bool


def read_kept(records: Records) -> KeptSeason:
    """Read every day of the records."""
    results, tested = [pl.DataFrame(schema=KEPT)], [pl.DataFrame(schema=TESTED)]
    off: set[tuple[str, str]] = set()
    with records.view() as view:
        lines = view.list_days()
        # The list has the newest first; a later day's result stands in place of an earlier one.
        for line in reversed(lines):
            parts = view.load_day(line.day_id).parts
            off |= {
                (line.day_id, f.where.sample or "") for f in parts.findings if f.code == "check-sample-off"
            }
            known = parts.samples.select(
                "sample", pl.col("kind").alias("sample_kind"), "grower", "origin", "variety", "harvest_date"
            ).unique("sample", keep="first")
            bench = parts.readings.group_by("sample").agg(
                pl.col("analyst").first(), pl.col("bath").first(),
                pl.col("run_at").min().dt.date().alias("run_day"),
            )  # fmt: skip
            joined = (
                parts.results.join(known, on="sample", how="left")
                .join(bench, on="sample", how="left")
                .with_columns(pl.lit(line.day_id).alias("day_id"), pl.col("sample_kind").fill_null("load"))
            )
            results.append(joined.select(list(KEPT)).cast(KEPT))  # type: ignore[arg-type]  # a dict of types
            tested.append(joined.select(list(TESTED)).cast(TESTED))  # type: ignore[arg-type]  # as above
        links = tuple((p.sample, p.parent) for p in view.all(SampleParent, how="retest"))
        elsewhere = _elsewhere(view)
    # A sheet that was read twice, with rows added in between, is no second test.
    once = pl.concat(tested).unique(["sample", "run_day"], keep="last", maintain_order=True)
    invented = any(line.demonstration for line in lines)
    return KeptSeason(pl.concat(results), once, frozenset(off), links, elsewhere, invented)


def together(sites: Sequence[tuple[str, KeptSeason]]) -> KeptSeason:
    """Put several sites together; a code that two of them gave stays two samples.

    Parameters
    ----------
    sites : sequence of (str, KeptSeason)
        Code of each site, and what its part of the records holds. At least one.
    """

    def own(frame: pl.DataFrame, site: str) -> pl.DataFrame:
        codes = [c for c in ("sample", "ticket", "day_id") if c in frame.columns]
        return frame.with_columns(pl.format("{}/{}", pl.lit(site), pl.col(c)).alias(c) for c in codes)

    return KeptSeason(
        pl.concat([own(k.results, s) for s, k in sites]),
        pl.concat([own(k.tested, s) for s, k in sites]),
        frozenset((f"{s}/{day}", f"{s}/{sample}") for s, k in sites for day, sample in k.checks_off),
        tuple((f"{s}/{a}", f"{s}/{b}") for s, k in sites for a, b in k.retests),
        tuple((f"{s}/{a}", lab, fn, kind) for s, k in sites for a, lab, fn, kind in k.elsewhere),
        any(k.demonstration for _, k in sites),
    )


def _elsewhere(view: View) -> tuple[tuple[str, str, float, int], ...]:
    names = view.names("parties")
    sent = {s.key: s for s in view.all(SentSample)}
    return tuple(
        (sent[r.sent].sample, names.get(sent[r.sent].laboratory, sent[r.sent].laboratory), r.seconds, r.kind)
        for r in view.all(SentResult)
        if r.sent in sent
    )


def outcomes_of(kept: KeptSeason, limit_s: float) -> tuple[Outcome, ...]:
    """Second tests of the records, each with the first result of its sample.

    A retest is a sample made from another one, or one of that kind under the ticket of an earlier sample.
    """
    first = kept.results.filter(
        pl.col("seconds").is_not_null(), pl.col("kind") == Kind.EXACT.value, pl.col("sample_kind") != "retest"
    )
    by_sample = {r["sample"]: r for r in reversed(first.to_dicts())}
    by_ticket = {r["ticket"]: r for r in reversed(first.to_dicts()) if r["ticket"]}
    parent = dict(kept.retests)
    out = []
    again = kept.results.filter(pl.col("sample_kind") == "retest", pl.col("seconds").is_not_null())
    for row in again.unique("sample", keep="last", maintain_order=True).to_dicts():
        before = by_sample.get(parent.get(row["sample"], ""), by_ticket.get(row["ticket"]))
        if before is not None:
            out.append(
                Outcome(
                    row["sample"], limit_s, row["seconds"], Kind(row["kind"]), first_s=before["seconds"],
                    u_s=before["u_s"],
                )
            )  # fmt: skip
    for sample, lab, seconds, kind in kept.elsewhere:
        own = by_sample.get(sample)
        out.append(
            Outcome(
                sample, limit_s, seconds, Kind(kind), lab, first_s=own["seconds"] if own else None,
                u_s=own["u_s"] if own else None,
            )
        )  # fmt: skip
    return tuple(out)
