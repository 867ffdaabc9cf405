"""Charts of the check materials of a bench, with what the charts promise and the upkeep marked on them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from itertools import combinations
from typing import Final

import polars as pl

from lodestarch.common.errors import NoAnswer
from lodestarch.common.findings import Finding
from lodestarch.control.chart_constants import chart_constants
from lodestarch.control.chart_report import MaterialChart, read_charts
from lodestarch.control.charts import baseline_of, widened_factor
from lodestarch.control.material_drift import MaterialDrift, material_drift
from lodestarch.control.run_length import arl_cusum, arl_ewma, arl_rules, arl_shewhart

__all__ = [
    "BASELINE",
    "CHECK_VALUES",
    "OWN_FROM",
    "CheckChart",
    "MarkedUpkeep",
    "OwnLimits",
    "PairDrift",
    "Promise",
    "check_charts",
    "drifts",
    "promises",
]

OWN_FROM: Final = 20
"""Good values from which a material's own centre and SD take the place of its target and entered u [1].
Common practice: 20 to 25."""
BASELINE: Final = 40
"""First good values that set them at most [1]; later ones are judged and change nothing. A setting of
ours."""
EWMA_WEIGHT: Final = 0.2
EWMA_WIDTH: Final = 2.86
"""Weight and width of the EWMA: in-control run length 371 (derived, ``control.run_length``)."""
SHIFTS_SD: Final = (0.0, 1.0, 2.0)

CHECK_VALUES: Final[dict[str, pl.DataType]] = {
    "sample": pl.String(),
    "material": pl.String(),
    "bath": pl.String(),
    "mill_id": pl.String(),
    "run_at": pl.Datetime("us"),
    "seconds": pl.Float64(),
    "outcome": pl.String(),
    "cause": pl.String(),
}
"""A row an exact check result, in order of time."""


@dataclass(frozen=True, slots=True)
class MarkedUpkeep:
    """Upkeep on a chart.

    Parameters
    ----------
    place : int
        Place of the first value at or after it; the number of values where none is.
    item, at, where : str
        Its code, moment [ISO 8601] and the piece.
    """

    place: int
    item: str
    at: str
    where: str


@dataclass(frozen=True, slots=True)
class OwnLimits:
    """What a material's own good values say of the next one.

    Parameters
    ----------
    centre_s, sd_s : float
    values : int
        Good values that they rest on.
    factor : float
        SDs from the centre to the limits: wide while the values are few, 3 in the end.
    low_s, high_s : float
    """

    centre_s: float
    sd_s: float
    values: int
    factor: float
    low_s: float
    high_s: float


@dataclass(frozen=True, slots=True)
class CheckChart:
    """One material charted.

    Parameters
    ----------
    material : str
    grain : str
        ``whole`` or ``meal``.
    target_s, u_s : float, float or None
    chart : MaterialChart
    sd_from : str
        ``entered`` (the u of the material), ``own`` (its own values), or ``none``.
    own : OwnLimits or None
        ``None`` with fewer than two good values, or where all are equal.
    values : polars.DataFrame
        In ``CHECK_VALUES``, in the order of the chart.
    marks : tuple of MarkedUpkeep
    findings : tuple of Finding
    """

    material: str
    grain: str
    target_s: float
    u_s: float | None
    chart: MaterialChart
    sd_from: str
    own: OwnLimits | None
    values: pl.DataFrame
    marks: tuple[MarkedUpkeep, ...]
    findings: tuple[Finding, ...]

    @property
    def range_limit_s(self) -> float | None:
        """Three-sigma limit of a moving range under the SD of the chart: (d2 + 3 d3) SD. [s]"""
        if self.chart.individuals is None:
            return None
        two = chart_constants(2)
        return (two.d2 + 3.0 * two.d3) * self.chart.individuals.baseline.sd

    def broken_at(self, place: int) -> tuple[str, ...]:
        """Names of the rules that the value at a place completes."""
        return tuple(dict.fromkeys(s.rule for s in self.chart.signals if s.at == place))


@dataclass(frozen=True, slots=True)
class Promise:
    """Values until a chart signals, on average.

    Parameters
    ----------
    chart : str
        ``rules`` (those in use together), ``three-sd``, ``ewma`` or ``cusum``.
    in_control, shift_1_sd, shift_2_sd : float
        Without a shift, and after one of one and of two SDs. [values]
    """

    chart: str
    in_control: float
    shift_1_sd: float
    shift_2_sd: float


@dataclass(frozen=True, slots=True)
class PairDrift:
    """Two materials that ran side by side, and which of them moved; ``None``: too few occasions."""

    first: str
    second: str
    drift: MaterialDrift | None
    occasions: int


@lru_cache(maxsize=1)
def promises() -> tuple[Promise, ...]:
    """Return average run lengths of the charts as they are set here, limits taken as known.

    Examples
    --------
    >>> [round(p.in_control) for p in promises()]
    [183, 370, 371, 465]
    """
    return (
        Promise("rules", *(arl_rules(s) for s in SHIFTS_SD)),
        Promise("three-sd", *(arl_shewhart(s) for s in SHIFTS_SD)),
        Promise("ewma", *(arl_ewma(s, weight=EWMA_WEIGHT, width=EWMA_WIDTH) for s in SHIFTS_SD)),
        Promise("cusum", *(arl_cusum(s) for s in SHIFTS_SD)),
    )


def check_charts(
    values: pl.DataFrame,
    grains: Mapping[str, str],
    targets_s: Mapping[str, float],
    us_s: Mapping[str, float | None],
    upkeep: Sequence[tuple[datetime, str, str]] = (),
) -> tuple[CheckChart, ...]:
    """Chart every material.

    Parameters
    ----------
    values : polars.DataFrame
        In ``CHECK_VALUES``, of all materials; only those with a target are charted.
    grains, targets_s, us_s : mapping by material
        ``whole`` or ``meal``; target [s]; standard uncertainty of one result [s] or ``None``.
    upkeep : sequence of (datetime, item, where)
        Events to mark; times on the clock of ``run_at``.

    Notes
    -----
    A material with an entered u is charted with it as known SD until ``OWN_FROM`` good values are in; from
    then on, and where none is entered, its first values set centre and SD, and the limits are those of a new
    value: wide while the values are few, three SDs in the end. Values without a time come last: the chart
    needs an order.
    """
    out = []
    for material in targets_s:
        mine = values.filter(pl.col("material") == material).sort("run_at", nulls_last=True)
        if mine.is_empty():
            continue
        out.append(_chart(material, mine, grains[material], targets_s[material], us_s.get(material), upkeep))
    return tuple(out)


def _chart(
    material: str,
    mine: pl.DataFrame,
    grain: str,
    target_s: float,
    u_s: float | None,
    upkeep: Sequence[tuple[datetime, str, str]],
) -> CheckChart:
    own = _own(mine)
    entered = u_s is not None and (own is None or own.values < OWN_FROM)
    centre, sd = target_s, u_s
    if not entered and own is not None:
        # Limits of three of these are the widened ones.
        centre, sd = own.centre_s, own.sd_s * own.factor / 3.0
    report = read_charts(
        mine["seconds"].to_numpy(),
        material=[material] * mine.height,
        target=None if sd is None else [centre] * mine.height,
        sd=None if sd is None else {material: sd},
        weight=EWMA_WEIGHT,
        width=EWMA_WIDTH,
    )
    sd_from = "none" if report.materials[0].individuals is None else "entered" if entered else "own"
    return CheckChart(
        material,
        grain,
        target_s,
        u_s,
        report.materials[0],
        sd_from,
        own,
        mine,
        _marks(mine, upkeep),
        report.findings,
    )


def _own(mine: pl.DataFrame) -> OwnLimits | None:
    """Limits for a new value from the first good ones."""
    good = mine.filter(pl.col("outcome") == "good")["seconds"].head(BASELINE).to_numpy()
    try:
        base = baseline_of(good)
    except NoAnswer:
        return None
    factor = widened_factor(base)
    half = factor * base.sd
    return OwnLimits(base.centre, base.sd, int(good.size), factor, base.centre - half, base.centre + half)


def _marks(mine: pl.DataFrame, upkeep: Sequence[tuple[datetime, str, str]]) -> tuple[MarkedUpkeep, ...]:
    """Place events before the first value at or after them; what lies before the chart is left out."""
    timed = [(i, at) for i, at in enumerate(mine["run_at"].to_list()) if at is not None]
    if not timed:
        return ()
    out = []
    for at, item, where in sorted(upkeep):
        plain = at.replace(tzinfo=None)
        if plain >= timed[0][1]:
            place = next((i for i, run_at in timed if run_at >= plain), mine.height)
            out.append(MarkedUpkeep(place, item, plain.isoformat(timespec="minutes"), where))
    return tuple(out)


def drifts(
    values: pl.DataFrame, targets_s: Mapping[str, float], together_s: float = 3600.0
) -> tuple[PairDrift, ...]:
    """Tell drifting materials from a drifting bench, for every two materials that ran side by side.

    Parameters
    ----------
    values : polars.DataFrame
        In ``CHECK_VALUES``.
    targets_s : mapping of str to float
        Materials to look at. [s]
    together_s : float
        Runs within this time of each other are one occasion. [s]
    """
    timed = values.filter(pl.col("run_at").is_not_null())
    found = []
    for first, second in combinations(targets_s, 2):
        one, two = (timed.filter(pl.col("material") == m).sort("run_at") for m in (first, second))
        if one.is_empty() or two.is_empty():
            continue
        near = one.join_asof(
            two.select("run_at", pl.col("seconds").alias("other_s"), pl.col("run_at").alias("other_at")),
            on="run_at",
            strategy="nearest",
            tolerance=f"{round(together_s)}s",
        ).filter(pl.col("other_s").is_not_null())
        # One run of the second material is the partner of the nearest run of the first alone.
        near = near.unique("other_at", keep="first", maintain_order=True)
        try:
            drift = material_drift(
                near["run_at"].to_numpy(), near["seconds"].to_numpy(), near["other_s"].to_numpy(),
                first_target_s=targets_s[first], second_target_s=targets_s[second],
            )  # fmt: skip
        except NoAnswer:
            drift = None
        found.append(PairDrift(first, second, drift, near.height))
    return tuple(found)
