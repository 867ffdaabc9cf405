"""Precision and bench control: speed and memory against peers, and the long run that judges the intervals.

``python benchmarks/bench_precision.py`` prints figures as JSON: 10^6 duplicate pairs fitted and 10^5 budgets
evaluated, each beside scipy doing the same, and nested components beside statsmodels. Every side runs in a
process of its own, so that peak memory is its own.

``python benchmarks/bench_precision.py --long [LABS [sd|mean]]`` simulates 2,000 labs a cell (or LABS), prints the
cells as they come, and keeps the figures in ``benchmarks/results/precision_judge.json`` for
``docs/performance.md``. With ``sd`` or ``mean`` only these cells are run anew; ``WORKERS`` sets the processes.
``--fresh`` runs cells that the judge does not have (other seeds, numbers of pairs, levels, laws between).
"""

from __future__ import annotations

import json
import math
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).resolve().parent
PAIRS, BUDGETS, LINES = 1_000_000, 100_000, 10


def pairs() -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(1)
    mean = rng.uniform(70.0, 450.0, PAIRS)
    sd = np.hypot(3.0, 0.02 * mean)
    a, b = (np.clip(mean + sd * rng.standard_normal(PAIRS), 60.0, 900.0) for _ in range(2))
    return a, b


def pairs_ours() -> float:
    """Three laws and a free smooth, gross errors allowed for, with intervals."""
    from lodestarch.precision.scatter_fit import fit_scatter

    a, b = pairs()
    fit_scatter(a[:100], b[:100])  # compiled before the clock starts
    began = time.perf_counter()
    fit = fit_scatter(a, b)
    fit.at_levels([150.0, 300.0, 400.0])
    return time.perf_counter() - began


def pairs_scipy() -> float:
    """One law (constant plus proportional), no gross errors, no interval: the least that scipy must do."""
    from scipy.optimize import minimize

    a, b = pairs()
    began = time.perf_counter()
    level, square = 0.5 * (a + b), (a - b) ** 2

    def deviance(p: np.ndarray) -> float:
        v = 2.0 * (math.exp(2.0 * p[0]) + math.exp(2.0 * p[1]) * level**2)
        return float((np.log(v) + square / v).sum())

    minimize(deviance, [math.log(2.0), math.log(0.03)], method="BFGS")
    return time.perf_counter() - began


def lines() -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(2)
    return rng.uniform(0.2, 6.0, (BUDGETS, LINES)), rng.uniform(3.0, 60.0, (BUDGETS, LINES))


def budgets_ours() -> float:
    from lodestarch.precision.budget import budgets_of

    u, dof = lines()
    began = time.perf_counter()
    budgets_of(u, dof)
    return time.perf_counter() - began


def budgets_scipy() -> float:
    from scipy.stats import t

    u, dof = lines()
    began = time.perf_counter()
    total = np.sqrt((u**2).sum(axis=1))
    effective = total**4 / (u**4 / dof).sum(axis=1)
    _ = t.ppf(0.975, np.floor(effective)) * total, u**2 / total[:, None] ** 2
    return time.perf_counter() - began


def nested() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(3)
    probe, grind = np.repeat(np.arange(150), 6), np.tile(np.repeat(np.arange(3), 2), 150)
    y = 300.0 + 5.0 * rng.standard_normal(150)[probe] + 3.0 * rng.standard_normal(450)[probe * 3 + grind]
    y += 6.0 * rng.standard_normal(900)
    keep = rng.random(900) < 0.85
    return probe[keep], grind[keep], y[keep]


def components_ours() -> float:
    """Estimates and profile-likelihood intervals of all three components."""
    from lodestarch.precision.components import fit_components

    probe, grind, y = nested()
    began = time.perf_counter()
    fit_components(y, [probe, grind], ["probe", "grind"])
    return time.perf_counter() - began


def components_statsmodels() -> float:
    """Estimates alone."""
    import warnings

    import pandas as pd
    import statsmodels.formula.api as smf

    probe, grind, y = nested()
    frame = pd.DataFrame({"y": y, "p": probe, "g": grind})
    began = time.perf_counter()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = smf.mixedlm("y ~ 1", frame, groups="p", vc_formula={"g": "0 + C(g)"}, re_formula="1")
        model.fit(reml=True)
    return time.perf_counter() - began


