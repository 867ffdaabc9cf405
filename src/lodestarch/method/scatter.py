"""The law of scatter: how much one tube's reading varies, by level.

Frozen here because result, odds and plans all need it; ``precision`` fits it to a lab's own pairs.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal, get_args

import numpy as np

from lodestarch.common.arrays import Floats, as_array, like
from lodestarch.common.errors import OutOfRange, UnknownName
from lodestarch.common.provenance import Provenance
from lodestarch.method.liquefaction import LN_NUMERATOR, LN_OFFSET_S

__all__ = ["DEFAULT_CV", "DEFAULT_SCATTER", "PUBLISHED_CV_RANGE", "ScatterKind", "ScatterLaw"]

ScatterKind = Literal["constant-cv", "constant-plus-proportional", "constant-in-ln", "table"]

PUBLISHED_CV_RANGE: Final = (0.01, 0.04)
"""Within-laboratory repeatability CV over all treatments and samples, approved method and three variants
in an optimal laboratory [1]. Published: Delwiche and Vinyard, cereal chemists' meeting abstract, 2016."""

DEFAULT_CV: Final = 0.02
"""CV of one tube where a lab has no data of its own yet [1]. A default of ours inside the published range;
for the tube alone: grinding, sampling and other labs are separate variances."""


@dataclass(frozen=True, slots=True)
class ScatterLaw:
    """Standard deviation of one tube's reading as a function of its level.

    Parameters
    ----------
    kind : str
        ``constant-cv``: a FN. ``constant-plus-proportional``: sqrt(a^2 + (b FN)^2), a in s.
        ``constant-in-ln``: a (FN - 50)^2/6000, a in units of LN.
        ``table``: linear between knots, flat outside.
    parameters : tuple of float
        (a,), (a, b), (a,) by kind; for ``table`` the SDs at ``knots_s``. [s or 1]  None negative.
    provenance : Provenance
    note : str
        One line: how the law was come by.
    knots_s : tuple of float
        Levels of the table, ascending. [s]
    """

    kind: ScatterKind
    parameters: tuple[float, ...]
    provenance: Provenance
    note: str = ""
    knots_s: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if self.kind not in get_args(ScatterKind):
            raise UnknownName("scatter law", self.kind, get_args(ScatterKind))
        expected = {"constant-plus-proportional": 2, "table": len(self.knots_s)}.get(self.kind, 1)
        if len(self.parameters) != expected or expected == 0:
            raise OutOfRange("number of parameters", len(self.parameters), expected, expected, "1")
        if any(b <= a for a, b in pairwise(self.knots_s)) or not np.all(np.isfinite(self.knots_s)):
            raise OutOfRange("knots that do not ascend", len(self.knots_s), 1, len(self.knots_s), "1")
        for value in self.parameters:
            if not (np.isfinite(value) and value >= 0.0):
                raise OutOfRange("scatter parameter", value, 0.0, float("inf"), "1")

    def sd_s(self, fn_s: Floats) -> Floats:
        """Standard deviation of one reading at level ``fn_s``. [s]

        Parameters
        ----------
        fn_s : float or ndarray
            Level. [s]  Legal 60 to 900.

        Examples
        --------
        >>> DEFAULT_SCATTER.sd_s(300.0)
        6.0
        """
        fn = as_array(fn_s)
        if self.kind == "constant-cv":
            sd = self.parameters[0] * fn
        elif self.kind == "constant-plus-proportional":
            sd = np.hypot(self.parameters[0], self.parameters[1] * fn)
        elif self.kind == "constant-in-ln":
            sd = self.parameters[0] * (fn - LN_OFFSET_S) ** 2 / LN_NUMERATOR
        else:
            sd = np.interp(fn, self.knots_s, self.parameters)
        return like(fn_s, np.asarray(sd, dtype=np.float64))

    def mean_sd_s(self, fn_s: float, tubes: int = 2) -> float:
        """Standard deviation of the mean of some tubes at level ``fn_s``: tube scatter and nothing else. [s]

        Parameters
        ----------
        fn_s : float
            Level. [s]  Legal 60 to 900.
        tubes : int
            At least 1.

        Examples
        --------
        >>> round(DEFAULT_SCATTER.mean_sd_s(300.0), 4)
        4.2426
        """
        return float(self.sd_s(fn_s)) / float(np.sqrt(tubes))


DEFAULT_SCATTER: Final = ScatterLaw(
    "constant-cv",
    (DEFAULT_CV,),
    Provenance.DERIVED,
    "default CV of 2 % for one tube, inside the published 1 to 4 %; the lab has no law of its own yet",
)
