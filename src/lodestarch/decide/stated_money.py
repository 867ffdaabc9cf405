"""Money by seconds from a few amounts as somebody states them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lodestarch.common.errors import NoAnswer
from lodestarch.common.money import MoneyBySeconds

__all__ = ["Stated", "stated_money"]


@dataclass(frozen=True, slots=True)
class Stated:
    """What is paid from a number of seconds up to the next one stated.

    Parameters
    ----------
    from_s : float
        [s]  A report on it belongs here.
    amount : float
        [money]
    rises_to : float or None
        What it rises to, evenly, at the next one stated; ``None``: it stays.
    """

    from_s: float
    amount: float
    rises_to: float | None = None


def stated_money(lines: Sequence[Stated], unit: str, *, counts_from: float = 0.0) -> MoneyBySeconds:
    """Put stated amounts together.

    Parameters
    ----------
    lines : sequence of Stated
        In any order; the lowest holds below its own start as well when that is 0.
    unit : str
    counts_from : float
        How far below each start an unrounded report counts as on it: 0.5 where whole seconds are reported
        and halves go up. [s]

    Raises
    ------
    NoAnswer
        ``retest-pays-floor`` where nothing is said of low reports.

    Examples
    --------
    >>> paid = stated_money([Stated(300, 230), Stated(275, 205, 230), Stated(0, 180)], "USD/t")
    >>> paid.at([120.0, 280.0, 300.0]).tolist()
    [180.0, 210.0, 230.0]
    """
    known = sorted(lines, key=lambda line: line.from_s)
    if not known or known[0].from_s > 0.0:
        raise NoAnswer("retest-pays-floor", from_s=known[0].from_s if known else 0.0)
    starts = [line.from_s for line in known]
    intercept, slope = [], []
    for i, line in enumerate(known):
        rises = line.rises_to is not None and i + 1 < len(known) and starts[i + 1] > starts[i]
        per_s = (
            (line.rises_to - line.amount) / (starts[i + 1] - starts[i]) if rises and line.rises_to else 0.0
        )
        slope.append(per_s)
        intercept.append(line.amount - per_s * line.from_s)
    breaks = np.array(starts[1:]) - counts_from
    return MoneyBySeconds(
        breaks, np.array(intercept), np.array(slope), np.ones(breaks.size, dtype=np.bool_), unit
    )