SIDES = {
    f"{what}_{whose}": globals()[f"{what}_{whose}"]
    for what, peers in (("pairs", "scipy"), ("budgets", "scipy"), ("components", "statsmodels"))
    for whose in ("ours", peers)
}


def measure(side: str) -> dict[str, float]:
    """Best of three runs, each in a process of its own."""
    runs = []
    for _ in range(3):
        done = subprocess.run(
            [sys.executable, __file__, "side", side], capture_output=True, text=True, check=True, cwd=HERE
        )
        runs.append(json.loads(done.stdout))
    return {"time_s": min(r["time_s"] for r in runs), "peak_mb": min(r["peak_mb"] for r in runs)}


def short() -> dict[str, object]:
    figures: dict[str, object] = {}
    for what, peer in (("pairs", "scipy"), ("budgets", "scipy"), ("components", "statsmodels")):
        ours, theirs = measure(f"{what}_ours"), measure(f"{what}_{peer}")
        figures[what] = {
            "ours": ours,
            peer: theirs,
            "time_ratio": ours["time_s"] / theirs["time_s"],
            "peak_ratio": ours["peak_mb"] / theirs["peak_mb"],
        }
    return {
        "sizes": {"pairs": PAIRS, "budgets": BUDGETS, "lines_per_budget": LINES, "nested_values": 900},
        **figures,
    }


def cell(job: tuple[int, int, str, bool, int]) -> dict[str, object]:
    """One cell of the long run: mean coverage for one number of pairs, or SD coverage at fifty."""
    from precision_judge import TRUTHS, mean_coverage, sd_coverage

    at, n, spread, censored, labs = job
    truth = TRUTHS[at]
    rng = np.random.default_rng([2026, at, abs(n), n < 0, spread == "balanced", censored])
    name = {"truth": truth.name, "pairs": n, "levels": spread, "censored": censored, "labs": labs}
    if n < 0:
        cover, ratio = sd_coverage(rng, truth, labs=labs, pairs=-n, spread=spread, censored=censored)
        return {
            **name, "pairs": -n, "what": "sd",
            "cover_150_300_400": [round(float(c), 4) for c in cover],
            "width_over_ideal": [round(float(r), 3) for r in ratio],
        }  # fmt: skip
    whole, scaled = mean_coverage(
        rng, truth, labs=labs, pairs=n, spread=spread, censored=censored, scale_u=(1.0, 0.7)
    )
    return {**name, "what": "mean", "cover": round(float(whole), 4), "cover_u_x_0.7": round(float(scaled), 4)}


def judged(row: dict[str, object]) -> bool:
    """Whether a cell keeps what is promised."""
    if row["what"] == "sd":
        cover, ratio = row["cover_150_300_400"], row["width_over_ideal"]
        return min(cover) >= 0.88 and max(cover) <= 0.92 and max(ratio) <= 1.25
    if row["pairs"] >= 20:
        return 0.93 <= row["cover"] <= 0.97 and not 0.93 <= row["cover_u_x_0.7"] <= 0.97
    return row["cover"] >= 0.90


def jobs_of(labs: int) -> list[tuple[int, int, str, bool, int]]:
    """Every cell of the long run; a negative number of pairs asks for the SD."""
    from precision_judge import TRUTHS

    jobs = [
        (at, n, spread, True, labs)
        for at in range(len(TRUTHS))
        for n in (0, 5, 20, 50)
        for spread in ("balanced", "unbalanced")
    ]
    jobs += [(at, 20, "balanced", False, labs) for at in range(len(TRUTHS))]
    return jobs + [
        (at, -50, spread, True, labs) for spread in ("balanced", "unbalanced") for at in range(len(TRUTHS))
    ]


def in_parallel(work: Callable[[Any], dict[str, object]], jobs: Sequence[Any]) -> list[dict[str, object]]:
    """Do the jobs, saying each as it comes."""
    rows = []
    with ProcessPoolExecutor(int(os.environ.get("WORKERS", os.cpu_count() or 1))) as pool:
        for row in pool.map(work, jobs):
            rows.append(row)
            print(json.dumps(row), file=sys.stderr, flush=True)
    return rows


