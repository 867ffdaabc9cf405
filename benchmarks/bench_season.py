"""The season: crossed random effects on a million results, and statsmodels at the largest size tried.

``python benchmarks/bench_season.py`` prints figures as JSON. Every side runs in a process of its own, with one thread
of linear algebra, so that peak memory and processor time are its own. ``--quick`` runs small sizes.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time

import numpy as np

BIG = (1_000_000, (500, 5000, 20))
SMALL = (2000, (20, 40, 8))
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


SIDES = {
    "big": lambda: ours(*BIG, intervals=True),
    "big_no_intervals": lambda: ours(*BIG, intervals=False),
    "small_ours": lambda: ours(*SMALL, intervals=False),
    "small_statsmodels": lambda: statsmodels(*SMALL),
    "quick": lambda: ours(*QUICK, intervals=True),
}


def apart(side: str) -> dict[str, float]:
    env = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    done = subprocess.run(
        [sys.executable, __file__, "--side", side], env=env, capture_output=True, text=True, check=True
    )
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
    out = {side: apart(side) for side in ("big", "big_no_intervals", "small_ours", "small_statsmodels")}
    ratio = out["small_statsmodels"]["s"] / out["small_ours"]["s"]
    print(json.dumps({**out, "statsmodels_over_ours_at_2000_results": ratio}, indent=2))


if __name__ == "__main__":
    main()
