"""What failed check samples hold, with who has it already and where the retained samples are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import polars as pl

from lodestarch.common.findings import Finding, Severity
from lodestarch.control.bench_rules import CheckMaterial
from lodestarch.control.check_outcomes import check_outcomes
from lodestarch.control.day_hold import DayHold, HeldResult, day_hold, lowerings
from lodestarch.records.tables import RetainedSample
from lodestarch.records.unit import View
from lodestarch.work.bench.earlier import Earlier

__all__ = ["hold_of_day"]


def hold_of_day(
    readings: pl.DataFrame,
    results: pl.DataFrame,
    samples: pl.DataFrame,
    materials: Sequence[CheckMaterial],
    earlier: Earlier,
    causes: Mapping[str, str],
    view: View | None,
) -> DayHold | None:
    """Find what failed checks hold back, on this sheet and on earlier days.

    Parameters
    ----------
    readings, results, samples : polars.DataFrame
        Of the sheet that is being read, in ``method.table.JUDGED``, ``RESULTS`` and ``SAMPLES``.
    materials : sequence of CheckMaterial
    earlier : Earlier
    causes : mapping of str to str
        Cause by check sample, given now; earlier ones stand.
    view : View or None
        Knows who has which result, and what is retained.

    Returns
    -------
    DayHold or None
        ``None`` where no check sample failed and no cause was given.
    """
    outcomes = check_outcomes(
        pl.concat([results, earlier.results]), pl.concat([samples, earlier.samples]), materials
    )
    lowered = pl.concat([lowerings(readings, samples, ""), earlier.lowered])
    known = {sample: cause for sample, cause in earlier.causes.items() if sample in set(outcomes["sample"])}
    found = day_hold(lowered, outcomes, {**known, **causes})
    if not (found.failed or found.cleared or found.findings):
        return None
    held = found.held if view is None else tuple(_told(view, one) for one in found.held)
    if not held:
        return replace(found, held=held)
    released = sum(one.released is not None for one in held)
    values = {"results": len(held), "released": released}
    whole = Finding("hold-results", severity=Severity.STOP, values=dict(values))
    return replace(found, held=held, findings=(whole, *found.findings))


def _told(view: View, one: HeldResult) -> HeldResult:
    """Add who has a result, and where what is left of its sample lies."""
    release = view.standing_release(one.sample)
    kept = [r for r in view.of_samples(RetainedSample, [one.sample]) if r.destroyed_on is None]
    told: list[tuple[str, str]] = []
    if release is not None:
        names = view.names("parties")
        for issued in view.issued_from(one.sample):
            told += [(names.get(c.party or "", ""), c.how) for c in issued.copies]
            told += [("", f"{d.kind} {d.key}") for d in issued.documents]
    return replace(
        one,
        released=release.released_at if release is not None else None,
        told=tuple(told),
        retained=kept[0].place if kept else None,
    )
