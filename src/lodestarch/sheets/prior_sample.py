"""A file of loads that stands for what such loads are like: seconds, and a weight where one is stated.

::

    seconds,weight
    312,1
    287,0.5
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.decide.prior import SamplePrior

__all__ = ["ReadPriorSample", "read_prior_sample"]


@dataclass(frozen=True, slots=True)
class ReadPriorSample:
    """The sample, or the findings that say why there is none."""

    prior: SamplePrior | None
    findings: tuple[Finding, ...]


def read_prior_sample(data: bytes, name: str) -> ReadPriorSample:
    r"""Read a file of loads; never raises on its content.

    Parameters
    ----------
    data : bytes
        Text in UTF-8 with a header; the first column is seconds, the second, where there is one, a weight.
        Comma, semicolon or tab between them; a decimal comma where the separator is not one.
    name : str
        File name, for findings.

    Examples
    --------
    >>> read_prior_sample(b"seconds;weight\n300;1\n310,5;2\n", "loads.csv").prior.values_s.tolist()
    [300.0, 310.5]
    """
    lines = data.decode("utf-8-sig", errors="replace").splitlines()
    separator = next((s for s in (";", "\t", ",") if lines and s in lines[0]), ";")
    values: list[float] = []
    weights: list[float] = []
    for row, line in enumerate(lines[1:], start=2):
        if not line.strip():
            continue
        cells = line.split(separator)
        seconds, weight = _number(cells[0]), _number(cells[1]) if len(cells) > 1 else 1.0
        if seconds is None or weight is None or weight < 0.0:
            where = Where(source=name, row=row)
            return ReadPriorSample(
                None, (Finding("prior-file-unreadable", where, Severity.STOP, {"row": row}),)
            )
        values.append(seconds)
        weights.append(weight)
    if not sum(weights) > 0.0:
        none = Finding("prior-sample-unusable", Where(source=name), Severity.STOP, {"values": len(values)})
        return ReadPriorSample(None, (none,))
    return ReadPriorSample(SamplePrior(np.array(values), np.array(weights)), ())


def _number(text: str) -> float | None:
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) else None
