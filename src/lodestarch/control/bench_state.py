"""Run, or stop and check these three, in this order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

__all__ = ["SUSPECTS", "BenchState", "CheckReading", "bench_state"]

Grain = Literal["whole", "meal"]

SUSPECTS: Final = {
    "bath": ("boil-and-level", "station-pressure", "stirrers-and-tubes"),
    "mill": ("mill-sieve-and-wear", "moisture-of-material", "ground-mass-and-dividing"),
    "random": ("weighing-and-water", "shaking-and-start", "tube-and-stirrer-at-place"),
    "material": ("material-lot-and-age", "target-entered", "second-portion-of-material"),
}
"""What to look at first, second and third, by what the pattern of checks points to. Common practice of the
trade, in an order of ours: what is quickest to see and commonest comes first."""


@dataclass(frozen=True, slots=True)
class CheckReading:
    """One check sample of the present run or shift.

    Parameters
    ----------
    material : str
    grain : str
        ``whole`` (tests mill and bath) or ``meal`` (tests the bath alone).
    z : float
        Result from its target, in SDs.
    broken : tuple of str
        Runs rules broken at this value.
    """

    material: str
    grain: Grain
    z: float
    broken: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BenchState:
    """May the bench run?

    Parameters
    ----------
    run : bool
    points_to : str or None
        ``bath``, ``mill``, ``random`` or ``material``.
    suspects : tuple of str
        Three codes, in the order in which to look.
    because : tuple of CheckReading
        The checks that say so.
    """

    run: bool
    points_to: str | None
    suspects: tuple[str, ...]
    because: tuple[CheckReading, ...]


def bench_state(checks: Sequence[CheckReading]) -> BenchState:
    """Read the checks of a shift together.

    Parameters
    ----------
    checks : sequence of CheckReading
        The newest reading of each material. Without any, the bench may not run.

    Returns
    -------
    BenchState

    Notes
    -----
    Meal and whole grain wrong to the same side point to the bath, whole grain alone to the mill; one of
    several materials of a kind wrong while the others are right points to that material; broken rules of
    random error without a common side point to handling. Whole grain wrong with no meal run cannot tell mill
    from bath: the bath is quicker to look at.

    Examples
    --------
    >>> bench_state([CheckReading("A", "whole", 3.4, ("1-3s",)), CheckReading("B", "meal", 0.3)]).suspects[0]
    'mill-sieve-and-wear'
    """
    if not checks:
        return BenchState(False, None, ("check-sample-due",), ())  # read as "run: no"
    failing = tuple(c for c in checks if c.broken)
    if not failing:
        return BenchState(True, None, (), ())
    cause = _points_to(checks, failing)
    return BenchState(False, cause, SUSPECTS[cause], failing)


def _points_to(checks: Sequence[CheckReading], failing: Sequence[CheckReading]) -> str:
    sides = {1 if c.z > 0.0 else -1 for c in failing}
    if len(sides) > 1 or all("R-4s" in c.broken for c in failing):
        return "random"
    side = sides.pop()
    # A check that has not failed still votes when it leans to the same side by more than one SD.
    leaning = [c for c in checks if c.broken or side * c.z > 1.0]
    meal, whole = ([c for c in checks if c.grain == g] for g in ("meal", "whole"))
    meal_leans, whole_leans = (any(c in leaning for c in group) for group in (meal, whole))
    kind = meal if failing[0].grain == "meal" else whole
    if len(failing) == 1 and len(kind) > 1 and sum(c in leaning for c in kind) == 1:
        other = whole_leans if kind is meal else meal_leans
        if not other:
            return "material"
    if meal_leans and (whole_leans or not whole):
        return "bath"
    if whole_leans and meal and not meal_leans:
        return "mill"
    if meal_leans:
        return "material"  # meal wrong while whole grain, which takes the same bath, is right
    return "bath"
