"""Papers of the bench: the day sheet, the wall table, the blank bench sheet."""

from __future__ import annotations

import csv
import io

from lodestarch.method.profile import Profile
from lodestarch.report.blank_sheet import blank_bench_sheet
from lodestarch.report.day_sheet import day_sheet
from lodestarch.report.wall_table import wall_table_page
from lodestarch.work.bench.outcome import DayOutcome
from lodestarch.work.pocket.portion import wall_rows

__all__ = ["blank_sheet_html", "day_sheet_html", "wall_table_csv", "wall_table_html", "wall_table_text"]


def day_sheet_html(outcome: DayOutcome) -> str:
    """The day on paper. A neutral lab's sheet names no buyer, so no limit is drawn."""
    return day_sheet(outcome, limits=())


def wall_table_html(profile: Profile, *, demonstration: bool = False) -> str:
    """The portion table as one page to hang on the wall."""
    return wall_table_page(wall_rows(profile), profile, demonstration=demonstration)


def wall_table_csv(profile: Profile) -> str:
    """The portion table as CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(["moisture_pct", "mass_g", "low_g", "high_g", "rule", "profile"])
    for p in wall_rows(profile):
        row = (f"{p.moisture_pct:.1f}", f"{p.mass_g:.2f}", f"{p.low_g:.2f}", f"{p.high_g:.2f}")
        writer.writerow([*row, p.rule, p.profile])
    return out.getvalue()


def wall_table_text(profile: Profile) -> str:
    """The portion table as plain text: a line a per cent, a column a tenth."""
    by_tenth = {round(10 * p.moisture_pct): p.mass_g for p in wall_rows(profile)}
    wholes = sorted({t // 10 for t in by_tenth})
    lines = [profile.title, f"{profile.name}; grams by moisture in %", ""]
    lines.append("  %  " + "".join(f"{f'.{i}':>7}" for i in range(10)))
    for whole in wholes:
        cells = (by_tenth.get(10 * whole + i) for i in range(10))
        lines.append(f"{whole:>3}  " + "".join(" " * 7 if m is None else f"{m:7.2f}" for m in cells))
    return "\n".join(line.rstrip() for line in lines) + "\n"


def blank_sheet_html(profile: Profile | None, *, demonstration: bool = False) -> str:
    """An empty bench sheet to print, for a power cut; it is typed in cleanly afterwards."""
    return blank_bench_sheet(profile, demonstration=demonstration)
