"""A day at the bench as the pages of a day show it: judged as its readings stand now."""

from __future__ import annotations

from lodestarch.common.findings import in_order
from lodestarch.control.own_precision import budget_at, typical_level
from lodestarch.method.day_counts import count_day
from lodestarch.plan.bin_state import bin_states
from lodestarch.records.day_values import KeptDay
from lodestarch.records.unit import View
from lodestarch.work.bench.bench_day import judge_standing
from lodestarch.work.bench.choices import limits_read_out, profile_of_bench
from lodestarch.work.bench.outcome import DayOutcome, SheetAccount
from lodestarch.work.bench.own_law import law_of_bench
from lodestarch.work.bench.samples_entered import samples_entered
from lodestarch.work.keeping.profiles import ProfileBook

__all__ = ["live_outcome"]


def live_outcome(view: View, kept: KeptDay, book: ProfileBook) -> DayOutcome:
    """Return a day at the bench as it stands.

    Parameters
    ----------
    view : View
    kept : KeptDay
        Opened at the bench; its readings name the samples that were read that day.
    book : ProfileBook
    """
    parts = kept.parts
    codes = parts.readings["sample"].unique(maintain_order=True).to_list()
    judged = judge_standing(view, view.standing_readings(codes), book)
    own = law_of_bench(view, profile_of_bench(view, book), book).own
    typical = typical_level(judged.results)
    samples = samples_entered(view, codes)
    read = judged.readings.height
    used = [
        book.versions[n] for n in judged.results["profile"].unique(maintain_order=True) if n in book.versions
    ]
    return DayOutcome(
        day_id=kept.day_id,
        title=parts.title,
        read_at=parts.read_at,
        demonstration=parts.demonstration,
        sheet=SheetAccount(parts.title, "", read, read, 0, 0, 0, 0),
        sample_sheet=None,
        profiles=tuple(used),
        scatter=own.law,
        readings=judged.readings,
        results=judged.results,
        samples=samples,
        refused=(),
        findings=in_order((*own.findings, *judged.findings)),
        counts=count_day(judged.results, judged.readings),
        limits=limits_read_out(view),
        bins=bin_states(samples, judged.results),
        own=own,
        budget=budget_at(own, typical) if typical is not None else None,
    )
