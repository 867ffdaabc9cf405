"""Trade: results priced at many buyers, beside a loop over rows and beside what moving the bytes costs.

``python benchmarks/bench_trade.py`` prints figures as JSON. Every side runs in a process of its own, so that peak
memory is its own. The loop prices a share of the rows and is counted up; both sides are compared on the same rows.
``--quick`` takes a tenth of the rows.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

RESULTS, BUYERS, LOOPED = 500_000, 12, 2_000
BACK_PER_T = 140.0


def count() -> int:
    return RESULTS // 10 if "--quick" in sys.argv else RESULTS


def outlets() -> list:
    """Twelve invented buyers: steps, slopes, cliffs, windows, tables, each with its own lab and haul."""
    sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))
    from lodestarch.decide.deciding_lab import DecidingLab
    from lodestarch.trade.schedule import Action, Band, Cliff, Premium, Side, Slope, Steps, Table, Window
    from trade.made import curve, outlet

    below, above = Side.BELOW, Side.ABOVE
    shapes = [
        (Steps(300, below, 25, 9, end=250), Cliff(250, below, Action.REJECT)),
        (Slope(300, below, 0.3, most=20), Premium(330, above, 2)),
        (Window(220, 290, Action.DISCOUNT, 15.0),),
        (Table((Band(275, 300, 5.0), Band(250, 275, 9.0), Band(None, 250, 30.0))),),
    ]
    made = []
    for i in range(BUYERS):
        price = curve(*shapes[i % 4], price=190.0 + 3.0 * i)
        lab = DecidingLab(9.0 + 0.4 * i, -3.0 + 0.5 * i, 4.0)
        made.append(outlet(price, f"b{i}", haul=4.0 + i, fee=10.0 if i % 3 == 0 else 0.0, lab=lab))
    return made


def results(n: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(11)
    mean = rng.normal(300.0, 35.0, n).clip(62.0, 450.0)
    return mean, 0.014 * mean, rng.uniform(11.0, 29.0, n)


def ours() -> dict[str, float]:
    """Expected net at every buyer, vectorised."""
    from lodestarch.trade.net_price import net_at

    places, (mean, u, tonnes) = outlets(), results(count())
    net_at(places, mean[:100], u[:100], tonnes[:100], turned_away_per_t=BACK_PER_T)
    times = []
    for _ in range(3):
        began = time.perf_counter()
        net = net_at(places, mean, u, tonnes, turned_away_per_t=BACK_PER_T)
        times.append(time.perf_counter() - began)
    return {"seconds": sorted(times)[1], "checksum": float(net[:LOOPED].sum())}


def loop() -> dict[str, float]:
    """The same closed form, a row and a buyer at a time, with numpy scalars."""
    from scipy.special import ndtr

    from lodestarch.decide.expected_money import breaks_as_jumps
    from lodestarch.trade.net_price import net_curve

    places, (mean, u, tonnes) = outlets(), results(count())
    curves = [net_curve(o, np.inf, BACK_PER_T) for o in places]
    parts = [(c, *breaks_as_jumps(c)) for c in curves]
    total = 0.0
    began = time.perf_counter()
    for k in range(LOOPED):
        for o, (curve, jump, bend) in zip(places, parts, strict=True):
            m = mean[k] + o.deciding.shift_s
            s = np.hypot(u[k], o.deciding.report_sd_s)
            z = (curve.breaks_s - m) / s
            over = ndtr(-z)
            density = np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi)
            paid = curve.intercept[0] + curve.slope_per_s[0] * m
            paid += (jump * over + bend * s * (density - z * over)).sum()
            total += paid - o.fee / tonnes[k]
    seconds = time.perf_counter() - began
    return {"seconds": seconds * count() / LOOPED, "checksum": float(total)}


def floor() -> dict[str, float]:
    """Read the three columns and write the answers once a buyer: what memory alone costs."""
    mean, u, tonnes = results(count())
    out = np.ones((count(), BUYERS), order="F")
    times = []
    for _ in range(5):
        began = time.perf_counter()
        for i in range(BUYERS):
            np.add(mean, u, out=out[:, i])
            np.add(out[:, i], tonnes, out=out[:, i])
        times.append(time.perf_counter() - began)
    return {"seconds": sorted(times)[2], "checksum": 0.0}


SIDES = {"ours": ours, "loop": loop, "floor": floor}


def side(name: str) -> dict[str, float]:
    words = [sys.executable, __file__, "--side", name, *(["--quick"] if "--quick" in sys.argv else [])]
    env = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(words, capture_output=True, text=True, check=True, env=env)
    return json.loads(done.stdout)


def main() -> None:
    if "--side" in sys.argv:
        figures = SIDES[sys.argv[sys.argv.index("--side") + 1]]()
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
        print(json.dumps({**figures, "peak_mib": peak}))
        return
    a, b, c = (side(name) for name in ("ours", "loop", "floor"))
    assert abs(a["checksum"] - b["checksum"]) < 1e-9 * abs(b["checksum"]), "both sides price alike"
    pairs = count() * BUYERS
    print(
        json.dumps(
            {
                "results": count(),
                "buyers": BUYERS,
                "vectorised_s": a["seconds"],
                "prices_a_second": pairs / a["seconds"],
                "ns_a_price": 1e9 * a["seconds"] / pairs,
                "row_loop_s": b["seconds"],
                "row_loop_rows_timed": LOOPED,
                "times_faster_than_the_loop": b["seconds"] / a["seconds"],
                "memory_floor_s": c["seconds"],
                "times_the_memory_floor": a["seconds"] / c["seconds"],
                "peak_mib": a["peak_mib"],
            },
            indent=2,
        )
    )


if __name__ == "__main__":
    main()
