"""How fast a plan is proven: one JSON object on standard output.

    python benchmarks/bench_plan.py [--quick]

The problem: bins to contracts with price bands in seconds, limits on five further factors, wanted odds at the lab
that decides, to a proven relative gap of 0.1 %. Peers in the same run: HiGHS on the very model that the last run
with whole numbers had, tangents included, handed over whole; SCIP on the same programme with its cones as
quadratics. Times are processor time in this one process, with one thread.
"""

from __future__ import annotations

import argparse
import json
import math
import time
from collections.abc import Callable

import highspy
import numpy as np
import pyscipopt

from lodestarch.plan.allocate.build import build
from lodestarch.plan.allocate.exclude import exclusions
from lodestarch.plan.allocate.plan import PlanSettings, plan_for
from lodestarch.plan.allocate.problem import (
    DecidingLab,
    FactorValue,
    PlanBin,
    PlanOffer,
    PlanProblem,
    PriceBand,
)
from lodestarch.plan.programme import outer
from lodestarch.plan.programme.highs import Solver
from lodestarch.plan.programme.programme import Programme
from lodestarch.trade.offer import Clause, Judged

GAP = 1e-3
FACTORS = (
    ("protein_pct", 9.0, 12.5, None, 11.0),
    ("moisture_pct", 11.0, 14.5, None, 13.5),
    ("damage_pct", 0.5, 6.0, None, 4.0),
    ("foreign_pct", 0.1, 1.2, None, 0.8),
    ("test_weight_kg_hl", 72.0, 82.0, 76.0, None),
)


def drawn(n_bins: int, n_offers: int, seed: int) -> PlanProblem:
    """Bins and contracts of an invented house, the stock about 1.3 times what the contracts take."""
    rng = np.random.default_rng(seed)
    bins = tuple(
        PlanBin(
            f"b{i}", float(rng.integers(100, 500)), float(np.clip(rng.normal(300, 45), 160, 400)),
            fn_u_s=float(rng.uniform(4, 10)),
            factors={key: FactorValue(float(rng.uniform(low, high))) for key, low, high, _, _ in FACTORS},
            keep_price_per_t=float(rng.uniform(150, 180)),
        )
        for i in range(n_bins)
    )  # fmt: skip
    most = 300.0 * n_bins / n_offers / 1.3
    offers = []
    for o in range(n_offers):
        top = float(rng.choice([290.0, 310.0, 330.0]))
        bands = (
            PriceBand("fn_s", top, None, 4.0),
            PriceBand("fn_s", top - 25.0, top, 0.0),
            PriceBand("fn_s", top - 50.0, top - 25.0, -10.0),
            PriceBand("fn_s", None, top - 50.0, None),
        )
        clauses = tuple(
            Clause(
                key, Judged.COMPOSITE,
                None if low is None else low + float(rng.uniform(-1.0, 1.0)),
                None if high is None else high * float(rng.uniform(0.95, 1.1)),
            )
            for key, _, _, low, high in FACTORS
        )  # fmt: skip
        offers.append(
            PlanOffer(
                f"o{o}", float(rng.uniform(190, 235)), least_t=0.2 * most, most_t=most * float(rng.uniform(0.7, 1.3)),
                clauses=clauses, bands=bands, wanted_odds=float(rng.choice([0.9, 0.95])),
                lab=DecidingLab(float(rng.uniform(8, 12)), float(rng.uniform(-3, 3)), 4.0),
            )
        )  # fmt: skip
    return PlanProblem(bins, tuple(offers), bench_u_s=3.0)


def timed(call: Callable[[], object]) -> tuple[object, float]:
    start = time.process_time()
    got = call()
    return got, time.process_time() - start


def ours(problem: PlanProblem, time_s: float = 600.0) -> tuple[dict[str, object], Solver, float]:
    """The plan, the solver as it stands at the end, and the processor time."""
    held: list[Solver] = []

    def hold(programme: Programme) -> Solver:
        held.append(Solver(programme))
        return held[-1]

    plain, outer.Solver = outer.Solver, hold  # type: ignore[assignment, misc]
    try:
        plan, took = timed(lambda: plan_for(problem, PlanSettings(GAP, time_s)))
    finally:
        outer.Solver = plain  # type: ignore[misc]
    said = {
        "ended": plan.ended.value, "objective": plan.objective, "gap": plan.gap, "rounds": plan.rounds,
        "tangents": plan.tangents, "cpu_s": took,
    }  # fmt: skip
    return said, held[-1], took


