"""What testing a third of the loads keeps of testing all: one JSON object on standard output.

    python benchmarks/bench_receive.py [--quick]

One simulator for every rule; the same grain, the same test errors and the same way of choosing bins. Harvests
differ in level, in rain, and in how far varieties, fields and loads lie apart. Each figure is a ratio of sums over
harvests with a 95 % interval (paired bootstrap). *told* desks know the spread of their harvest, *guessing* desks
all start from one guess. Every harvest is invented; Broadbalk's plots are real and stand in for loads, in random
order.
"""

from __future__ import annotations

import argparse
import csv
import json
import math
import os
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from lodestarch.common.money import MoneyBySeconds
from lodestarch.common.provenance import Provenance
from lodestarch.plan.receive.desk import Mode
from lodestarch.plan.receive.grades import grades_of
from lodestarch.plan.receive.harvest import Harvest, draw_harvest, harvest_from, shuffled
from lodestarch.plan.receive.loads import Spread
from lodestarch.plan.receive.simulate import hindsight, one_bin, play, ratio_of_sums

PRICE = MoneyBySeconds(
    np.array([225.0, 250.0, 275.0, 300.0]),
    np.array([185.0, 203.0, 212.0, 221.0, 230.0]),
    np.zeros(5),
    np.ones(4, dtype=np.bool_),
    "USD/t",
)
"""Invented: full price from 300 s, 9 less by started 25 s, feed price below 225 s."""
GRADES = grades_of(PRICE)
GUESS = Spread(math.log(6000.0 / 240.0), 0.3, 0.10, 0.25, 0.14, 0.06, 0.05, Provenance.INVENTED)
SHARES = {"none": 0.0, "all": 1.0, "random": 1 / 3, "first-of-field": 1 / 3, "worth": 1 / 3}
ROOT = Path(__file__).resolve().parent.parent


def harvest_of(seed: int) -> tuple[Harvest, Spread]:
    """A harvest and its own spread."""
    rng = np.random.default_rng([7, seed])
    level = math.log(6000.0 / (rng.uniform(255.0, 330.0) - 50.0))
    spread = Spread(
        level,
        0.1,
        rng.uniform(0.05, 0.15),
        rng.uniform(0.15, 0.35),
        rng.uniform(0.08, 0.2),
        0.06,
        0.05,
        GUESS.provenance,
    )
    return draw_harvest(spread, rng), spread


def played(harvest: Harvest, spread: Spread, seed: int, mode: Mode = Mode.HOLD) -> dict[str, float]:
    """Every rule on one harvest."""
    out = {
        rule: play(harvest, GRADES, spread, rule, share, seed=seed, mode=mode).value
        for rule, share in SHARES.items()
    }
    return out | {"one": one_bin(harvest, GRADES), "hindsight": hindsight(harvest, GRADES)}


def drawn(seed: int) -> dict[str, dict[str, float]]:
    """One harvest, told, guessing, dumping before the result, and with its attributes dealt out at random."""
    harvest, own = harvest_of(seed)
    mixed = shuffled(harvest, np.random.default_rng([8, seed]))
    return {
        "told": played(harvest, own, seed),
        "guessing": played(harvest, GUESS, seed),
        "dump now, guessing": played(harvest, GUESS, seed, Mode.DUMP),
        "attributes shuffled": {
            rule: play(mixed, GRADES, own, rule, 1 / 3, seed=seed).value for rule in ("random", "worth")
        },
    }


def broadbalk(seed: int) -> dict[str, float]:
    """One season's plots as loads in random order; field: the section, variety: as sown."""
    season = seasons()[seed % len(seasons())]
    rng = np.random.default_rng([9, seed])
    harvest = harvest_from(
        [fn for fn, _, _ in season], [f for _, f, _ in season], [v for _, _, v in season], 24.0, rng
    )
    return played(harvest, GUESS, seed)


def seasons() -> list[list[tuple[float, str, str]]]:
    """Plots of each season: number, section, variety."""
    out = []
    for path in sorted((ROOT / "examples" / "broadbalk" / "samples").glob("*.csv")):
        bench = ROOT / "examples" / "broadbalk" / "bench" / path.name
        with path.open(encoding="utf-8") as a, bench.open(encoding="utf-8") as b:
            about = {row["sample"]: row for row in csv.DictReader(a)}
            numbers = {row["sample"]: row["seconds"] for row in csv.DictReader(b)}
        rows = [
            (float(s.lstrip("<=>")), about[k]["origin"], about[k]["variety"])
            for k, s in numbers.items()
            if k in about and s
        ]
        out.append([(max(fn, 62.0), f, v) for fn, f, v in rows])
    return [s for s in out if len(s) >= 12]


def figures(rows: list[dict[str, float]]) -> dict[str, object]:
    """Ratios over harvests."""
    v = {k: np.array([row[k] for row in rows]) for k in rows[0]}
    rng = np.random.default_rng(1)

    def ratio(over: np.ndarray, under: np.ndarray) -> dict[str, float]:
        value, low, high = ratio_of_sums(over, under, rng)
        return {"ratio": value, "low": low, "high": high}

    everything = v["all"] - v["none"]
    return {
        "harvests": len(rows),
        "all_minus_none_usd_a_harvest": float(everything.mean()),
        "of_all_minus_none": {
            rule: ratio(v[rule] - v["none"], everything) for rule in ("worth", "first-of-field", "random")
        },
        "binning_of_hindsight_minus_one_bin": ratio(v["all"] - v["one"], v["hindsight"] - v["one"]),
    }


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true", help="few harvests: does it run at all")
    quick = parser.parse_args().quick
    n = 6 if quick else 240
    start = time.perf_counter()
    with ProcessPoolExecutor(2) as pool:
        rows = list(pool.map(drawn, range(n)))
        real = list(pool.map(broadbalk, range(len(seasons()) * (1 if quick else 12))))
    result: dict[str, object] = {"cores": os.cpu_count(), "loads_a_harvest": 300, "bins": 6}
    for case in ("told", "guessing", "dump now, guessing"):
        result[case] = figures([row[case] for row in rows])
    mixed = np.array(
        [row["attributes shuffled"]["worth"] - row["attributes shuffled"]["random"] for row in rows]
    )
    scale = float(np.mean([row["told"]["all"] - row["told"]["none"] for row in rows]))
    error = float(mixed.std(ddof=1) / math.sqrt(n))
    result["attributes shuffled: worth minus random, of all minus none"] = {
        "value": float(mixed.mean()) / scale,
        "low": (float(mixed.mean()) - 1.96 * error) / scale,
        "high": (float(mixed.mean()) + 1.96 * error) / scale,
    }
    result["Broadbalk's plots as stand-in loads in random order"] = figures(real)
    result["seconds"] = time.perf_counter() - start
    print(json.dumps(result, indent=2))


if __name__ == "__main__":
    main()
