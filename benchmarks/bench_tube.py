"""How fast the tube model runs: one JSON object on standard output.

    python benchmarks/bench_tube.py [--quick]

One run, the same equations, falling numbers within 0.1 s of the reference (SciPy DOP853 at 1e-10), all nine
inputs varying from tube to tube, compile time apart. A peer integrates its differential equations by the
loosest tolerance that keeps every tube of the sample within 0.1 s; compiled peers get the right-hand side
compiled too, and are even told when the fall ends. Timings are medians; one-thread figures are processor time and
are compared with one another.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import platform
import statistics
import sys
import time
import tracemalloc
from collections.abc import Callable

import numba
import numpy as np
import scipy
from scipy.stats import qmc

from lodestarch.method.bath import boiling_point_c
from lodestarch.tube.bench import shipped_bench
from lodestarch.tube.calibration.fit import fit
from lodestarch.tube.calibration.posterior import posterior
from lodestarch.tube.calibration.problem import Problem
from lodestarch.tube.calibration.published import published
from lodestarch.tube.composition import charge
from lodestarch.tube.ensemble import seconds
from lodestarch.tube.grid import FAST
from lodestarch.tube.heat import chain
from lodestarch.tube.history import run
from lodestarch.tube.inputs import TubeArrays, TubeInputs
from lodestarch.tube.parameters import LUMPED, shipped_set
from lodestarch.tube.reference import integrate
from lodestarch.tube.shares import bench_shares

REF = shipped_set()
WITHIN_S = 0.1
N = REF.shells
TOLERANCES = (1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 1e-6)


def drawn(n: int, seed: int) -> TubeArrays:
    """Tubes of the working range; all nine inputs differ in every tube."""
    u = qmc.LatinHypercube(9, rng=np.random.default_rng(seed)).random(n).T
    return TubeArrays(
        activity=np.exp(np.log(1.0) + u[0] * np.log(100.0)),
        mass_g=6.5 + u[1],
        moisture_pct=10.0 + 7.0 * u[2],
        water_ml=24.0 + 2.0 * u[3],
        start_temp_c=18.0 + 8.0 * u[4],
        pressure_hpa=850.0 + 180.0 * u[5],
        wall_mm=1.25 + 0.3 * u[6],
        stir_from_s=3.0 + 4.0 * u[7],
        decay_85_per_s=REF.decay_85_per_s * 4.0 ** (u[8] - 0.5),
    )


def one(tubes: TubeArrays, i: int) -> TubeInputs:
    return TubeInputs(**{key: float(getattr(tubes, key)[i]) for key in TubeArrays.__dataclass_fields__})


def timed(call: Callable[[], object], repeats: int) -> dict[str, float]:
    """Wall time, and processor time, which a busy machine does not stretch."""
    took, cpu = [], []
    for _ in range(repeats):
        start, busy = time.perf_counter(), time.process_time()
        call()
        took.append(time.perf_counter() - start)
        cpu.append(time.process_time() - busy)
    return {"median_s": statistics.median(took), "least_s": min(took), "most_s": max(took),
            "cpu_median_s": statistics.median(cpu), "cpu_least_s": min(cpu)}  # fmt: skip


# --- The same equations as differential equations, for peers: T, g, e by shell, then glass, cuts, share fallen.


def constants(inputs: TubeInputs) -> np.ndarray:
    """Everything a right-hand side needs, in one row."""
    c, p = chain(inputs, REF), REF
    ratio = charge(inputs, REF).dry_share / p["standard_dry_share"]
    gas = p["gas_constant_j_molk"]
    head = [
        boiling_point_c(inputs.pressure_hpa), inputs.decay_85_per_s, p["decay_energy_j_mol"] / gas,
        p["cutting_energy_j_mol"] / gas, p["swell_mid_c"], 1.0 / p["swell_width_c"], 1.0 / p["swell_time_s"],
        p["paste_exponent"], math.log(ratio), p["paste_energy_j_mol"] / gas,
        p["cutting_rate_per_s"] * inputs.activity * ratio, math.log(p["paste_time_s"]),
        math.log(p["speed_cap_per_s"]), c.stirred_w_mk,
    ]  # fmt: skip
    return np.concatenate((head, c.weights, c.capacity_j_mk, c.still_w_mk))


HEAD = 14


@numba.njit(cache=True)
def still_rates(y, d, k, falling):
    w, cap, g = k[HEAD : HEAD + N], k[HEAD + N : HEAD + 2 * N + 1], k[HEAD + 2 * N + 1 :]
    glass = y[3 * N]
    cuts = strength = 0.0
    flow = 0.0
    for i in range(N):
        t, s, e = y[3 * i], y[3 * i + 1], y[3 * i + 2]
        onward = g[i] * ((y[3 * i + 3] if i < N - 1 else glass) - t)
        d[3 * i] = (onward - flow) / cap[i]
        flow = onward
        per = 1.0 / (t + 273.15)
        d[3 * i + 1] = max(1.0 / (1.0 + math.exp((k[4] - t) * k[5])) - s, 0.0) * k[6]
        d[3 * i + 2] = -k[1] * math.exp(-k[2] * (per - 1.0 / 358.15)) * e
        cuts += w[i] * math.exp(-k[3] * (per - 1.0 / 353.15)) * e * s
        strength += w[i] * (k[7] * math.log(max(s, 1e-3)) + k[9] * (per - 1.0 / 363.15))
    d[3 * N] = (g[N] * (k[0] - glass) - flow) / cap[N]
    d[3 * N + 1] = cuts
    log_speed = k[10] * y[3 * N + 1] - strength - k[7] * k[8] - k[11]
    d[3 * N + 2] = math.exp(min(log_speed, k[12])) if falling else 0.0


@numba.njit(cache=True)
def stirred_rates(y, d, k):
    cap, g = k[HEAD + N : HEAD + 2 * N + 1], k[HEAD + 2 * N + 1 :]
    into = k[13] * (y[4] - y[0])
    total = 0.0
    for i in range(N):
        total += cap[i]
    per = 1.0 / (y[0] + 273.15)
    d[0] = into / total
    d[1] = max(1.0 / (1.0 + math.exp((k[4] - y[0]) * k[5])) - y[1], 0.0) * k[6]
    d[2] = -k[1] * math.exp(-k[2] * (per - 1.0 / 358.15)) * y[2]
    d[3] = math.exp(-k[3] * (per - 1.0 / 353.15)) * y[2] * y[1]
    d[4] = (g[N] * (k[0] - y[4]) - into) / cap[N]


def cold(inputs: TubeInputs) -> np.ndarray:
    y = np.zeros(3 * N + 3)
    y[: 3 * N : 3], y[2 : 3 * N : 3], y[3 * N] = inputs.start_temp_c, 1.0, inputs.start_temp_c
    return y


def mixed(y: np.ndarray, k: np.ndarray) -> np.ndarray:
    w = k[HEAD : HEAD + N]
    return np.array([w @ y[: 3 * N : 3], w @ y[1 : 3 * N : 3], w @ y[2 : 3 * N : 3], y[3 * N + 1], y[3 * N]])


def released(y: np.ndarray) -> np.ndarray:
    return np.concatenate((np.tile(y[:3], N), [y[4], y[3], 0.0]))


def arrived(at: float, y: np.ndarray, k: np.ndarray) -> float:
    """Seconds, from a state close to the end of the fall."""
    d = np.empty_like(y)
    still_rates(y, d, k, True)
    return at + (1.0 - y[-1]) / d[-1]


Phase = Callable[[str, float, float, np.ndarray, np.ndarray], np.ndarray]


def by_phases(phase: Phase, inputs: TubeInputs, end_s: float) -> float:
    k = constants(inputs)
    y = phase("waiting", 0.0, inputs.stir_from_s, cold(inputs), k)
    y = phase("stirred", inputs.stir_from_s, 60.0, mixed(y, k), k)
    return arrived(end_s, phase("falling", 60.0, end_s, released(y), k), k)


def lsoda_phase(rtol: float, compiled: bool) -> Phase:
    from scipy.integrate import solve_ivp

    still = still_rates if compiled else still_rates.py_func
    stirred = stirred_rates if compiled else stirred_rates.py_func

    def phase(kind, start, end, y, k):
        d = np.empty_like(y)

        def rates(_t, y):
            if kind == "stirred":
                stirred(y, d, k)
            else:
                still(y, d, k, kind == "falling")
            return d

        out = solve_ivp(rates, (start, end), y, method="LSODA", rtol=rtol, atol=1e-2 * rtol)
        return out.y[:, -1]

    return phase


def plain_lsoda(rtol: float) -> Callable[[TubeInputs, float], float]:
    """The reference path as it stands (NumPy right-hand side, end of the fall as an event), by LSODA."""

    def call(inputs: TubeInputs, _end: float) -> float:
        return integrate(inputs, REF, method="LSODA", rtol=rtol, atol=1e-2 * rtol).seconds

    return call


def cvode_phase(rtol: float, method: str) -> Phase:
    from sksundae.cvode import CVODE

    options = {"method": method, "rtol": rtol, "atol": 1e-2 * rtol, "max_num_steps": 100000}

    def still(_t, y, yp, data):
        still_rates(y, yp, data[0], data[1])

    def stirred(_t, y, yp, data):
        stirred_rates(y, yp, data[0])

    def phase(kind, start, end, y, k):
        solver = CVODE(stirred if kind == "stirred" else still, userdata=(k, kind == "falling"), **options)
        return solver.solve(np.array([start, end]), y).y[-1]

    return phase


def numba_lsoda(rtol: float) -> Callable[[TubeInputs, float], float] | None:
    """LSODA called from compiled code, where that package is installed (it asks for a Fortran compiler)."""
    try:
        from numbalsoda import lsoda, lsoda_sig
    except ImportError:
        return None
    still, stirred = still_rates, stirred_rates

    size, row = 3 * N + 3, HEAD + 3 * N + 2

    @numba.cfunc(lsoda_sig)
    def falling_c(_t, u, du, p):
        still(numba.carray(u, (size,)), numba.carray(du, (size,)), numba.carray(p, (row,)), True)

    @numba.cfunc(lsoda_sig)
    def waiting_c(_t, u, du, p):
        still(numba.carray(u, (size,)), numba.carray(du, (size,)), numba.carray(p, (row,)), False)

    @numba.cfunc(lsoda_sig)
    def stirred_c(_t, u, du, p):
        stirred(numba.carray(u, (5,)), numba.carray(du, (5,)), numba.carray(p, (row,)))

    pointer = {"waiting": waiting_c.address, "stirred": stirred_c.address, "falling": falling_c.address}

    def phase(kind, start, end, y, k):
        out, _ = lsoda(pointer[kind], y, np.array([start, end]), data=k, rtol=rtol, atol=1e-2 * rtol)
        return out[-1]

    return lambda inputs, end: by_phases(phase, inputs, end)


def peer(make: Callable[[float], Callable[[TubeInputs, float], float] | None], sample, ends, repeats) -> dict:
    """Loosest tolerance that keeps every tube within 0.1 s, and its time per tube."""
    for rtol in TOLERANCES:
        call = make(rtol)
        if call is None:
            return {"installed": False}
        try:
            worst = max(abs(call(t, e) - e) for t, e in zip(sample, ends, strict=True))
        except Exception as failure:  # noqa: BLE001  # a peer that gives up at one tolerance is tried at the next
            print(f"{type(failure).__name__} at {rtol}", file=sys.stderr)
            continue
        if worst <= WITHIN_S:
            took = timed(lambda: [call(t, e) for t, e in zip(sample, ends, strict=True)], repeats)  # noqa: B023
            return {"installed": True, "rtol": rtol, "worst_s": worst,
                    "cpu_us_per_tube": 1e6 * took["cpu_median_s"] / len(sample),
                    "us_per_tube": 1e6 * took["median_s"] / len(sample),
                    "us_range": [1e6 * took["least_s"] / len(sample), 1e6 * took["most_s"] / len(sample)]}  # fmt: skip
    return {"installed": True, "rtol": None}


@numba.njit(cache=True)
def exponentials(x, n):
    total = 0.0
    for i in range(n):
        total += math.exp(x[i & 1023])
    return total


@numba.njit(cache=True)
def logarithms(x, n):
    total = 0.0
    for i in range(n):
        total += math.log(x[i & 1023])
    return total


@numba.njit(cache=True)
def divisions(x, n):
    total = 0.0
    for i in range(n):
        total += 1.0 / x[i & 1023]
    return total


def floor_us(fn_s: np.ndarray) -> dict[str, float]:
    """Arithmetic floor: the exponentials, logarithms and divisions of the formulae on this grid, nothing else."""
    x = np.random.default_rng(0).uniform(0.1, 0.9, 1024)
    cost = {}
    for name, f in (("exp", exponentials), ("log", logarithms), ("div", divisions)):
        f(x, 10)
        cost[name] = timed(lambda f=f: f(x, 1_000_000), 5)["cpu_least_s"]  # s per million is µs each
    grid = FAST
    after = []
    for fn in fn_s:
        now, h, steps = 60.0, grid.first_s, 0
        while now < fn:
            for _ in range(grid.each):
                if now >= fn:
                    break
                now += h
                steps += 1
            h = min(2.0 * h, grid.longest_s)
        after.append(steps)
    mixed_steps = math.ceil(55.0 / grid.stirring_s)
    shell_nodes = N * (statistics.mean(after) + 1 + math.ceil(5.0 / grid.waiting_s) + 1) + mixed_steps + 1
    exps = 3.0 * shell_nodes + 4.0 * (
        statistics.mean(after) + 2.0
    )  # k_d, g_eq, act·e; the fall by four points
    us = exps * cost["exp"] + shell_nodes * (cost["log"] + 2.0 * cost["div"])
    return {"us_per_tube": us, "exp_ns": 1e3 * cost["exp"], "log_ns": 1e3 * cost["log"],
            "div_ns": 1e3 * cost["div"], "exp_per_tube": exps, "nodes_per_tube": shell_nodes}  # fmt: skip


def peers(sample: list[TubeInputs], ends: list[float], single_us: float, repeats: int) -> dict[str, object]:
    makers = {
        "solve_ivp LSODA, plain right-hand side": plain_lsoda,
        "solve_ivp LSODA, compiled right-hand side": lambda r: (
            lambda t, e: by_phases(lsoda_phase(r, True), t, e)
        ),
        "CVODE Adams": lambda r: lambda t, e: by_phases(cvode_phase(r, "Adams"), t, e),
        "CVODE BDF": lambda r: lambda t, e: by_phases(cvode_phase(r, "BDF"), t, e),
        "LSODA called from compiled code": numba_lsoda,
    }
    table: dict[str, object] = {}
    for name, make in makers.items():
        try:
            line = peer(make, sample, ends, repeats)
        except ImportError:
            line = {"installed": False}
        if line.get("cpu_us_per_tube"):
            line["ratio_one_thread"] = line["cpu_us_per_tube"] / single_us
        table[name] = line
    ratios = {name: line["ratio_one_thread"] for name, line in table.items() if "ratio_one_thread" in line}
    plain = "solve_ivp LSODA, plain right-hand side"
    return {
        "peers": table,
        "ratios_one_thread": {
            "over_solve_ivp_lsoda": ratios.get(plain),
            "over_fastest_compiled": min((r for name, r in ratios.items() if name != plain), default=None),
        },
    }


def studies(quick: bool) -> dict[str, object]:
    """A picture's history, shares of variance, a fit and a posterior."""
    history = timed(lambda: run(TubeInputs(ln=24.0), REF), 20)
    free = TubeInputs(activity=0.0)
    start = time.perf_counter()
    shares = bench_shares(
        300.0, free, REF, shipped_bench(), np.random.default_rng(4), points=128 if quick else 4096
    )
    sobol_s = time.perf_counter() - start
    pub = published(REF)
    problem = Problem(REF, LUMPED, pub.lots, pub.observations)
    start = time.perf_counter()
    best = fit(problem, "bench")
    fit_s = time.perf_counter() - start
    start = time.perf_counter()
    out = posterior(problem, np.random.default_rng(5), centre=best.theta, steps=60 if quick else 1500)
    return {
        "history_ms": 1e3 * history["median_s"],
        "sobol": {"inputs": 9, "evaluations": shares.shares.evaluations, "s": sobol_s,
                  "largest_u": float(shares.shares.total_u.max())},
        "fit": {"s": fit_s, "sum_of_squares": best.sum_of_squares},
        "posterior": {"constants": 4, "evaluations": out.evaluations, "s": time.perf_counter() - start,
                      "effective_draws": out.effective},
    }  # fmt: skip


