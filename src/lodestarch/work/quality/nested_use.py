"""What variance components serve for: the cheapest plan that reaches a u, and a look for few hot kernels."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.findings import NOWHERE, Finding, Severity, in_order, of_range
from lodestarch.precision.components import Components
from lodestarch.precision.kernels import SpreadCheck, check_spread
from lodestarch.precision.sampling_plan import Costs, PlanAnswer, SpreadOf, cheapest_plan
from lodestarch.precision.subsamples import subsample_means
from lodestarch.work.quality.files import Answer

__all__ = ["NestedUse", "UseAsked", "use_of_components"]


@dataclass(frozen=True, slots=True)
class UseAsked:
    """What is asked of components beyond themselves; ``None``: not asked.

    Parameters
    ----------
    target_u_s : float or None
        Standard uncertainty that a plan must reach. [s]
    cost_probe, cost_grind, cost_tube : float
        In any one unit.
    expected_sd_s : float or None
        SD that tubes and grinding explain for the result of one subsample. [s]
    sound_fn_s : float or None
        Falling number of the same grain unsprouted. [s]
    """

    target_u_s: float | None = None
    cost_probe: float = 1.0
    cost_grind: float = 1.0
    cost_tube: float = 1.0
    expected_sd_s: float | None = None
    sound_fn_s: float | None = None


@dataclass(frozen=True, slots=True)
class NestedUse:
    """The plan and the spread check, where they were asked for and could be given."""

    plan: PlanAnswer | None
    spread: SpreadCheck | None
    findings: tuple[Finding, ...]


def use_of_components(answer: Answer[Components], value: str, outermost: str, asked: UseAsked) -> NestedUse:
    """Answer what is asked of a sheet of nested values.

    Parameters
    ----------
    answer : Answer of Components
    value, outermost : str
        Columns of the values and of the subsamples.
    asked : UseAsked
    """
    plan, spread, found = None, None, list[Finding]()
    try:
        if asked.target_u_s is not None and answer.report is not None:
            plan = _plan(answer.report, asked)
        if asked.expected_sd_s is not None and answer.columns.has(value):
            labels = [label or "" for label in answer.columns.texts[outermost]]
            results = subsample_means(answer.columns.numbers[value], labels)
            spread = check_spread(results, asked.expected_sd_s, sound_fn_s=asked.sound_fn_s)
    except OutOfRange as cause:
        found.append(of_range(cause, NOWHERE))
    except NoAnswer as cause:
        found.append(Finding(cause.code, severity=Severity.STOP, values=cause.values))
    found += [f for part in (plan, spread) if part is not None for f in part.findings]
    return NestedUse(plan, spread, in_order(tuple(found)))


def _plan(report: Components, asked: UseAsked) -> PlanAnswer:
    """One nested column is the probe, two are probe and grind; what is left is the tube."""
    sds = [c.sd for c in report.components]
    if len(sds) not in (2, 3):
        raise NoAnswer("plan-needs-probe-and-grind", columns=max(len(sds) - 1, 0))
    assert asked.target_u_s is not None  # noqa: S101 - the caller asked
    spread = SpreadOf(sds[0], sds[1] if len(sds) == 3 else 0.0, sds[-1])
    return cheapest_plan(spread, Costs(asked.cost_probe, asked.cost_grind, asked.cost_tube), asked.target_u_s)
