"""A failed check sample casts doubt backwards: what it holds, until when, and what is to be run again.

Pure over times: between the last good check and the next one every result of the same bath or mill is in
doubt. A failure is cleared only with a cause.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import LodestarchError
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.control.times import as_seconds

__all__ = ["Hold", "HoldFailure", "hold_back"]


@dataclass(frozen=True, slots=True)
class HoldFailure:
    """One failed check that still holds results.

    Parameters
    ----------
    check : int
        Place of the check.
    last_good, next_good : int or None
        Places of the good checks around it; ``None`` where there is none: then everything before, or
        everything after, is in doubt.
    held : tuple of int
        Places of the results it holds, in order of time.
    """

    check: int
    last_good: int | None
    next_good: int | None
    held: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Hold:
    """What all failed checks hold.

    Parameters
    ----------
    failures : tuple of HoldFailure
    held : tuple of int
        Places of all held results, in order of time.
    released : tuple of int
        Those of them that had gone out already.
    rerun : tuple of int
        Those of them with a retained sample, to be run again.
    lost : tuple of int
        Those without one.
    findings : tuple of Finding
        ``hold-results``, ``hold-no-good-check-before``, ``hold-time-missing``.
    """

    failures: tuple[HoldFailure, ...]
    held: tuple[int, ...]
    released: tuple[int, ...]
    rerun: tuple[int, ...]
    lost: tuple[int, ...]
    findings: tuple[Finding, ...]


def hold_back(
    check_at: npt.ArrayLike,
    check_ok: npt.ArrayLike,
    result_at: npt.ArrayLike,
    *,
    check_scope: npt.ArrayLike | None = None,
    result_scope: npt.ArrayLike | None = None,
    cause: Sequence[str | None] | None = None,
    released: npt.ArrayLike | None = None,
    retained: npt.ArrayLike | None = None,
) -> Hold:
    """Find the results that failed checks hold back.

    Parameters
    ----------
    check_at, result_at : array_like of time
        When each check and each result was run.
    check_ok : array_like of bool
    check_scope, result_scope : array_like of str, optional
        Bath or mill of each; a check speaks for its own only. One for all when left out.
    cause : sequence of str or None, optional
        Cause recorded for each check; a failed check with a cause holds nothing any more.
    released, retained : array_like of bool, optional
        Whether a result has gone out, and whether its sample is still there. No, and yes, when left out.

    Returns
    -------
    Hold
        A result at the very time of a good check belongs to its run and is good; one at the time of a failed
        check is held. Results after a failure stay held until the next good check.

    Raises
    ------
    LodestarchError
        When columns differ in length.

    Examples
    --------
    >>> hold = hold_back([8, 10, 12, 14], [True, True, False, True], [7, 9, 11, 13, 15])
    >>> hold.held, hold.failures[0].last_good
    ((2, 3), 1)
    """
    when, ok = as_seconds(check_at), np.asarray(check_ok, dtype=np.bool_).ravel()
    at = as_seconds(result_at)
    scopes = _scope(check_scope, when.size), _scope(result_scope, at.size)
    why = [None] * when.size if cause is None else list(cause)
    gone = np.zeros(at.size, dtype=np.bool_) if released is None else np.asarray(released, dtype=np.bool_)
    kept = np.ones(at.size, dtype=np.bool_) if retained is None else np.asarray(retained, dtype=np.bool_)
    if not (when.size == ok.size == len(why) and at.size == gone.size == kept.size):
        raise LodestarchError("columns of checks or of results differ in length")
    findings = [
        Finding("hold-time-missing", Where(row=int(i) + 1), Severity.CHECK)
        for i in np.flatnonzero(np.isnan(at))[:20]
    ]
    failures = []
    for i in np.flatnonzero(~ok & ~np.isnan(when)):
        if why[i]:
            continue
        failure = _failure(int(i), when, ok & (scopes[0] == scopes[0][i]), at, scopes[1] == scopes[0][i])
        failures.append(failure)
        if failure.last_good is None:
            findings.append(
                Finding("hold-no-good-check-before", severity=Severity.CHECK, values={"check": int(i)})
            )
    # A result without a time cannot be shown to lie outside the doubt.
    unknown = np.isnan(at) & np.isin(scopes[1], scopes[0][[f.check for f in failures]]) if failures else None
    mask = np.zeros(at.size, dtype=np.bool_)
    for failure in failures:
        mask[list(failure.held)] = True
    if unknown is not None:
        mask |= unknown
    order = [int(i) for i in np.argsort(at, kind="stable") if mask[i]]
    if order:
        values = {"results": len(order), "released": int((mask & gone).sum())}
        findings.append(Finding("hold-results", severity=Severity.STOP, values=values))
    return Hold(
        tuple(failures), tuple(order), tuple(i for i in order if gone[i]), tuple(i for i in order if kept[i]),
        tuple(i for i in order if not kept[i]), tuple(findings),
    )  # fmt: skip


def _scope(scope: npt.ArrayLike | None, n: int) -> npt.NDArray[np.str_]:
    labels = np.full(n, "") if scope is None else np.asarray(scope).astype(str).ravel()
    if labels.size != n:
        raise LodestarchError("columns of checks or of results differ in length")
    return labels


def _failure(
    i: int, when: FloatArray, good: npt.NDArray[np.bool_], at: FloatArray, mine: npt.NDArray[np.bool_]
) -> HoldFailure:
    # A good check at the very time of the failed one says nothing of before or after.
    before = np.flatnonzero(good & (when < when[i]))
    after = np.flatnonzero(good & (when > when[i]))
    last = int(before[np.argmax(when[before])]) if before.size else None
    following = int(after[np.argmin(when[after])]) if after.size else None
    start = -np.inf if last is None else when[last]
    end = np.inf if following is None else when[following]
    held = np.flatnonzero(mine & (at > start) & (at < end))
    return HoldFailure(i, last, following, tuple(int(j) for j in held[np.argsort(at[held], kind="stable")]))
