"""One cause, one finding: what a rule of the bench explains is not told a second time."""

from __future__ import annotations

from collections.abc import Sequence

from lodestarch.common.findings import Finding

__all__ = ["told_once"]


def told_once(judged: Sequence[Finding], bench: Sequence[Finding]) -> tuple[Finding, ...]:
    """Leave out findings of judging that a finding of the bench explains.

    Two pairs that disagree because their tubes look exchanged are one matter: the finding on the exchange
    names all four readings and says what to do, and stops both results.

    Parameters
    ----------
    judged : sequence of Finding
        From judging the readings.
    bench : sequence of Finding
        From the bench rules.

    Returns
    -------
    tuple of Finding
        ``judged`` without the explained ones, then ``bench``.
    """
    explained: set[object] = set()
    for finding in bench:
        if finding.code == "tubes-look-swapped":
            explained |= {finding.where.sample, finding.values["other_sample"]}
    kept = (f for f in judged if f.code != "pair-disagrees" or f.where.sample not in explained)
    return (*kept, *bench)
