"""The desk at the probe: one word a load, one rule at a time."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from lodestarch.common.errors import OutOfRange
from lodestarch.plan.receive.belief import Belief
from lodestarch.plan.receive.bins import OpenBin, RoomFull
from lodestarch.plan.receive.blend_value import worth_by_ln
from lodestarch.plan.receive.envelope import Envelope, envelope_of
from lodestarch.plan.receive.grades import Grades
from lodestarch.plan.receive.loads import Load, Spread
from lodestarch.plan.receive.ranges import Future, Held, best_ranges
from lodestarch.plan.receive.worth import Worth, worth_of_test

__all__ = ["Desk", "Mode", "Said", "Season", "Word"]

POINTS = 60
"""Points of LN on which the grain to come is laid out. [1]  A choice of ours."""
FUTURES = ((-1.7320508, 1 / 6), (0.0, 2 / 3), (1.7320508, 1 / 6))
"""Where the season's mean may end, in standard uncertainties, with weights: Gauss-Hermite, three points."""
OWN_WEIGHT = 12.0
"""Loads after which the season's own spread counts as much as the stated one. [1]  A choice of ours."""
LOOK_BACK = 60
"""Loads whose worth sets the mark above which a test is taken. [1]  A choice of ours."""


class Mode(StrEnum):
    """What happens while a test runs."""

    HOLD = "hold"
    """The truck waits; the bin is chosen with the result."""
    DUMP = "dump"
    """The truck dumps at once; the result is learned later."""


class Word(StrEnum):
    """What is said at the probe."""

    TEST = "test"
    """Take a sample, dump now, learn later."""
    HOLD = "hold"
    """Take a sample and wait for its result."""
    DUMP = "dump"
    """No test; dump."""


@dataclass(frozen=True, slots=True)
class Season:
    """What is expected of a harvest.

    Parameters
    ----------
    loads : int
        Loads expected in all. At least 1.
    tests : int
        Tests that the bench can run among them. At least 0.
    load_t : float
        Mean load. [t]
    loads_a_field : float
        Mean number of loads from a field. At least 1.
    """

    loads: int
    tests: int
    load_t: float
    loads_a_field: float = 5.0

    def __post_init__(self) -> None:
        if self.loads < 1:
            raise OutOfRange("loads", self.loads, 1, math.inf, "1")
        if self.tests < 0:
            raise OutOfRange("tests", self.tests, 0, math.inf, "1")
        if not self.load_t > 0:
            raise OutOfRange("load_t", self.load_t, 0.0, math.inf, "t")


@dataclass(frozen=True, slots=True)
class Said:
    """The answer for one load; it does not change once given.

    Parameters
    ----------
    word : Word
    bin : str
        Where it would go on what is known now.
    expected_fn_s, low_s, high_s : float
        What is expected of it: the number that blends alike, and nine in ten loads like it. [s]
    worth : Worth
        Of testing it. [money]
    mark : float
        Worth from which the bench takes a load at present. [money]
    """

    word: Word
    bin: str
    expected_fn_s: float
    low_s: float
    high_s: float
    worth: Worth
    mark: float


