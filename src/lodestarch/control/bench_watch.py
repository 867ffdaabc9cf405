"""May the bench run? Every bath by its own newest checks, with what to look at first, second and third."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from lodestarch.control.bench_state import SUSPECTS, CheckReading, Grain, bench_state

__all__ = ["TOGETHER", "BathWatch", "CheckDue", "CheckSeen", "bath_watches", "verdict_of"]

TOGETHER: Final = timedelta(hours=1)
"""Checks of one bath within this time of its newest are read together. A setting of ours: it holds a start of
shift, and a check from before breakfast says nothing of noon."""


@dataclass(frozen=True, slots=True)
class CheckSeen:
    """One check sample with a result.

    Parameters
    ----------
    sample, material : str
    grain : str
        ``whole`` or ``meal``.
    bath : str
    at : datetime
    z : float
        From its target, in SDs.
    broken : tuple of str
        Rules that it breaks or completes; ``1-3s`` where it is off its target.
    cause : str
        Recorded for a failed check; empty: none.
    """

    sample: str
    material: str
    grain: Grain
    bath: str
    at: datetime
    z: float
    broken: tuple[str, ...] = ()
    cause: str = ""


@dataclass(frozen=True, slots=True)
class BathWatch:
    """One bath.

    Parameters
    ----------
    bath : str
    run : bool
    points_to : str or None
        ``bath``, ``mill``, ``random`` or ``material``.
    suspects : tuple of str
        Three codes, in the order in which to look; empty where it may run.
    because : tuple of CheckSeen
        The checks that stop it.
    """

    bath: str
    run: bool
    points_to: str | None
    suspects: tuple[str, ...]
    because: tuple[CheckSeen, ...]


@dataclass(frozen=True, slots=True)
class CheckDue:
    """A check sample that is due.

    Parameters
    ----------
    bath : str
    reasons : tuple of str
        As :func:`lodestarch.control.upkeep.check_due` gives them, and ``after-cause``.
    runs : int
        Runs since the last check.
    """

    bath: str
    reasons: tuple[str, ...]
    runs: int


def bath_watches(checks: Sequence[CheckSeen]) -> tuple[BathWatch, ...]:
    """Read the newest checks of every bath together.

    Parameters
    ----------
    checks : sequence of CheckSeen
        Of any bath and age.

    Returns
    -------
    tuple of BathWatch
        In order of bath; baths without a check are not among them.

    Notes
    -----
    A failure with a cause recorded stops nothing more; the check that is due after it shows whether the
    remedy was one. A material that is off in one bath and right in another within the hour is not what is
    wrong.

    Examples
    --------
    >>> at = datetime(2024, 8, 22, 9)
    >>> off = CheckSeen("M-2", "M", "meal", "A", at, 6.0, ("1-3s",))
    >>> [w.run for w in bath_watches([off, CheckSeen("M-1", "M", "meal", "B", at, 0.2)])]
    [False, True]
    """
    out = []
    for bath in sorted({c.bath for c in checks}):
        mine = [c for c in checks if c.bath == bath]
        newest = max(c.at for c in mine)
        latest = {c.material: c for c in sorted(mine, key=lambda c: c.at) if c.at >= newest - TOGETHER}
        readings = {m: CheckReading(m, c.grain, c.z, () if c.cause else c.broken) for m, c in latest.items()}
        state = bench_state(list(readings.values()))
        because = tuple(latest[r.material] for r in state.because)
        points_to, suspects = state.points_to, state.suspects
        if points_to == "material" and all(_right_elsewhere(c, checks) for c in because):
            points_to, suspects = "bath", SUSPECTS["bath"]
        out.append(BathWatch(bath, state.run, points_to, suspects, because))
    return tuple(out)


def _right_elsewhere(one: CheckSeen, checks: Sequence[CheckSeen]) -> bool:
    return any(
        c.material == one.material and c.bath != one.bath and not c.broken and abs(c.at - one.at) <= TOGETHER
        for c in checks
    )


def verdict_of(watches: Sequence[BathWatch], due: Sequence[CheckDue], *, materials: int) -> str:
    """Say in one word what the analyst does.

    Returns
    -------
    str
        ``stop`` (a bath's checks say so), ``check-first`` (a check sample is due), ``run``, or ``unwatched``:
        no check material is registered and none was run, so that nothing says whether the bench may run.

    Examples
    --------
    >>> verdict_of((), (), materials=0)
    'unwatched'
    """
    if any(not w.run for w in watches):
        return "stop"
    if not materials and not watches:
        return "unwatched"
    return "check-first" if due else "run"
