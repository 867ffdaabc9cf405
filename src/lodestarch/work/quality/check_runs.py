"""Check samples judged at the bench: kept as runs of their material, and what failed ones hold there."""

from __future__ import annotations

from datetime import datetime
from typing import Final

import polars as pl

from lodestarch.control.bench_rules import CheckMaterial
from lodestarch.control.check_outcomes import CHECK_OUTCOMES, check_outcomes
from lodestarch.control.day_hold import LOWERINGS, day_hold, lowerings
from lodestarch.method.judging import Judged
from lodestarch.method.table import SAMPLES, conform
from lodestarch.records.tables import CheckRun, Equipment, Preparation, Sample
from lodestarch.records.unit import Unit, View
from lodestarch.work.bench.choices import baths_of
from lodestarch.work.quality.control_records import causes_of, equipment_named, known_materials

__all__ = [
    "IN_CONTROL",
    "OFF",
    "held_at_bench",
    "material_of",
    "newest_runs",
    "note_check",
    "note_sheet_checks",
]

IN_CONTROL: Final = "in control"
OFF: Final = "off"


def material_of(view: View, name: str | None) -> CheckMaterial | None:
    """Return the check material that a sample names; capitals do not matter."""
    wanted = (name or "").strip().casefold()
    return next((m for m in known_materials(view) if m.material_id.casefold() == wanted), None)


def note_check(unit: Unit, code: str, judged: Judged) -> None:
    """Keep that a check sample was run, where the sample is one and its material is known.

    Parameters
    ----------
    unit : Unit
    code : str
        The sample.
    judged : Judged
        All its readings and its result. A pair of its own that disagrees says nothing yet.
    """
    sample = unit.get(Sample, code)
    if sample is None or sample.kind != "check":
        return
    material = material_of(unit, sample.material)
    if material is None:
        return
    row = {"row": 1, "sample": code, "kind": "check", "material": material.material_id}
    frame = conform(pl.DataFrame({n: [row.get(n)] for n in SAMPLES}, schema=SAMPLES, strict=False), SAMPLES)
    found = check_outcomes(judged.results, frame, [material]).filter(pl.col("outcome") != "unsettled")
    last = judged.readings.filter(pl.col("run_at").is_not_null()).sort("run_at")
    if found.is_empty() or last.is_empty():
        return
    bath = last["bath"][-1]
    mills = [p.mill for p in unit.of_samples(Preparation, [code]) if p.mill is not None]
    run_at = last["run_at"][-1].isoformat()
    said = IN_CONTROL if found["outcome"][0] == "good" else OFF
    kept = [run for run in unit.all(CheckRun, sample=code) if run.run_at == run_at]
    if kept:
        one = kept[0]
        one.seconds, one.judged = found["mean_s"][0], said
        unit.edit(one, made_from=one.version, reason="judged anew")
        return
    unit.add(
        CheckRun(
            key=unit.next_key(CheckRun, "c"),
            material=material.material_id,
            run_at=run_at,
            seconds=found["mean_s"][0],
            sample=code,
            bath=_bath(unit, bath) if bath else None,
            mill=mills[-1] if mills else None,
            judged=said,
        )
    )


def note_sheet_checks(
    unit: Unit, readings: pl.DataFrame, results: pl.DataFrame, samples: pl.DataFrame
) -> None:
    """Keep the check samples of a bench sheet as runs too, so that the bench knows what they hold.

    Parameters
    ----------
    unit : Unit
    readings, results, samples : polars.DataFrame
        In ``method.table.JUDGED``, ``RESULTS`` and ``SAMPLES``. The same sheet again changes nothing.
    """
    found = check_outcomes(results, samples, known_materials(unit)).filter(pl.col("outcome") != "unsettled")
    if found.is_empty():
        return
    last = lowerings(readings, samples, "").drop("mill_id").sort("run_at").unique("sample", keep="last")
    placed = found.join(last, on="sample", how="inner", maintain_order="left")
    for row in placed.filter(pl.col("run_at").is_not_null()).iter_rows(named=True):
        run_at, said = row["run_at"].isoformat(), IN_CONTROL if row["outcome"] == "good" else OFF
        kept = [run for run in unit.all(CheckRun, sample=row["sample"]) if run.run_at == run_at]
        if kept and kept[0].judged == said:
            continue
        if kept:
            kept[0].seconds, kept[0].judged = row["mean_s"], said
            unit.edit(kept[0], made_from=kept[0].version, reason="judged anew")
            continue
        unit.add(
            CheckRun(
                key=unit.next_key(CheckRun, "c"),
                material=row["material"],
                run_at=run_at,
                seconds=row["mean_s"],
                sample=row["sample"],
                bath=_bath(unit, row["bath"]) if row["bath"] else None,
                mill=equipment_named(unit, "mill", row["mill_id"]) if row["mill_id"] else None,
                judged=said,
            )
        )


def _bath(unit: Unit, name: str) -> str | None:
    """Return the key of a bath, which is its name; with the first one every bath of the bench is entered.

    The list of baths is read off the equipment where there is some: one bath alone would hide the others.
    """
    for one in dict.fromkeys((*baths_of(unit), name)):
        if unit.get(Equipment, one) is None:
            unit.add(Equipment(key=one, kind="bath", name=one))
    found = unit.get(Equipment, name)
    return name if found is not None and found.kind == "bath" else None


def newest_runs(view: View) -> tuple[CheckRun, ...]:
    """Return the newest check run of every material in every bath."""
    newest: dict[tuple[str, str | None], CheckRun] = {}
    for run in view.all(CheckRun):
        at = (run.material, run.bath)
        if at not in newest or run.run_at >= newest[at].run_at:
            newest[at] = run
    return tuple(newest.values())


def held_at_bench(view: View, readings: pl.DataFrame) -> frozenset[str]:
    """Return the samples at the bench that a failed check run without a cause holds.

    Parameters
    ----------
    view : View
    readings : polars.DataFrame
        Of the samples in work, in ``method.table.JUDGED``.
    """
    runs, causes = view.all(CheckRun), causes_of(view)
    if not any(run.judged == OFF and (run.sample or "") not in causes for run in runs):
        return frozenset()
    names = {row.key: row.name for row in view.all(Equipment)}
    checks = [
        {
            "sample": run.sample or run.key,
            "ticket": None,
            "bath": names.get(run.bath or ""),
            "mill_id": names.get(run.mill or ""),
            "run_at": datetime.fromisoformat(run.run_at),
            "day_id": "",
        }
        for run in runs
    ]
    outcomes = [
        {"sample": run.sample or run.key, "outcome": "off" if run.judged == OFF else "good"} for run in runs
    ]
    ours = {str(one["sample"]) for one in checks}
    prepared = view.of_samples(Preparation, readings["sample"].unique(maintain_order=True).to_list())
    mills = pl.DataFrame(
        [(p.sample, names.get(p.mill or "")) for p in prepared],
        schema={"sample": pl.String, "mill_id": pl.String},
        orient="row",
    )
    others = lowerings(readings.filter(~pl.col("sample").is_in(list(ours))), mills, "")
    lowered = pl.concat([pl.DataFrame(checks, schema=LOWERINGS), others])
    columns = {name: [one.get(name) for one in outcomes] for name in CHECK_OUTCOMES}
    found = day_hold(lowered, pl.DataFrame(columns, schema=CHECK_OUTCOMES), causes)
    return frozenset(one.sample for one in found.held)
