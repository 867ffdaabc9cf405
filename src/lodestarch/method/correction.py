"""Pressure corrections: named forms whose coefficients a lab enters with their source.

None is active as shipped, because no coefficient is known to the project. Entered coefficients are looked
at before they are used: a correction must do nothing at standard pressure, lower a reading below it, raise
it above, go one way, and have a sane size.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from lodestarch.common.arrays import Floats, as_array, like
from lodestarch.common.errors import OutOfRange, UnknownName
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.method.bath import STANDARD_HPA, elevation_from_pressure_m, pressure_from_elevation_hpa

if TYPE_CHECKING:
    from lodestarch.method.profile import Profile

__all__ = [
    "FORMS",
    "Correction",
    "coefficient_findings",
    "corrected_s",
    "correction_findings",
    "correction_of",
]

FORMS: Final = ("none", "proportional", "log-linear-elevation", "polynomial")

_FEET_PER_M: Final = 1.0 / 0.3048
_LOOKED_AT_HPA: Final = np.arange(700.0, 1061.0, 5.0)
_AT_3000_FT_HPA: Final = pressure_from_elevation_hpa(914.4)
_SIZE_S: Final = (10.0, 60.0)
"""What 300 s at 3,000 ft may be lowered by [s]. The published effect is 'more than 30 units' at an unstated
level (Delwiche, Cereal Foods World 64(2), 2019); a factor of about three below and two above is a rule of
ours (derived)."""

_INSANE_S: Final = 100.0
"""From here on the size stops a profile [s]; a rule of ours (derived)."""


@dataclass(frozen=True, slots=True)
class Correction:
    """One correction as a lab has entered it.

    Parameters
    ----------
    form : str
        ``proportional``: FN (1 + c (p - 101.325)), c per kPa, above 0.
        ``log-linear-elevation``: 10^(log10 FN (1 - c h)), h in ft of the standard atmosphere at p, c per ft.
        ``polynomial``: FN (b0 + b1 p + b2 p^2 + ...), p in kPa.
    coefficients : tuple of float
    source : str
        Where the lab read them.
    """

    form: str
    coefficients: tuple[float, ...]
    source: str = ""

    def __post_init__(self) -> None:
        if self.form not in FORMS:
            raise UnknownName("pressure correction", self.form, FORMS)
        least, most = {"none": (0, 0), "polynomial": (1, 6)}.get(self.form, (1, 1))
        n = len(self.coefficients)
        if not least <= n <= most:
            raise OutOfRange(f"number of coefficients of {self.form}", n, least, most, "1")


def corrected_s(seconds: Floats, pressure_hpa: Floats | float, correction: Correction) -> Floats:
    """Seconds at standard pressure, as the entered correction gives them.

    Parameters
    ----------
    seconds : float or ndarray
        As read. [s]  Legal 60 to 900.
    pressure_hpa : float or ndarray
        Station pressure of the run. [hPa]  Legal 600 to 1080.
    correction : Correction

    Returns
    -------
    float or ndarray
        Shape of ``seconds``. [s]

    Examples
    --------
    >>> c = Correction("proportional", (0.01,), "an example, no real coefficient")
    >>> round(corrected_s(300.0, 913.25, c), 3)
    270.0
    """
    fn, p = as_array(seconds), as_array(pressure_hpa)
    if correction.form == "none":
        return like(seconds, fn.copy())
    if correction.form == "proportional":
        out = fn * (1.0 + correction.coefficients[0] * (p - STANDARD_HPA) / 10.0)
    elif correction.form == "log-linear-elevation":
        feet = as_array(elevation_from_pressure_m(p)) * _FEET_PER_M
        out = 10.0 ** (np.log10(fn) * (1.0 - correction.coefficients[0] * feet))
    else:
        out = fn * np.polynomial.polynomial.polyval(p / 10.0, correction.coefficients)
    return like(seconds, np.asarray(out))


def correction_findings(correction: Correction, where: Where) -> tuple[Finding, ...]:
    """Look at entered coefficients before they are used.

    Returns
    -------
    tuple of Finding
        ``correction-not-zero-at-standard``, ``correction-wrong-sign``, ``correction-not-monotonic`` (all
        stop), ``correction-size`` (check), each with the numbers it rests on.

    Notes
    -----
    Evaluated for 300 s from 700 to 1060 hPa in steps of 5 hPa.
    """
    if correction.form == "none":
        return ()
    with np.errstate(over="ignore", invalid="ignore"):  # a slip in an exponent is a finding, not a warning
        shift = corrected_s(np.full_like(_LOOKED_AT_HPA, 300.0), _LOOKED_AT_HPA, correction) - 300.0
        at_standard = corrected_s(300.0, STANDARD_HPA, correction) - 300.0
        at_3000 = corrected_s(300.0, _AT_3000_FT_HPA, correction) - 300.0
        rising = np.all(np.diff(shift) > 0.0)
    values: dict[str, Value] = {
        "form": correction.form,
        "at_standard_s": round(at_standard, 3),
        "at_3000_ft_s": round(at_3000, 2),
    }
    found = []
    if not abs(at_standard) <= 0.1:
        found.append(Finding("correction-not-zero-at-standard", where, Severity.STOP, values))
    away = np.abs(_LOOKED_AT_HPA - STANDARD_HPA) > 10.0
    if not np.all((np.sign(shift) == np.sign(_LOOKED_AT_HPA - STANDARD_HPA))[away]):
        found.append(Finding("correction-wrong-sign", where, Severity.STOP, values))
    if not rising:
        found.append(Finding("correction-not-monotonic", where, Severity.STOP, values))
    if not _SIZE_S[0] <= -at_3000 <= _SIZE_S[1]:
        values = {**values, "least_s": _SIZE_S[0], "most_s": _SIZE_S[1]}
        # Three times the published size is a slip of the pen, not another law.
        insane = not -at_3000 <= _INSANE_S
        found.append(Finding("correction-size", where, Severity.STOP if insane else Severity.CHECK, values))
    return tuple(found)


def correction_of(profile: Profile) -> Correction:
    """The correction that a profile carries.

    Raises
    ------
    UnknownName, OutOfRange, ValueError
        When form or coefficients cannot be read; :func:`coefficient_findings` says so first.
    """
    c = profile.constants
    numbers = tuple(float(t) for t in (c.correction_coefficients or "").replace(",", " ").split())
    return Correction(c.correction_form, numbers, profile.fields["correction_coefficients"].source)


def coefficient_findings(profile: Profile) -> tuple[Finding, ...]:
    """Findings on the correction of a profile, unreadable coefficients included."""
    where = Where(source=profile.name, field="correction_coefficients")
    try:
        correction = correction_of(profile)
    except ValueError as cause:
        values: dict[str, Value] = {"name": "correction coefficients", "why": str(cause)}
        return (Finding("correction-unreadable", where, Severity.STOP, values),)
    return correction_findings(correction, where)
