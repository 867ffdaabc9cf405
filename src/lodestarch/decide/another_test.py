"""Which further test pays, from whom it is worth it, against its cost and its hours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.money import MoneyBySeconds
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.gain import AnotherTest, Design, Gain, Spread, gain_of
from lodestarch.decide.information import worth_of_information

__all__ = ["Outlet", "TestWorth", "worth_of_tests"]


@dataclass(frozen=True, slots=True)
class Outlet:
    """One place where a load may go.

    Parameters
    ----------
    name : str
    money : MoneyBySeconds
        For the load, by the deciding lab's report, haul and fees taken off.
    deciding : DecidingLab
        Whose report decides there.
    """

    name: str
    money: MoneyBySeconds
    deciding: DecidingLab


@dataclass(frozen=True, slots=True)
class TestWorth:
    """What one further test is worth before it is made.

    Parameters
    ----------
    test : AnotherTest
    gain : Gain
    now : float
        Expected money at the best outlet as things stand. [money]
    outlet : str
        Which one.
    worth : float
        Gain of knowing before choosing, cost left aside. [money]
    net : float
        Less its cost and its hours. [money]
    changes : float
        Chance that it changes the outlet. [1]
    """

    __test__ = False

    test: AnotherTest
    gain: Gain
    now: float
    outlet: str
    worth: float
    net: float
    changes: float


def worth_of_tests(
    outlets: Sequence[Outlet], tests: Sequence[AnotherTest], spread: Spread, design: Design,
    result_s: float, *, mean_s: float | None = None, sd_s: float | None = None, money_per_hour: float = 0.0,
) -> tuple[TestWorth, ...]:  # fmt: skip
    """Expected worth of each further test on one load, the best net first.

    Parameters
    ----------
    outlets : sequence of Outlet
        Where the load may go; money in one unit.
    tests : sequence of AnotherTest
        A test at the lab that decides (``decides``) meets that of every outlet whose lab it is.
    spread, design : Spread, Design
        Of the result that is there.
    result_s : float
        [s]
    mean_s, sd_s : float, optional
        Belief on the true value under a stated prior.
    money_per_hour : float
        What an hour of waiting costs. [money/h]  At least 0.

    Returns
    -------
    tuple of TestWorth

    Raises
    ------
    NoAnswer
        ``outlets-none``; ``outlets-units`` where their money is in several units.
    """
    if not outlets:
        raise NoAnswer("outlets-none")
    if len({o.money.unit for o in outlets}) > 1:
        raise NoAnswer("outlets-units", units=", ".join(sorted({o.money.unit for o in outlets})))
    if not money_per_hour >= 0.0:
        raise OutOfRange("money_per_hour", money_per_hour, 0.0, float("inf"), "1/h")
    var = sum(design.parts(spread).values())
    believed, var = (result_s if mean_s is None else mean_s), (var if sd_s is None else sd_s**2)
    means = [believed + o.deciding.shift_s for o in outlets]
    sds = [(var + o.deciding.report_sd_s**2) ** 0.5 for o in outlets]
    out = []
    for test in tests:
        gains = [
            gain_of(test, spread, design, result_s, mean_s=mean_s, sd_s=sd_s, deciding=_met(test, o.deciding))
            for o in outlets
        ]
        got = worth_of_information([o.money for o in outlets], means, sds, [g.gain_report_s for g in gains])
        worth = float(got.worth[0])
        net = worth - test.cost - test.hours * money_per_hour
        name = outlets[int(got.now_outlet[0])].name
        out.append(TestWorth(test, gains[0], float(got.now[0]), name, worth, net, float(got.changes[0])))
    return tuple(sorted(out, key=lambda w: -w.net))


def _met(test: AnotherTest, deciding: DecidingLab) -> DecidingLab | None:
    return deciding if test.decides and test.lab == deciding else None
