"""One tube as somebody states it, and the model's inputs that follow from it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.bath import STANDARD_HPA
from lodestarch.tube.inputs import TubeInputs
from lodestarch.tube.legal import check
from lodestarch.tube.parameters import ParameterSet
from lodestarch.tube.questions.solve import solve
from lodestarch.work.pocket.bath import bath_for
from lodestarch.work.tube.sets import set_named

__all__ = ["SOUND_S", "SPROUTED_S", "TubeAsked", "TubeStated", "state"]

SOUND_S: Final = 350.0
"""What sound grain reads by itself, where a share of sprouted grain is stated. [s]  Invented: a round number
well above common limits; the lab states its own."""

SPROUTED_S: Final = 80.0
"""What sprouted grain reads by itself. [s]  Invented: badly sprouted, and still well above the floor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeAsked:
    """One tube as stated.

    Parameters
    ----------
    ln, activity, share_pct, reads_s : float or None
        Its enzyme, one of four ways: liquefaction number; LN units above enzyme-free meal; per cent of
        sprouted grain among sound grain, by dry mass; the seconds that the meal reads under standard
        conditions.
    sound_s, sprouted_s : float
        What the two kinds of grain read by themselves under standard conditions. [s]
    mass_g, moisture_pct, water_ml, start_temp_c, wall_mm, stir_from_s, decay_85_per_s
        As in the model's inputs.
    place : str or None
        Pressure or elevation with its unit; ``None`` is the standard atmosphere at sea level.
    elevation, pressure_is : str or None
        As ``bath`` takes them.
    origins : tuple of str
        ``name`` or ``name:share``.
    set_name : str
        A shipped set.
    own_set : ParameterSet or None
        A fitted set, in place of a shipped one.
    """

    ln: float | None = None
    activity: float | None = None
    share_pct: float | None = None
    reads_s: float | None = None
    sound_s: float = SOUND_S
    sprouted_s: float = SPROUTED_S
    mass_g: float = 7.0
    moisture_pct: float = 14.0
    water_ml: float = 25.0
    start_temp_c: float = 22.0
    place: str | None = None
    elevation: str | None = None
    pressure_is: str | None = None
    wall_mm: float = 1.4
    stir_from_s: float = 5.0
    decay_85_per_s: float | None = None
    origins: tuple[str, ...] = ("germination",)
    set_name: str = "ref"
    own_set: ParameterSet | None = None


@dataclass(frozen=True, slots=True)
class TubeStated:
    """What the model is given; ``None`` where a finding of severity *stop* says why not."""

    inputs: TubeInputs | None
    params: ParameterSet | None
    elevation_m: float | None
    findings: tuple[Finding, ...]

    @property
    def stopped(self) -> bool:
        """True where the model cannot be asked."""
        return any(f.severity is Severity.STOP for f in self.findings)


def state(asked: TubeAsked, *, enzyme: bool = True) -> TubeStated:
    """Turn a tube as stated into the model's inputs.

    Parameters
    ----------
    asked : TubeAsked
    enzyme : bool
        False where the question brings its own enzyme, or finds it: then none is asked for, and it is 0.

    Returns
    -------
    TubeStated
        Every problem at once. Beside those of ``tube.legal.check`` and ``bath``: ``tube-enzyme-twice``,
        ``tube-share-pct``, ``tube-origin-unreadable``, and those of ``sets.set_named``.
    """
    params, found = (asked.own_set, ()) if asked.own_set is not None else set_named(asked.set_name)
    origins, odd = _origins(asked.origins)
    found = (*found, *odd)
    pressure, height, about = _pressure(asked)
    found = (*found, *about)
    tube = TubeInputs(
        activity=0.0, mass_g=asked.mass_g, moisture_pct=asked.moisture_pct, water_ml=asked.water_ml,
        start_temp_c=asked.start_temp_c, pressure_hpa=pressure, wall_mm=asked.wall_mm,
        stir_from_s=asked.stir_from_s, decay_85_per_s=asked.decay_85_per_s, origins=origins,
    )  # fmt: skip
    if params is None:
        return TubeStated(None, None, height, found)
    if enzyme:
        tube, more = _with_enzyme(tube, asked, params)
        found = (*found, *more)
    # A pressure that could not be read has said so; its stand-in is legal.
    found = (*found, *(f for f in check(tube, params) if f not in found))
    stopped = any(f.severity is Severity.STOP for f in found)
    return TubeStated(None if stopped else tube, params, height, found)


def _pressure(asked: TubeAsked) -> tuple[float, float | None, tuple[Finding, ...]]:
    """Station pressure, elevation where stated, and findings."""
    if asked.place is None:
        return STANDARD_HPA, None, ()
    bath = bath_for(asked.place, elevation=asked.elevation, pressure_is=asked.pressure_is)
    known = bath.pressure_hpa
    return (STANDARD_HPA if known is None else known), bath.elevation_m, bath.findings


def _origins(said: tuple[str, ...]) -> tuple[tuple[tuple[str, float], ...], tuple[Finding, ...]]:
    """Origins with their shares; one without a share is all of the enzyme."""
    read: list[tuple[str, float]] = []
    found: list[Finding] = []
    for text in said:
        name, colon, share = text.partition(":")
        try:
            read.append((name.strip(), float(share.replace(",", ".")) if colon else 1.0))
        except ValueError:
            where = Where(field="origins")
            found.append(Finding("tube-origin-unreadable", where, Severity.STOP, {"value": text}))
    # What could not be read is told; the rest is looked at as if it were whole.
    return (tuple(read) if read and not found else (("germination", 1.0),)), tuple(found)


def _with_enzyme(
    tube: TubeInputs, asked: TubeAsked, params: ParameterSet
) -> tuple[TubeInputs, tuple[Finding, ...]]:
    """The tube with its enzyme, by whichever of the four ways it is stated."""
    ways = (asked.ln, asked.activity, asked.share_pct, asked.reads_s)
    said = sum(way is not None for way in ways)
    if said > 1:
        return tube, (Finding("tube-enzyme-twice", Where(field="enzyme"), Severity.STOP),)
    if said == 0:
        return tube, (Finding("tube-enzyme-missing", Where(field="enzyme"), Severity.STOP),)
    if asked.share_pct is not None or asked.reads_s is not None:
        activity, found = _solved(tube, asked, params)
        return (tube if found else tube.with_activity(activity)), found
    return replace(tube, ln=asked.ln, activity=asked.activity), ()


def _solved(tube: TubeInputs, asked: TubeAsked, params: ParameterSet) -> tuple[float, tuple[Finding, ...]]:
    """Activity behind a reading, or behind a mix of two kinds of grain that are known by their readings."""
    # What meal reads "by itself" is meant under standard conditions, whatever this tube's are.
    standard = replace(TubeInputs(activity=0.0), origins=tube.origins)
    if check(standard, params):
        return 0.0, check(standard, params)
    if asked.reads_s is not None:
        one, _, found = solve((asked.reads_s,), standard, params, "reads_s")
        return (one[0] if one else 0.0), found
    share = asked.share_pct if asked.share_pct is not None else math.nan
    if not 0.0 <= share <= 100.0:
        shown = share if math.isfinite(share) else repr(share)
        return 0.0, (
            Finding("tube-share-pct", Where(field="share_pct"), Severity.STOP, {"share_pct": shown}),
        )
    both, _, found = solve((asked.sound_s, asked.sprouted_s), standard, params, "sound_s")
    if found:
        return 0.0, found
    return (1.0 - 0.01 * share) * both[0] + 0.01 * share * both[1], ()
