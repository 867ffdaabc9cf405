"""The register of a day: a line a sample, in words, for page, paper and terminal."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import quote

import polars as pl

from lodestarch.common.findings import Finding, Severity
from lodestarch.method.day_counts import outcome_of
from lodestarch.method.profile import Profile
from lodestarch.method.reading import Kind, State
from lodestarch.words.catalogues import DEFAULT_LOCALE, term, terms
from lodestarch.words.drawing.strip import MOST_DOTS, StripMark
from lodestarch.words.findings import sentence
from lodestarch.words.numbers import DASH, by_suffix, figure, number, with_u
from lodestarch.words.result import reported, seconds_text, u_text
from lodestarch.words.shapes import DayShape

__all__ = [
    "FILTERS",
    "RegisterLine",
    "by_sample",
    "filtered",
    "floor_of",
    "ln_text",
    "profile_of",
    "reading_state",
    "register",
    "strip_key",
    "strip_marks",
]

FILTERS: Final = ("all", "waiting", "queries", "stand", "at_floor", "screen")
"""What of a register may be shown: all, what waits, what has a query, or one outcome."""

_WAITING: Final = ("run_again", "no_result")
_GRAVE: Final = {Severity.STOP: 0, Severity.CHECK: 1, Severity.NOTE: 2}


@dataclass(frozen=True, slots=True)
class RegisterLine:
    """One sample of a register; everything in words, missing values as a dash."""

    sample: str
    name: str
    kind: str
    """Empty for a load, which goes without saying."""
    whose: str
    bin: str
    outcome: str
    outcome_words: str
    waits: bool
    seconds: str
    u: str
    tubes: str
    spread: str
    ln: str
    queries: int
    query: str
    """What is wrong, of the gravest query that is more than a note."""


def by_sample(findings: Iterable[Finding]) -> Mapping[str, Sequence[Finding]]:
    """Findings of each sample, the gravest first."""
    found: dict[str, list[Finding]] = defaultdict(list)
    for finding in findings:
        if finding.where.sample is not None:
            found[finding.where.sample].append(finding)
    for several in found.values():
        several.sort(key=lambda f: _GRAVE[f.severity])
    return found


def profile_of(day: DayShape, name: str | None) -> Profile | None:
    """The profile of a day that results name as ``id@version``."""
    return next((p for p in day.profiles if p.name == name), None)


def floor_of(day: DayShape) -> float:
    """The lowest floor of a day's profiles, where its axes start. [s]"""
    return min((p.constants.floor_s for p in day.profiles), default=62.0)


def ln_text(row: Mapping[str, Any]) -> str:
    """Liquefaction number with the digits that u allows; a bound where the result is one."""
    if row["ln"] is not None:
        if row["u_s"] is None:
            return number(row["ln"], 1)
        return with_u(row["ln"], row["ln"] ** 2 / 6000.0 * row["u_s"], most=1)  # dLN/dFN = -LN**2/6000
    bound, sign = (row["ln_low"], "≥") if row["kind"] == Kind.AT_OR_BELOW.value else (row["ln_high"], "<")
    if row["kind"] == Kind.EXACT.value or bound is None:
        return DASH
    return f"{sign}\u00a0{figure(bound, 0 if bound >= 100 else 1)}"


def reading_state(row: Mapping[str, Any], locale: str = DEFAULT_LOCALE) -> str:
    """State of a reading in words: *stands*, *run again*, *set aside* with its cause."""
    state = State(row["state"])
    if state is State.SET_ASIDE:
        cause = terms(locale).get(f"cause.{row['state_code']}", row["state_code"] or "")
        said = term("state.set-aside", locale)
        return f"{said}: {cause}" if cause else said
    return term("state.stands" if state is State.STANDS else "state.run-again", locale)


def _whose(sample: Mapping[str, Any]) -> str:
    return str(sample.get("grower") or sample.get("origin") or "")


