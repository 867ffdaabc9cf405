"""The season: crossed random effects on a million results, statsmodels at the largest size it does, Dask workers.

``python benchmarks/bench_season.py`` prints figures as JSON. Every side runs in a process of its own, with one thread
of linear algebra, so that peak memory and processor time are its own. ``--quick`` runs small sizes.

statsmodels gets ``LIMIT_S`` seconds a size, each size twice the one before; the ratio is that of the largest size
which it finished. The cluster does the same draws of seasons here, on one worker and on two.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time

import numpy as np

LIMIT_S = 600.0
STEPS = (1000, 2000, 4000, 8000)
CHUNKS, TASKS = 8, 400
BIG = (1_000_000, (500, 5000, 20))
LEVELS = (20, 40, 8)
SEASON = (20_000, (50, 200, 8))
"""The season whose draws are spread over workers."""
QUICK = (20_000, (50, 200, 8))


def made(n: int, sizes: tuple[int, ...]) -> tuple[np.ndarray, list[np.ndarray]]:
    rng = np.random.default_rng(1)
    codes = [rng.integers(0, q, n) for q in sizes]
    y = 300.0 + sum(
        rng.normal(0.0, s, q)[c] for s, q, c in zip((20.0, 30.0, 40.0), sizes, codes, strict=True)
    )
    return y + rng.normal(0.0, 30.0, n), codes


def ours(n: int, sizes: tuple[int, ...], *, intervals: bool) -> dict[str, float]:
    from lodestarch.season.effects import fit_effects
    from lodestarch.season.table import Factor, table_of

    y, codes = made(n, sizes)
    factors = [
        Factor(f"f{i}", c, tuple(map(str, range(q))))
        for i, (c, q) in enumerate(zip(codes, sizes, strict=True))
    ]
    table = table_of(y, factors, floor_s=None)
    began = time.perf_counter()
    e = fit_effects(table, intervals=intervals)
    return {"s": time.perf_counter() - began, **{f"sd_{x.name}": x.sd for x in e.effects}}


def statsmodels(n: int, sizes: tuple[int, ...]) -> dict[str, float]:
    from statsmodels.regression.mixed_linear_model import MixedLM, VCSpec

    y, codes = made(n, sizes)
    names = [f"f{i}" for i in range(len(sizes))]
    spec = VCSpec(
        names, [[[f"{m}{j}" for j in range(q)]] for m, q in zip(names, sizes, strict=True)],
        [[np.eye(q)[c]] for q, c in zip(sizes, codes, strict=True)],
    )  # fmt: skip
    began = time.perf_counter()
    fit = MixedLM(y, np.ones((n, 1)), groups=np.ones(n), exog_vc=spec).fit(reml=True, method="lbfgs")
    seconds = time.perf_counter() - began
    sds = np.sqrt([*fit.vcomp, fit.scale])
    return {"s": seconds, **{f"sd_{m}": float(s) for m, s in zip([*names, "residual"], sds, strict=True)}}


def workers(n: int) -> dict[str, float]:
    """Draws of a season in parts: here with ``n`` 0, else on a cluster of so many worker processes."""
    from contextlib import nullcontext
    from operator import neg

    from lodestarch.season.effects import fit_effects
    from lodestarch.season.table import Factor, table_of
    from lodestarch.work.spread.long_work import share_ensemble
    from lodestarch.work.spread.places import Here, local_cluster

    y, codes = made(*SEASON)
    names = [tuple(map(str, range(q))) for q in SEASON[1]]
    factors = [Factor(f"f{i}", c, m) for i, (c, m) in enumerate(zip(codes, names, strict=True))]
    fitted = fit_effects(table_of(y, factors, floor_s=None), intervals=False)
    began = time.perf_counter()
    with local_cluster(n) if n else nullcontext(Here()) as place:
        share_ensemble(fitted, place, chunks=max(n, 1), seed=1)  # imported and compiled everywhere
        ready = time.perf_counter()
        drawn = share_ensemble(fitted, place, chunks=CHUNKS, seed=2)
        done = time.perf_counter()
        place.each(neg, (), [(k,) for k in range(TASKS)])
        tasks = time.perf_counter() - done
    digest = float(sum((np.asarray(d) ** 2).sum() for d in drawn))
    return {
        "until_ready_s": ready - began, "s": done - ready, "chunks": CHUNKS, "a_chunk_s": (done - ready) / CHUNKS,
        "overhead_a_task_s": tasks / TASKS, "sum_of_squares": digest,
    }  # fmt: skip


SIDES = {
    "big": lambda: ours(*BIG, intervals=True),
    "big_no_intervals": lambda: ours(*BIG, intervals=False),
    **{f"ours_{n}": lambda n=n: ours(n, LEVELS, intervals=False) for n in STEPS},
    **{f"statsmodels_{n}": lambda n=n: statsmodels(n, LEVELS) for n in STEPS},
    **{f"workers_{n}": lambda n=n: workers(n) for n in (0, 1, 2)},
    "quick": lambda: ours(*QUICK, intervals=True),
}


def largest_of_statsmodels() -> dict[str, object]:
    """Double the size until statsmodels does not finish in its time; ours beside the largest that it did."""
    found: dict[str, object] = {}
    for n in STEPS:
        try:
            theirs = apart(f"statsmodels_{n}", LIMIT_S)
        except (subprocess.TimeoutExpired, subprocess.CalledProcessError):
            return {**found, "not_finished_at": n, "limit_s": LIMIT_S}
        mine = apart(f"ours_{n}")
        found = {"results": n, "statsmodels": theirs, "ours": mine, "ratio": theirs["s"] / mine["s"]}
    return found


def cluster() -> dict[str, object]:
    """One worker, two workers and none; the work from which two pay for their start, and for their tasks."""
    here, one, two = (apart(f"workers_{n}") for n in (0, 1, 2))
    gain = 1.0 - two["s"] / here["s"]
    return {
        "here": here, "one": one, "two": two,
        "two_over_here": two["s"] / here["s"], "two_over_one": two["s"] / one["s"],
        "same_bits": here["sum_of_squares"] == one["sum_of_squares"] == two["sum_of_squares"],
        # Work of W seconds here takes until_ready + W * two/here there.
        "pays_from_work_of_s": (two["until_ready_s"] - here["until_ready_s"]) / gain if gain > 0.0 else None,
        # A part must last so long for its overhead to be a tenth of it.
        "part_for_a_tenth_of_overhead_s": 10.0 * two["overhead_a_task_s"],
    }  # fmt: skip


def apart(side: str, limit_s: float | None = None) -> dict[str, float]:
    env = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    done = subprocess.run(
        [sys.executable, __file__, "--side", side], env=env, capture_output=True, text=True, check=True,
        timeout=limit_s,
    )  # fmt: skip
    return json.loads(done.stdout)


def main() -> None:
    if sys.argv[1:2] == ["--side"]:
        before = time.process_time()
        figures = SIDES[sys.argv[2]]()
        figures["processor_s"] = time.process_time() - before
        figures["peak_mib"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(json.dumps(figures))
        return
    if "--quick" in sys.argv:
        print(json.dumps({"quick": apart("quick")}, indent=2))
        return
    out: dict[str, object] = {side: apart(side) for side in ("big", "big_no_intervals")}
    out["statsmodels, largest size"] = largest_of_statsmodels()
    out["cluster"] = cluster()
    print(json.dumps(out, indent=2))


if __name__ == "__main__":
    main()