def highs_on_final(solver: Solver) -> float:
    """HiGHS on the final model, whole numbers and tangents included, from nothing."""
    lp = solver._highs.getLp()  # noqa: SLF001  # the peer gets the very model that was solved
    kinds = [highspy.HighsVarType.kContinuous] * lp.num_col_
    for i in solver.whole:
        kinds[int(i)] = highspy.HighsVarType.kInteger
    lp.integrality_ = kinds
    h = highspy.Highs()
    h.silent()
    for option, value in (("threads", 1), ("random_seed", 0), ("mip_rel_gap", GAP)):
        h.setOptionValue(option, value)
    h.passModel(lp)
    _, took = timed(h.run)
    return took


def scip_on_cones(problem: PlanProblem, time_s: float) -> dict[str, object]:
    """SCIP on the same programme, its cones as quadratics."""
    p = build(problem, exclusions(problem)).programme
    m = pyscipopt.Model()
    m.hideOutput()
    m.setParam("limits/gap", GAP)
    m.setParam("limits/time", time_s)
    cost, low, high = (np.concatenate(part) for part in (p.cost, p.low, p.high))
    whole = np.concatenate(p.whole)
    x = [
        m.addVar(
            lb=float(low[i]),
            ub=None if math.isinf(high[i]) else float(high[i]),
            vtype="I" if whole[i] else "C",
            obj=float(cost[i]),
        )
        for i in range(p.columns)
    ]
    q = pyscipopt.quicksum
    for (columns, values), a, b in zip(p.rows, p.row_low, p.row_high, strict=True):
        total = q(float(v) * x[int(c)] for c, v in zip(columns, values, strict=True))
        if a == b:
            m.addCons(total == a)
            continue
        if not math.isinf(a):
            m.addCons(total >= a)
        if not math.isinf(b):
            m.addCons(total <= b)
    for c in p.cones:
        root = m.addVar(lb=0.0)
        m.addCons(
            q(float(v) * x[int(i)] for i, v in zip(c.columns, c.linear, strict=True)) + c.z * root <= c.limit
        )
        m.addCons(
            q(float(s) ** 2 * x[int(i)] * x[int(i)] for i, s in zip(c.spread_columns, c.spread, strict=True))
            <= root * root
        )
    _, took = timed(m.optimize)
    found = m.getNSols() > 0
    return {
        "status": str(m.getStatus()), "cpu_s": took, "gap": m.getGap() if found else None,
        "objective": -(m.getObjVal() + p.constant) if found else None,
    }  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true")
    quick = parser.parse_args().quick
    size = (40, 10) if quick else (200, 40)
    problem = drawn(*size, seed=7)
    said, solver, took = ours(problem)
    peer = highs_on_final(solver)
    scip = scip_on_cones(problem, 60.0 if quick else 10.0 * max(took, 20.0))
    growth = {}
    for n in (20, 40, 80) if quick else (20, 50, 100, 200, 400):
        grown, _, cpu = ours(drawn(n, max(2, n // 5), seed=11), 180.0)
        growth[f"{n} bins x {max(2, n // 5)}"] = {"cpu_s": cpu, "gap": grown["gap"], "ended": grown["ended"]}
    small, _, small_cpu = ours(drawn(12, 6, seed=5))
    print(
        json.dumps(
            {
                "problem": f"{size[0]} bins x {size[1]} contracts x 6 factors, three bands, wanted odds, gap 0.1 %",
                "plan": said,
                "HiGHS on the final model": {"cpu_s": peer, "ratio": took / peer},
                "SCIP on the cones": {**scip, "times slower": scip["cpu_s"] / took},
                "growth": growth,
                "12 x 6": {"cpu_s": small_cpu, "ended": small["ended"], "gap": small["gap"]},
            },
            indent=2,
        )
    )


if __name__ == "__main__":
    main()