def ensembles(quick: bool) -> dict[str, object]:
    """Time per tube over sizes, on all threads and on one, and beside the arithmetic floor."""
    threads = numba.get_num_threads()
    by_size = []
    for n in (1_000, 10_000) if quick else (1_000, 10_000, 100_000, 1_000_000):
        tubes = drawn(n, 2)
        tracemalloc.start()
        took = timed(lambda tubes=tubes: seconds(tubes, REF), 1 if n >= 1_000_000 else 5)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        by_size.append({"tubes": n, "us_per_tube": 1e6 * took["median_s"] / n, "per_s": n / took["median_s"],
                        "us_range": [1e6 * took["least_s"] / n, 1e6 * took["most_s"] / n],
                        "memory_beside_inputs_mb": peak / 2**20, "of_it_results_mb": 8 * n / 2**20})  # fmt: skip
    tubes = drawn(5_000, 3)
    numba.set_num_threads(1)
    single = timed(lambda: seconds(tubes, REF), 7)
    numba.set_num_threads(threads)
    us = {key: 1e6 * value / 5_000 for key, value in single.items()}
    floor = floor_us(seconds(tubes, REF))
    return {
        "ensemble": by_size,
        "one_thread": {"cpu_us_per_tube": us["cpu_median_s"], "us_per_tube": us["median_s"],
                       "us_range": [us["least_s"], us["most_s"]]},
        "floor": floor | {"ratio": us["cpu_least_s"] / floor["us_per_tube"]},
    }  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true", help="small sizes: does it run at all")
    quick = parser.parse_args().quick
    result: dict[str, object] = {
        "machine": {"cpu": platform.processor() or platform.machine(), "cores": os.cpu_count(),
                    "threads": numba.get_num_threads(), "load": list(os.getloadavg()),
                    "python": platform.python_version(), "numpy": np.__version__, "scipy": scipy.__version__,
                    "numba": numba.__version__},
        "within_s": WITHIN_S,
    }  # fmt: skip
    start = time.perf_counter()
    seconds(drawn(256, 0), REF)
    run(TubeInputs(ln=24.0), REF)
    result["first_call_s"] = time.perf_counter() - start
    few = 6 if quick else 24
    arrays = drawn(few, 1)
    sample = [one(arrays, i) for i in range(few)]
    ends = [integrate(t, REF).seconds for t in sample]
    worst = float(np.abs(seconds(arrays, REF) - ends).max())
    result["accuracy"] = {
        "tubes": few,
        "worst_s": worst,
        "fn_s": [min(ends), statistics.median(ends), max(ends)],
    }
    result |= ensembles(quick)
    single_us = result["one_thread"]["cpu_us_per_tube"]  # type: ignore[index]
    result |= peers(sample, ends, single_us, 1 if quick else 3)
    result |= studies(quick)
    print(json.dumps(result, indent=2))


if __name__ == "__main__":
    main()
