"""What a failed check sample holds back: results of its bath, and of its mill where it was ground there.

Whole grain tests mill and bath, meal the bath alone; a check that was ground here says on the sample sheet on
which mill. Between the good checks around the failure every result of that bath or mill is in doubt.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import polars as pl

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.control.check_hold import hold_back
from lodestarch.method.judge import Status
from lodestarch.method.reading import State

__all__ = ["LOWERINGS", "DayHold", "HeldResult", "day_hold", "lowerings", "mark_held"]

LOWERINGS: Final[dict[str, pl.DataType]] = {
    "sample": pl.String(),
    "ticket": pl.String(),
    "bath": pl.String(),
    "mill_id": pl.String(),
    "run_at": pl.Datetime("us"),
    "day_id": pl.String(),
}
"""A row each time that tubes of a sample were lowered."""

_COUNTS: Final = (State.STANDS.value, State.RUN_AGAIN.value)


@dataclass(frozen=True, slots=True)
class HeldResult:
    """A result in doubt.

    Parameters
    ----------
    sample, ticket : str, str or None
    day_id : str
        Day in the records; empty: the sheet that is being read.
    checks : tuple of str
        Samples of the failed checks that hold it.
    released : str or None
        When it was let out.
    told : tuple of (str, str)
        Who has it (empty: not named), and how it went there.
    retained : str or None
        Where the retained sample is; ``None``: none on record.
    """

    sample: str
    ticket: str | None
    day_id: str
    checks: tuple[str, ...]
    released: str | None = None
    told: tuple[tuple[str, str], ...] = ()
    retained: str | None = None


@dataclass(frozen=True, slots=True)
class DayHold:
    """What failed checks hold.

    Parameters
    ----------
    failed : tuple of str
        Samples of the checks that were off and have no cause recorded.
    cleared : tuple of (str, str)
        Checks that were off, and the cause by which their hold was lifted.
    held : tuple of HeldResult
        In order of time.
    findings : tuple of Finding
    """

    failed: tuple[str, ...]
    cleared: tuple[tuple[str, str], ...]
    held: tuple[HeldResult, ...]
    findings: tuple[Finding, ...]


def lowerings(judged: pl.DataFrame, samples: pl.DataFrame, day_id: str) -> pl.DataFrame:
    """Return when and where tubes of each sample were lowered, in ``LOWERINGS``.

    Parameters
    ----------
    judged, samples : polars.DataFrame
        In ``method.table.JUDGED`` and ``SAMPLES``. Readings set aside with a cause are left out.
    day_id : str
    """
    return (
        judged.filter(pl.col("state").is_in(_COUNTS))
        .group_by("sample", "bath", "run_at", maintain_order=True)
        .agg(pl.col("ticket").first())
        .join(samples.select("sample", "mill_id").unique("sample"), on="sample", how="left")
        .with_columns(pl.lit(day_id).alias("day_id"))
        .select(pl.col(name).cast(kind) for name, kind in LOWERINGS.items())
    )


def day_hold(lowered: pl.DataFrame, outcomes: pl.DataFrame, causes: Mapping[str, str]) -> DayHold:
    """Find what failed checks hold.

    Parameters
    ----------
    lowered : polars.DataFrame
        In ``LOWERINGS``, of check samples and of all others, of this day and of earlier ones.
    outcomes : polars.DataFrame
        Of the check samples among them, in ``control.check_outcomes.CHECK_OUTCOMES``.
    causes : mapping of str to str
        Cause by check sample; a failure with a cause holds nothing.

    Returns
    -------
    DayHold
        A check without a time speaks for nobody when it is good, and holds every result of its bath and mill
        when it is off.
    """
    checks = (
        outcomes.filter(pl.col("outcome") != "unsettled")
        .select("sample", "outcome")
        .join(lowered, on="sample", how="inner", maintain_order="left")
    )
    loads = lowered.join(outcomes.select("sample"), on="sample", how="anti", maintain_order="left")
    off = outcomes.filter(pl.col("outcome") == "off")["sample"].to_list()
    failed = tuple(s for s in off if not causes.get(s, "").strip())
    held: dict[tuple[str, str], set[str]] = {}
    findings: list[Finding] = []
    for place in ("bath", "mill_id"):
        _hold_by(place, checks, loads, causes, held, findings)
    first = loads.sort("run_at", nulls_last=True)
    timed = first.unique(["sample", "day_id"], keep="first", maintain_order=True)
    order = {key: n for n, key in enumerate(timed.select("sample", "day_id").iter_rows())}
    tickets = dict(loads.select("sample", "ticket").iter_rows())
    doubted = tuple(
        HeldResult(sample, tickets.get(sample), day, tuple(sorted(by)))
        for (sample, day), by in sorted(held.items(), key=lambda item: order[item[0]])
    )
    findings += [
        Finding("hold-clears-nothing", Where(sample=sample), Severity.CHECK)
        for sample in causes
        if sample not in off
    ]
    cleared = tuple((s, causes[s].strip()) for s in off if causes.get(s, "").strip())
    findings += [
        Finding("hold-cleared", Where(sample=sample), Severity.NOTE, {"cause": cause})
        for sample, cause in cleared
    ]
    return DayHold(failed, cleared, doubted, tuple(findings))


def _everywhere(frame: pl.DataFrame, place: str, places: list[str]) -> pl.DataFrame:
    """Rows that name no place stand for each: nothing shows that they lie elsewhere."""
    named = frame.filter(pl.col(place).is_not_null())
    silent = frame.filter(pl.col(place).is_null()).drop(place)
    spread = silent.join(pl.DataFrame({place: places}, schema={place: pl.String()}), how="cross")
    return pl.concat([named, spread.select(named.columns)])


def _hold_by(
    place: str,
    checks: pl.DataFrame,
    loads: pl.DataFrame,
    causes: Mapping[str, str],
    held: dict[tuple[str, str], set[str]],
    findings: list[Finding],
) -> None:
    """Add what is held by place, bath or mill; a check without a mill speaks for its bath."""
    places = sorted({*checks[place].drop_nulls(), *loads[place].drop_nulls()}) or [""]
    mine = _everywhere(checks, place, places if place == "bath" else [])
    ours = _everywhere(loads, place, places)
    if mine.is_empty() or ours.is_empty():
        return
    names = mine["sample"].to_list()
    keys = list(ours.select("sample", "day_id").iter_rows())
    found = hold_back(
        mine["run_at"].to_numpy(),
        (mine["outcome"] == "good").to_numpy(),
        ours["run_at"].to_numpy(),
        check_scope=mine[place].to_list(),
        result_scope=ours[place].to_list(),
        cause=[causes.get(name, "").strip() or None for name in names],
    )
    for failure in found.failures:
        for i in failure.held:
            held.setdefault(keys[i], set()).add(names[failure.check])
        if failure.last_good is None:
            values = {"place": mine[place][failure.check]}
            at = Where(sample=names[failure.check])
            findings.append(Finding("hold-no-good-before", at, Severity.CHECK, dict(values)))
    failed = {names[f.check] for f in found.failures}
    for i in found.held:
        if keys[i] not in held:  # without a time: it cannot be shown to lie outside the doubt
            held[keys[i]] = set(failed)
            findings.append(Finding("hold-time-missing", Where(sample=keys[i][0]), Severity.CHECK))
    untimed = mine.filter(pl.col("outcome") == "off", pl.col("run_at").is_null())
    for sample, scope in untimed.select("sample", place).iter_rows():
        if not causes.get(sample, "").strip():
            for key in ours.filter(pl.col(place) == scope).select("sample", "day_id").iter_rows():
                held.setdefault(key, set()).add(sample)


def mark_held(results: pl.DataFrame, hold: DayHold) -> pl.DataFrame:
    """Return results with those of the present sheet that are in doubt *held*; a held result has no estimate.

    Parameters
    ----------
    results : polars.DataFrame
        In ``method.table.RESULTS``.
    hold : DayHold
    """
    names = [h.sample for h in hold.held if not h.day_id]
    if not names:
        return results
    doubt = pl.col("sample").is_in(names) & (pl.col("tubes") > 0)
    return results.with_columns(
        pl.when(doubt).then(pl.lit(Status.HELD.value)).otherwise("status").alias("status"),
        *(pl.when(doubt).then(None).otherwise(c).alias(c) for c in ("estimate_s", "estimate_u_s")),
    )
