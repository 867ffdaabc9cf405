"""How fast a plan is proven: one JSON object on standard output.

    python benchmarks/bench_plan.py [--quick]

The problem: bins to contracts with price bands in seconds, limits on five further factors, wanted odds at the lab
that decides, to a proven relative gap of 0.1 %. Peers in the same run: HiGHS on the final model, every tangent that
was found included, with all its columns and whole numbers, from nothing; SCIP on the same programme with its cones
as quadratics, up to a limit of time. Ratios are of processor time in this one process, one thread; wall clock times
stand beside.
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
from lodestarch.plan.programme import outer, root
from lodestarch.plan.programme.highs import Solver, _Quiet
from lodestarch.plan.programme.tangents import lift
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


class Clock:
    """Processor time and wall clock of a call. [s]"""

    def __init__(self, call: Callable[[], object]) -> None:
        cpu, wall = time.process_time(), time.perf_counter()
        self.got = call()
        self.cpu_s, self.wall_s = time.process_time() - cpu, time.perf_counter() - wall

    @property
    def times(self) -> dict[str, float]:
        return {"cpu_s": self.cpu_s, "wall_s": self.wall_s}


def ours(problem: PlanProblem, time_s: float = 600.0) -> tuple[dict[str, object], Clock, list[Solver]]:
    """The plan, its times, and the solvers of its way, the last of them with every tangent."""
    kept: list[Solver] = []

    def keep(*given: object) -> Solver:
        kept.append(Solver(*given))  # type: ignore[arg-type]
        return kept[-1]

    root.Solver = outer.Solver = keep  # type: ignore[assignment, misc]
    try:
        clock = Clock(lambda: plan_for(problem, PlanSettings(GAP, time_s)))
    finally:
        root.Solver = outer.Solver = Solver  # type: ignore[misc]
    plan = clock.got
    said = {
        "ended": plan.ended.value, "objective": plan.objective, "gap": plan.gap, "rounds": plan.rounds,
        "tangents": plan.tangents, **clock.times,
    }  # fmt: skip
    return said, clock, kept


def highs_on_final(problem: PlanProblem, last: Solver, time_s: float) -> dict[str, object]:
    """HiGHS on the final model, whole numbers and tangents included, from nothing."""
    programme = build(problem, exclusions(problem)).programme
    held = root.without_parts(programme, lift(programme))
    model = Solver(programme, np.flatnonzero(held))
    model.add_rows(last.added_rows())
    lp = model._highs.getLp()  # noqa: SLF001  # the peer gets the very model that was solved
    kinds = [highspy.HighsVarType.kContinuous] * lp.num_col_
    for i in np.flatnonzero(np.isin(model.held, model.whole)):
        kinds[int(i)] = highspy.HighsVarType.kInteger
    lp.integrality_ = kinds
    h = _Quiet()
    for option, value in (("threads", 1), ("random_seed", 0), ("mip_rel_gap", GAP), ("time_limit", time_s)):
        h.setOptionValue(option, value)
    h.passModel(lp)
    clock = Clock(h.run)
    ended = h.modelStatusToString(h.getModelStatus())
    return {
        "ended": ended,
        "gap": h.getInfo().mip_gap,
        "rows": lp.num_row_,
        "columns": lp.num_col_,
        **clock.times,
    }


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
    clock = Clock(m.optimize)
    found = m.getNSols() > 0
    return {
        "status": str(m.getStatus()), **clock.times, "gap": m.getGap() if found else None,
        "objective": -(m.getObjVal() + p.constant) if found else None,
    }  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true")
    quick = parser.parse_args().quick
    size = (40, 10) if quick else (200, 40)
    ratios = {}
    for seed in (7,) if quick else (7, 8, 9):
        problem = drawn(*size, seed=seed)
        said, clock, solvers = ours(problem)
        peer = highs_on_final(problem, solvers[-1], 60.0 if quick else 600.0)
        ratios[f"seed {seed}"] = {
            "plan": said,
            "HiGHS on the final model": {
                **peer, "ratio": clock.cpu_s / peer["cpu_s"], "ratio by wall clock": clock.wall_s / peer["wall_s"]
            },
        }  # fmt: skip
    scip = scip_on_cones(problem, 60.0 if quick else 300.0)
    scip = {
        **scip,
        "times slower": scip["cpu_s"] / clock.cpu_s,
        "by wall clock": scip["wall_s"] / clock.wall_s,
    }
    growth = {}
    for n in (20, 40, 80) if quick else (20, 50, 100, 200, 400):
        growth[f"{n} bins x {max(2, n // 5)}"] = ours(drawn(n, max(2, n // 5), seed=11))[0]
    small = {f"seed {seed}": ours(drawn(12, 6, seed=seed))[0] for seed in ((5,) if quick else range(1, 9))}
    print(
        json.dumps(
            {
                "problem": f"{size[0]} bins x {size[1]} contracts x 6 factors, three bands, wanted odds, gap 0.1 %",
                "against HiGHS": ratios,
                f"SCIP on the cones, {list(ratios)[-1]}": scip,
                "growth": growth,
                "12 x 6": small,
            },
            indent=2,
        )
    )


if __name__ == "__main__":
    main()
