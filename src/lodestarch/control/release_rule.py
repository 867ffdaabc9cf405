"""What a result must be to go out by rule; everything else is the chemist's."""

from __future__ import annotations

from collections.abc import Iterable

from lodestarch.common.findings import Finding, Severity

__all__ = ["why_not_by_rule"]


def why_not_by_rule(
    status: str, agreement: str, findings: Iterable[Finding], *, bench_stopped: bool
) -> tuple[str, ...]:
    """Return codes of what keeps a result from going out by rule; empty where it may.

    Parameters
    ----------
    status : str
        ``method.judge.Status`` of the result.
    agreement : str
        ``agrees``, ``disagrees`` or ``not judged``.
    findings : iterable of Finding
        On this sample; one of severity *stop* or *check* keeps it.
    bench_stopped : bool
        The last check sample was not in control.

    Returns
    -------
    tuple of str
        ``no-result``, ``held``, ``one-tube``, ``not-agreed``, ``query-open``, ``bench-stopped``.

    Examples
    --------
    >>> why_not_by_rule("preliminary", "agrees", (), bench_stopped=False)
    ()
    >>> why_not_by_rule("screen", "not judged", (), bench_stopped=True)
    ('one-tube', 'bench-stopped')
    """
    by_status = {"none": "no-result", "held": "held", "screen": "one-tube"}.get(status)
    codes = [by_status] if by_status else [] if agreement == "agrees" else ["not-agreed"]
    # A held result has its query by being held: one reason is enough.
    if status == "preliminary" and any(f.severity is not Severity.NOTE for f in findings):
        codes.append("query-open")
    if bench_stopped:
        codes.append("bench-stopped")
    return tuple(codes)