class Desk:
    """One site through one harvest.

    Parameters
    ----------
    grades : Grades
    spread : Spread
    season : Season
    bins : sequence of OpenBin
    mode : Mode
    days : int
        Length of the harvest, for how far the mean may still wander. [d]
    renew_every : int
        Loads between two settings of the ranges: the posted rule holds that long, or until a bin is full.
    least_worth : float
        A test that brings less than it costs is not taken: cost of one test. [money]

    Notes
    -----
    The mark is the quantile of the last loads' worth that leaves as many loads above it as there are tests
    left for the loads left, and never below the cost of a test: a threshold for a budget of tests (derived).
    """

    def __init__(
        self,
        grades: Grades,
        spread: Spread,
        season: Season,
        bins: Sequence[OpenBin],
        mode: Mode = Mode.HOLD,
        days: int = 1,
        renew_every: int = 25,
        least_worth: float = 0.0,
    ) -> None:
        self.grades, self.spread, self.season, self.mode = grades, spread, season, mode
        self.belief = Belief(spread)
        self.bins = list(bins)
        self.days = days
        self.renew_every = renew_every
        self.least_worth = least_worth
        self.tests_left, self.loads_left = season.tests, season.loads
        self._worths: deque[float] = deque(maxlen=LOOK_BACK)
        self._said: dict[str, Said] = {}
        self._of_field: dict[str, int] = {}
        self._known: list[float] = []
        self._renew()

    @property
    def share(self) -> float:
        """Share of the loads left that can be tested."""
        return min(1.0, self.tests_left / max(self.loads_left, 1))

    @property
    def loads_until_renewed(self) -> int:
        """Loads until the ranges are set anew, unless a bin fills first."""
        return max(self.renew_every - self._since, 1)

    def field_is_new(self, load: Load) -> bool:
        """Tell whether no load of this field has come yet."""
        return load.field is None or load.field not in self._of_field

    def ask(self, load: Load) -> Said:
        """Return the word for a load: the same answer however often it is asked."""
        if load.ticket in self._said:
            return self._said[load.ticket]
        self.belief.advance(max(load.day, self.belief.day))
        worth = self.worth(load)
        counted = worth.held if self.mode is Mode.HOLD else worth.elsewhere
        mark = self.mark()
        self._worths.append(counted)
        taken = self.tests_left > 0 and counted > 0 and counted >= mark
        word = (Word.HOLD if self.mode is Mode.HOLD else Word.TEST) if taken else Word.DUMP
        now = self.belief.predicted(load)
        sd = math.sqrt(now.variance)
        low, high = (6000.0 / math.exp(now.mean + z * sd) + 50.0 for z in (1.645, -1.645))
        said = Said(word, self.bin_for(load).name, now.fn_s, low, high, worth, mark)
        self._said[load.ticket] = said
        return said

    def worth(self, load: Load) -> Worth:
        """Return what testing a load would bring, given the bins as they stand."""
        if load.field is None:
            to_come = 0.0
        elif load.to_come is not None:
            to_come = float(load.to_come)
        else:
            to_come = max(self.season.loads_a_field - self._of_field.get(load.field, 0) - 1, 0.5)
        to_come = max(min(to_come, self.loads_left - 1.0), 0.0)
        return worth_of_test(self.belief, load, self.lines, to_come, 1.0 - self.share)

    def mark(self) -> float:
        """Return the worth from which a test is taken now. [money]"""
        if len(self._worths) < 8:
            return self.least_worth
        return max(float(np.quantile(np.array(self._worths), 1.0 - self.share)), self.least_worth)

    def bin_for(self, load: Load) -> OpenBin:
        """Return the bin that a load goes to on what is known now.

        Raises
        ------
        RoomFull
            No bin has room for it.
        """
        ln = self.belief.seen(load).ln
        at = self.ranges.order.index(self.ranges.bin_of(ln))
        near = sorted(range(len(self.ranges.order)), key=lambda b: abs(b - at))
        for b in near:
            if self.bins[self.ranges.order[b]].takes(load):
                return self.bins[self.ranges.order[b]]
        raise RoomFull(load.ticket)

    def result(self, load: Load, ln: float) -> None:
        """Take a load's result; a test is used up."""
        self.belief.learn(load, ln)
        self.tests_left = max(self.tests_left - 1, 0)

    def dump(self, load: Load, into: OpenBin | None = None) -> OpenBin:
        """Put a load into a bin, the one of its range unless another is named; renew the ranges when due."""
        into = into or self.bin_for(load)
        self._known.append(math.log(self.belief.seen(load).ln) - self.belief.mean)
        into.put(load)
        self.loads_left = max(self.loads_left - 1, 0)
        if load.field is not None:
            self._of_field[load.field] = self._of_field.get(load.field, 0) + 1
        self._since += 1
        if self.loads_left and (self._since >= self.renew_every or not into.takes(load)):
            self._renew()
        return into

    def _renew(self) -> None:
        """Lay the ranges anew over the grain to come, and the lines by which a test is valued."""
        self._since = 0
        held = [b.held(self.belief) for b in self.bins]
        points, futures = self._futures(held)
        self.ranges = best_ranges(points, held, futures)
        height, slope = np.zeros(len(held)), np.zeros(len(held))
        for future in futures:
            piece = np.searchsorted(future.worth.ends, self.ranges.mean_ln, side="right")
            height += future.weight * future.worth.height[piece]
            slope += future.weight * future.worth.slope[piece]
        self.lines: Envelope = envelope_of(height, slope)

    def _futures(self, held: Sequence[Held]) -> tuple[npt.NDArray[np.float64], list[Future]]:
        """What may come, on common points of LN, and what a tonne is worth in each case."""
        sd_known, sd_mean = self._sd_known(), self._sd_mean()
        wide = math.sqrt(sd_known**2 + 3 * sd_mean**2)
        logs = self.belief.mean + wide * np.linspace(-2.6, 2.6, POINTS)
        rest = max(self.spread.variety**2 + self.spread.field**2 + self.spread.load**2 - sd_known**2, 0.0)
        points = np.exp(logs + rest / 2)
        lies = [(h.ln, h.tonnes) for h in held if h.tonnes > 0]
        out = []
        for z, weight in FUTURES:
            density = np.exp(-0.5 * ((logs - self.belief.mean - z * sd_mean) / sd_known) ** 2)
            tonnes = density / density.sum() * max(self.loads_left, 1) * self.season.load_t
            worth = worth_by_ln(
                self.grades,
                np.append(points, [ln for ln, _ in lies]),
                np.append(tonnes, [t for _, t in lies]),
            )
            out.append(Future(weight, worth, tonnes))
        return points, out

    def _sd_mean(self) -> float:
        """How far the mean of what is to come may lie from what is believed. [1]"""
        left = max(self.days - 1 - self.belief.day, 0)
        return math.sqrt(self.belief.mean_variance + self.spread.day**2 * left / 3 + 1e-6)

    def _sd_known(self) -> float:
        """Spread of log LN to come, as it will be known when it is dumped. [1]"""
        s = self.spread
        within = s.variety**2 + s.field**2
        stated = self.share * (within + s.load**2) + (1 - self.share) * within * min(1.0, 2 * self.share)
        own = np.array(self._known)
        total = OWN_WEIGHT * stated + float(own @ own)
        return math.sqrt(max(total / (OWN_WEIGHT + own.size), 1e-4))
