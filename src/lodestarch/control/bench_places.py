"""Which position, stirrer, tube, mill or analyst runs high, from a bench's own readings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import polars as pl

from lodestarch.common.errors import NoAnswer
from lodestarch.control.place_effects import PlaceEffects, place_effects
from lodestarch.control.sign_off import SignOff, sign_off
from lodestarch.method.reading import Kind, State
from lodestarch.method.scatter import ScatterLaw

__all__ = ["PLACE_KINDS", "BlindReport", "PlaceReport", "bench_places", "blind_reports"]

PLACE_KINDS: Final = ("position", "stirrer", "tube", "mill", "analyst")


@dataclass(frozen=True, slots=True)
class PlaceReport:
    """Places of one kind.

    Parameters
    ----------
    kind : str
        One of ``PLACE_KINDS``.
    levels : int
        Places named on the sheets.
    effects : PlaceEffects or None
        ``None``: fewer than two places are named, so that there is nothing to compare.
    """

    kind: str
    levels: int
    effects: PlaceEffects | None


@dataclass(frozen=True, slots=True)
class BlindReport:
    """Blind duplicates of one person.

    Parameters
    ----------
    analyst : str
    pairs : int
    sign_off : SignOff or None
        ``None``: too few pairs.
    """

    analyst: str
    pairs: int
    sign_off: SignOff | None


def bench_places(
    readings: pl.DataFrame, mills: pl.DataFrame, materials: pl.DataFrame, law: ScatterLaw, dof: float
) -> tuple[PlaceReport, ...]:
    """Compare the places of every kind.

    Parameters
    ----------
    readings : polars.DataFrame
        In ``method.table.JUDGED``.
    mills : polars.DataFrame
        ``sample``, ``mill_id``.
    materials : polars.DataFrame
        ``sample``, ``label``: the check material of a check sample. Its runs share a level, so that they
        compare mills and analysts, which two tubes of one sample cannot.
    law : ScatterLaw
        Of one tube.
    dof : float
        How many degrees of freedom that law rests on.

    Returns
    -------
    tuple of PlaceReport
        One a kind, in the order of ``PLACE_KINDS``.
    """
    usable = (
        readings.filter(
            pl.col("set_aside_cause").is_null(),
            pl.col("kind") == Kind.EXACT.value,
            pl.col("seconds").is_not_null(),
            pl.col("state") != State.SET_ASIDE.value,
        )
        .join(mills.unique("sample"), on="sample", how="left")
        .join(materials.unique("sample"), on="sample", how="left")
        .with_columns(
            pl.concat_str(pl.col("bath").fill_null(""), "position", separator=" ")
            .str.strip_chars()
            .alias("place"),
            pl.coalesce("label", "sample").alias("shared"),
        )
    )
    columns = {
        "position": ("sample", "place"),
        "stirrer": ("sample", "stirrer_id"),
        "tube": ("sample", "tube_id"),
        "mill": ("shared", "mill_id"),
        "analyst": ("shared", "analyst"),
    }
    return tuple(_report(kind, usable, *columns[kind], law, dof) for kind in PLACE_KINDS)


def _report(
    kind: str, usable: pl.DataFrame, shared: str, place: str, law: ScatterLaw, dof: float
) -> PlaceReport:
    mine = usable.filter(pl.col(place).is_not_null() & (pl.col(place) != ""))
    if kind == "position":
        mine = mine.filter(pl.col("position_stated").fill_null(value=False))
    levels = mine[place].n_unique()
    if levels < 2:
        return PlaceReport(kind, levels, None)
    seconds = mine["seconds"].to_numpy()
    found = place_effects(
        mine[shared].to_numpy(), mine[place].to_numpy(), seconds, law.sd_s(seconds), sd_dof=dof
    )
    return PlaceReport(kind, levels, found)


def blind_reports(blind: pl.DataFrame, law: ScatterLaw) -> tuple[BlindReport, ...]:
    """Judge blind duplicates person by person.

    Parameters
    ----------
    blind : polars.DataFrame
        ``analyst``, ``first_s``, ``second_s``, ``reference_s`` (null: none); a row a blind pair. [s]
    law : ScatterLaw
    """
    out = []
    for (analyst,), mine in blind.group_by("analyst", maintain_order=True):
        level = (0.5 * (mine["first_s"] + mine["second_s"])).to_numpy()
        try:
            found = sign_off(
                mine["first_s"].to_numpy(),
                mine["second_s"].to_numpy(),
                law.sd_s(level),
                reference_s=mine["reference_s"].cast(pl.Float64).fill_null(float("nan")).to_numpy(),
            )
        except NoAnswer:
            found = None
        out.append(BlindReport(str(analyst), mine.height, found))
    return tuple(out)