def long(labs: int, what: str) -> None:
    sys.path.insert(0, str(HERE))
    from run import machine

    file = HERE / "results" / "precision_judge.json"
    file.parent.mkdir(exist_ok=True)
    jobs = [j for j in jobs_of(labs) if what in ("all", "sd" if j[1] < 0 else "mean")]
    new = [{**row, "keeps": judged(row)} for row in in_parallel(cell, jobs)]
    kept = json.loads(file.read_text(encoding="utf-8"))["cells"] if what != "all" and file.exists() else []
    rows = sorted([r for r in kept if r["what"] != what] + new, key=lambda r: str(r["what"]))
    body = {"machine": machine(), "figures": summary(rows), "cells": rows}
    file.write_text(json.dumps(body, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(body["figures"], indent=2))


def fresh_cell(job: tuple[str, int, str, int]) -> dict[str, object]:
    """One cell that the judge does not have: other numbers of pairs and levels, laws between."""
    from precision_judge import OTHERS, sd_coverage

    name, n, spread, labs = job
    rng = np.random.default_rng([77, list(OTHERS).index(name), n, spread == "balanced"])
    at_s = (100.0, 200.0, 250.0, 350.0, 430.0)
    cover, _ = sd_coverage(rng, OTHERS[name], labs=labs, pairs=n, spread=spread, at_s=at_s)
    return {"truth": name, "pairs": n, "levels": spread, "labs": labs, "at_s": at_s,
            "cover": [round(float(c), 4) for c in cover]}  # fmt: skip


def fresh(labs: int) -> None:
    from precision_judge import OTHERS

    jobs = [(name, n, "balanced", labs) for n in (30, 50, 100) for name in OTHERS]
    file = HERE / "results" / "precision_fresh.json"
    file.write_text(json.dumps({"cells": in_parallel(fresh_cell, jobs)}, indent=1) + "\n", encoding="utf-8")


def summary(rows: list[dict[str, object]]) -> dict[str, object]:
    """Range of each promise over its cells, and how many cells keep it."""

    def over(pick: list[dict[str, object]], key: str) -> str:
        values = [v for r in pick for v in (r[key] if isinstance(r[key], list) else [r[key]])]
        return f"{min(values):.3f} to {max(values):.3f}"

    def kept(pick: list[dict[str, object]]) -> str:
        return f"{sum(bool(r['keeps']) for r in pick)} of {len(pick)} cells"

    many = [r for r in rows if r["what"] == "mean" and r["pairs"] >= 20]
    few = [r for r in rows if r["what"] == "mean" and r["pairs"] < 20]
    sd = {s: [r for r in rows if r["what"] == "sd" and r["levels"] == s] for s in ("balanced", "unbalanced")}
    return {
        "labs a cell, mean": many[0]["labs"],
        "labs a cell, SD": sd["balanced"][0]["labs"],
        "cover of the 95 % interval, 20 pairs or more (0.93 to 0.97)": over(many, "cover"),
        "kept, 20 pairs or more": kept(many),
        "cover with u scaled by 0.7 (must lie outside)": over(many, "cover_u_x_0.7"),
        "cover with fewer pairs (0.90 or more)": over(few, "cover"),
        "kept, fewer pairs": kept(few),
        "cover of the 90 % interval of SD from 50 pairs, levels all over (0.88 to 0.92)": over(
            sd["balanced"], "cover_150_300_400"
        ),
        "width over the ideal's, levels all over (1.25 or less)": over(sd["balanced"], "width_over_ideal"),
        "kept, SD, levels all over": kept(sd["balanced"]),
        "the same, few low samples: cover": over(sd["unbalanced"], "cover_150_300_400"),
        "the same, few low samples: width over the ideal's": over(sd["unbalanced"], "width_over_ideal"),
    }


def main() -> None:
    if sys.argv[1:2] == ["side"]:
        took = SIDES[sys.argv[2]]()
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
        print(json.dumps({"time_s": took, "peak_mb": peak}))
    elif sys.argv[1:2] == ["--long"]:
        long(int(sys.argv[2]) if len(sys.argv) > 2 else 2000, sys.argv[3] if len(sys.argv) > 3 else "all")
    elif sys.argv[1:2] == ["--fresh"]:
        fresh(int(sys.argv[2]) if len(sys.argv) > 2 else 1000)
    else:
        print(json.dumps(short(), indent=2))


if __name__ == "__main__":
    main()
