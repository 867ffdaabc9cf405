"""Load-out: a cargo as it stands, its odds, what to draw next, whether to stop, what to do about sublots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from lodestarch.common.findings import Finding, Severity, Where, in_order
from lodestarch.plan.loadout.cargo import Cargo, Sublot
from lodestarch.plan.loadout.draw import Recipe, next_draw
from lodestarch.plan.loadout.forecast import Forecast, forecast, rest_of
from lodestarch.plan.loadout.remedy import Remedy, remedies
from lodestarch.plan.loadout.replay import Event, Moment, replay
from lodestarch.plan.loadout.running import Running, running
from lodestarch.plan.loadout.stopping import Stopping, stopping
from lodestarch.sheets.loadout_cargo import CargoTerms, read_cargo, read_sublots

__all__ = ["LoadoutAnswer", "SublotRemedies", "answer_for", "load_out", "replayed"]

SHOWN_RECIPES = 5


@dataclass(frozen=True, slots=True)
class SublotRemedies:
    """Ways out for one sublot that lies under, the best first."""

    number: int
    remedies: tuple[Remedy, ...]


@dataclass(frozen=True, slots=True)
class LoadoutAnswer:
    """A cargo as it stands.

    Parameters
    ----------
    cargo : Cargo or None
        ``None``: the file could not be read.
    terms : CargoTerms or None
    running : tuple of Running
        After each sublot.
    loaded_t, to_load_t : float
    recipes : tuple of Recipe
        For the rest, the one to draw first; empty where nothing is left or no bins suffice.
    forecast : Forecast or None
        The end, the rest drawn by the first recipe.
    rest : tuple of Sublot
        Sublots to come under that recipe.
    stopping : Stopping or None
        ``None``: money or waiting time is not stated.
    under : tuple of SublotRemedies
    moments : tuple of Moment
        With a replay: the cargo after each event.
    findings : tuple of Finding
    """

    cargo: Cargo | None
    terms: CargoTerms | None
    running: tuple[Running, ...]
    loaded_t: float
    to_load_t: float
    recipes: tuple[Recipe, ...]
    forecast: Forecast | None
    rest: tuple[Sublot, ...]
    stopping: Stopping | None
    under: tuple[SublotRemedies, ...]
    moments: tuple[Moment, ...]
    findings: tuple[Finding, ...]


def load_out(
    cargo: tuple[bytes, str], sublots: tuple[bytes, str] | None, rng: Any, *, behind: int | None = None
) -> LoadoutAnswer:
    """Say how a cargo stands.

    Parameters
    ----------
    cargo : tuple of bytes and str
        The cargo's file and its name.
    sublots : tuple of bytes and str or None
        Sublots so far, in loading order.
    rng : numpy.random.Generator
    behind : int, optional
        Replay the cargo: each result came so many sublots after its own was loaded.
    """
    read = read_cargo(*cargo)
    if read.cargo is None or read.terms is None:
        return LoadoutAnswer(None, None, (), 0.0, 0.0, (), None, (), None, (), (), in_order(read.findings))
    found: list[Finding] = list(read.findings)
    now = read.cargo
    if sublots is not None:
        loaded, more = read_sublots(*sublots, now)
        now = replace(now, sublots=loaded)
        found += more
    answer = answer_for(now, read.terms, rng, found, cargo[1])
    return replace(answer, moments=_replayed(now, answer.recipes, behind, rng))


def answer_for(
    cargo: Cargo, terms: CargoTerms, rng: Any, findings: Sequence[Finding], source: str
) -> LoadoutAnswer:
    """Say how a cargo stands that is read already.

    Parameters
    ----------
    cargo : Cargo
        With its sublots.
    terms : CargoTerms
    rng : numpy.random.Generator
    findings : sequence of Finding
        Of reading it; more may be added.
    source : str
        What the cargo is called, for findings.
    """
    found = list(findings)
    recipes = next_draw(cargo, terms.wanted_odds, rng) if cargo.to_load_t > 0 else ()
    if cargo.to_load_t > 0 and not recipes:
        values = {"tonnes": cargo.to_load_t}
        found.append(Finding("loadout-no-recipe", Where(source=source), Severity.CHECK, values))
    rest = rest_of(cargo, recipes[0].shares) if recipes else ()
    end = forecast(cargo, rest, rng) if recipes or (cargo.to_load_t <= 0 and cargo.sublots) else None
    return LoadoutAnswer(
        cargo,
        terms,
        running(cargo.asked, cargo.sublots),
        cargo.loaded_t,
        cargo.to_load_t,
        recipes[:SHOWN_RECIPES],
        end,
        rest,
        _stopping(cargo, terms, rng),
        _under(cargo, terms, recipes, rng),
        (),
        in_order(found),
    )


def _stopping(cargo: Cargo, terms: CargoTerms, rng: Any) -> Stopping | None:
    if None in (terms.made_t, terms.missed_t, terms.results_take_h, terms.hour_cost):
        return None
    if cargo.to_load_t <= 0 or all(s.result_s is not None for s in cargo.sublots):
        return None
    return stopping(
        cargo,
        terms.made_t or 0.0,
        terms.missed_t or 0.0,
        terms.results_take_h or 0.0,
        terms.hour_cost or 0.0,
        rng,
    )


def _under(
    cargo: Cargo, terms: CargoTerms, recipes: tuple[Recipe, ...], rng: Any
) -> tuple[SublotRemedies, ...]:
    if None in (terms.made_t, terms.missed_t, terms.apart_t, terms.back_t) or not recipes:
        return ()
    figures = running(cargo.asked, cargo.sublots)
    return tuple(
        SublotRemedies(
            one.number,
            remedies(
                cargo,
                one.number,
                recipes[0].shares,
                terms.made_t or 0.0,
                terms.missed_t or 0.0,
                terms.apart_t or 0.0,
                terms.back_t or 0.0,
                terms.discharge_cost,
                terms.apart_cost,
                rng,
            ),
        )
        for one in figures
        if one.under_breakpoint
    )


def _replayed(cargo: Cargo, recipes: tuple[Recipe, ...], behind: int | None, rng: Any) -> tuple[Moment, ...]:
    if behind is None or not cargo.sublots:
        return ()
    rest = recipes[0].shares if recipes else cargo.sublots[-1].shares
    return replay(replace(cargo, sublots=()), replayed(cargo, behind), rest, rng)


def replayed(cargo: Cargo, behind: int) -> list[Event]:
    """Return the events of a cargo in order, each result so many sublots behind its own."""
    events: list[Event] = []
    for i, one in enumerate(cargo.sublots):
        events.append(Event("loaded", one.number, one.tonnes, one.shares))
        if i >= behind:
            events += _reported(cargo.sublots[i - behind])
    for one in cargo.sublots[max(len(cargo.sublots) - behind, 0) :]:
        events += _reported(one)
    return events


def _reported(sublot: Sublot) -> list[Event]:
    return [] if sublot.result_s is None else [Event("result", sublot.number, result_s=sublot.result_s)]