def _line(
    row: Mapping[str, Any],
    sample: Mapping[str, Any],
    profile: Profile | None,
    found: Sequence[Finding],
    locale: str,
) -> RegisterLine:
    result = reported(row, profile, locale)
    outcome = str(row["outcome"])
    queries = [f for f in found if f.severity is not Severity.NOTE]
    kind = sample.get("kind") or "load"
    spread = DASH
    if row["spread_s"] is not None:
        limit = DASH if row["limit_s"] is None else number(row["limit_s"])
        spread = term("register.spread", locale, spread=by_suffix("spread_s", row["spread_s"]), limit=limit)
    return RegisterLine(
        sample=str(row["sample"]),
        name=result.name,
        kind="" if kind == "load" else terms(locale).get(f"kind.{kind}", str(kind)),
        whose=_whose(sample),
        bin=str(sample.get("bin") or ""),
        outcome=outcome,
        outcome_words=term(f"outcome.{outcome}", locale),
        waits=outcome in _WAITING,
        seconds=seconds_text(result),
        u=u_text(None if result.status == "held" else result.u_s),
        tubes=str(result.tubes) if result.tubes_stated else term("register.not-stated", locale),
        spread=spread,
        ln=DASH if result.status == "held" else ln_text(row),
        queries=len(queries),
        query=sentence(queries[0], locale).wrong if queries else "",
    )


def filtered(day: DayShape, which: str = "all") -> pl.DataFrame:
    """Results of a day with their ``outcome``, all or one of :data:`FILTERS`; in order of the sheet."""
    results = day.results.with_columns(outcome_of().alias("outcome"))
    if which == "waiting":
        return results.filter(pl.col("outcome").is_in(_WAITING))
    if which == "queries":
        asked = {
            f.where.sample
            for f in day.findings
            if f.severity is not Severity.NOTE and f.where.sample is not None
        }
        return results.filter(pl.col("sample").is_in(sorted(asked)))
    return results if which == "all" else results.filter(pl.col("outcome") == which)


def register(
    day: DayShape, results: pl.DataFrame | None = None, locale: str = DEFAULT_LOCALE
) -> tuple[RegisterLine, ...]:
    """Put results of a day into words.

    Parameters
    ----------
    day : DayShape
    results : polars.DataFrame or None
        A part of what :func:`filtered` gives; all of it when left out.

    Returns
    -------
    tuple of RegisterLine
        In the order of ``results``.
    """
    frame = filtered(day) if results is None else results
    wanted = day.samples.filter(pl.col("sample").is_in(frame["sample"].implode()))
    samples = {s["sample"]: s for s in wanted.iter_rows(named=True)}
    found = by_sample(day.findings)
    profiles = {p.name: p for p in day.profiles}
    return tuple(
        _line(
            row,
            samples.get(row["sample"], {}),
            profiles.get(row["profile"] or ""),
            found.get(row["sample"], ()),
            locale,
        )
        for row in frame.iter_rows(named=True)
    )


def strip_marks(day: DayShape, address: str | None = None) -> list[StripMark]:
    """Marks for the picture of a day: every sample with a result that is not held, check samples apart.

    Parameters
    ----------
    day : DayShape
    address : str or None
        Where a mark leads, with ``{sample}`` in it, already escaped for addresses.
    """
    checks = day.samples.filter(pl.col("kind") == "check")["sample"]
    rows = filtered(day).filter(
        ~pl.col("outcome").is_in(_WAITING),
        pl.col("seconds").is_not_null(),
        ~pl.col("sample").is_in(checks.implode()),
    )
    # Past that number samples are drawn as steps, and steps lead nowhere.
    linked = address is not None and rows.height <= MOST_DOTS
    return [
        StripMark(
            name=ticket or sample,
            seconds=seconds,
            kind=Kind(kind),
            u_s=u_s,
            full=outcome != "screen" and stated is not False,
            href=address.replace("{sample}", quote(sample, safe="")) if address and linked else None,
        )
        for sample, ticket, seconds, kind, u_s, outcome, stated in rows.select(
            "sample", "ticket", "seconds", "kind", "u_s", "outcome", "tubes_stated"
        ).iter_rows()
    ]


def strip_key(day: DayShape, marks: Sequence[StripMark], locale: str = DEFAULT_LOCALE) -> str:
    """How to read the picture of a day, and what is not in it."""
    said = [] if len(marks) > MOST_DOTS else [term("drawing.strip-key", locale)]
    waits = day.counts.run_again + day.counts.no_result
    if waits:
        said.append(term("drawing.strip-left-out", locale, count=waits))
    if day.samples.filter(pl.col("kind") == "check").height:
        said.append(term("drawing.strip-checks", locale))
    return " ".join(said)
