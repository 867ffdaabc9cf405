"""How the fitted scatter grows with a lab's own pairs: the same file after so many rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lodestarch.common.findings import Finding
from lodestarch.control.own_pairs import pairs_of
from lodestarch.precision.scatter_fit import fit_pairs
from lodestarch.precision.scatter_result import ScatterSummary
from lodestarch.sheets.pairs_sheet import read_pairs_sheet

__all__ = ["AT_S", "FitGrowth", "FitStep", "fit_growth"]

AT_S = (150.0, 300.0, 400.0)
"""Levels shown. [s]"""


@dataclass(frozen=True, slots=True)
class FitStep:
    """The fit after the first ``pairs`` usable rows."""

    pairs: int
    fit: ScatterSummary


@dataclass(frozen=True, slots=True)
class FitGrowth:
    """The fit step by step; steps beyond the end of the file are left out."""

    steps: tuple[FitStep, ...]
    findings: tuple[Finding, ...]


def fit_growth(data: bytes, name: str, steps: Sequence[int], *, at_s: Sequence[float] = AT_S) -> FitGrowth:
    """Fit the first so many pairs of a file.

    Parameters
    ----------
    data : bytes
    name : str
        File name, for findings.
    steps : sequence of int
        Numbers of pairs.
    at_s : sequence of float
        Levels. [s]
    """
    read = read_pairs_sheet(data, name)
    taken = [n for n in steps if 0 < n <= read.frame.height]
    found = tuple(FitStep(n, fit_pairs(pairs_of(read.frame.head(n))).summary(at_s)) for n in taken)
    return FitGrowth(found, read.findings)
