"""Receive: the loads so far against a site, and a word for each load that waits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lodestarch.common.findings import Finding, Severity, Where, in_order
from lodestarch.method.liquefaction import fn_from_ln, ln_from_fn
from lodestarch.plan.receive.bins import RoomFull
from lodestarch.plan.receive.desk import Desk, Said
from lodestarch.plan.receive.loads import Load
from lodestarch.plan.receive.posting import Posted, posted
from lodestarch.plan.receive.waiting import Queue, waiting
from lodestarch.sheets.receive_site import Site, ToldLoad, read_loads, read_site

__all__ = ["BinNow", "CompositeTold", "ReceiveAnswer", "Waiting", "receive_at", "said_of"]


@dataclass(frozen=True, slots=True)
class CompositeTold:
    """One sample composited by mass from several untested loads, with its result. [s]"""

    tickets: tuple[str, ...]
    seconds: float


@dataclass(frozen=True, slots=True)
class Waiting:
    """A load at the probe.

    Parameters
    ----------
    ticket : str
    tonnes : float
        [t]
    known_s : float or None
        Its result, where it has one. [s]
    said : Said or None
        ``None``: no bin has room for it.
    """

    ticket: str
    tonnes: float
    known_s: float | None
    said: Said | None


@dataclass(frozen=True, slots=True)
class BinNow:
    """A bin as it stands, computed as if turned. [t], [t], [s]"""

    bin: str
    tonnes: float
    room_t: float
    loads: int
    expected_s: float | None


@dataclass(frozen=True, slots=True)
class ReceiveAnswer:
    """What the desk says.

    Parameters
    ----------
    site : Site or None
        ``None``: the file could not be read.
    waiting : tuple of Waiting
        Loads without a bin, in the order of the sheet.
    rule : Posted or None
    bins : tuple of BinNow
    queue : Queue or None
        ``None``: how many trucks come and how long a test takes is not stated.
    tests_left, loads_left : int
    findings : tuple of Finding
    """

    site: Site | None
    waiting: tuple[Waiting, ...]
    rule: Posted | None
    bins: tuple[BinNow, ...]
    queue: Queue | None
    tests_left: int
    loads_left: int
    findings: tuple[Finding, ...]


def receive_at(site: tuple[bytes, str], loads: tuple[bytes, str] | None) -> ReceiveAnswer:
    """Say which load to test and which bin it goes to.

    Parameters
    ----------
    site : tuple of bytes and str
        The site's file and its name.
    loads : tuple of bytes and str or None
        The loads so far; one with a bin lies there, one without waits for a word.
    """
    read = read_site(*site)
    if read.site is None:
        return ReceiveAnswer(None, (), None, (), None, 0, 0, in_order(read.findings))
    told = read_loads(*loads, read.site) if loads else None
    findings = [*read.findings, *(told.findings if told else ())]
    return said_of(
        read.site, told.loads if told else (), findings=findings, source=loads[1] if loads else None
    )


def said_of(
    site: Site,
    loads: Sequence[ToldLoad],
    *,
    composites: Sequence[CompositeTold] = (),
    findings: Sequence[Finding] = (),
    source: str | None = None,
) -> ReceiveAnswer:
    """Say a word for each load that waits, from the loads as they came.

    Parameters
    ----------
    site : Site
    loads : sequence of ToldLoad
        In the order in which they came.
    composites : sequence of CompositeTold
        Each is taken in when the last of its loads has come.
    findings : sequence of Finding
        Of reading them; more may be added.
    source : str, optional
        Name of the sheet, for findings.
    """
    found = list(findings)
    desk = Desk(
        site.grades,
        site.spread,
        site.season,
        site.open_bins(),
        site.mode,
        days=site.days,
        least_worth=site.test_cost,
    )
    asked = []
    last_of = {c.tickets[-1]: c for c in composites if c.tickets}
    come: dict[str, Load] = {}
    for one in loads:
        come[one.load.ticket] = one.load
        desk.belief.advance(max(one.load.day, desk.belief.day))
        if one.seconds is not None:
            desk.result(one.load, float(ln_from_fn(one.seconds)))
        if one.bin is None:
            asked.append(_word(desk, one, found))
        else:
            _lies(desk, one, found, source)
        mixed = last_of.get(one.load.ticket)
        parts = [come[t] for t in mixed.tickets if t in come] if mixed is not None else []
        if mixed is not None and parts:
            desk.belief.learn_composite(parts, float(ln_from_fn(mixed.seconds)))
            desk.tests_left = max(desk.tests_left - 1, 0)
    return ReceiveAnswer(
        site,
        tuple(asked),
        posted(desk),
        tuple(_bin(desk, i) for i in range(len(desk.bins))),
        _queue(site, desk),
        desk.tests_left,
        desk.loads_left,
        in_order(found),
    )


def _lies(desk: Desk, one: ToldLoad, findings: list[Finding], source: str | None) -> None:
    into = next(b for b in desk.bins if b.name == one.bin)
    if not into.takes(one.load):
        where = Where(source=source, row=one.row, ticket=one.load.ticket)
        values = {"bin": one.bin, "capacity_t": into.capacity_t}
        findings.append(Finding("receive-bin-over", where, Severity.CHECK, values))
    desk.dump(one.load, into)


def _word(desk: Desk, one: ToldLoad, findings: list[Finding]) -> Waiting:
    try:
        said: Said | None = desk.ask(one.load)
    except RoomFull:
        said = None
        findings.append(
            Finding(
                "receive-no-room",
                Where(row=one.row, ticket=one.load.ticket),
                Severity.STOP,
                {"tonnes": one.load.tonnes},
            )
        )
    return Waiting(one.load.ticket, one.load.tonnes, one.seconds, said)


def _bin(desk: Desk, i: int) -> BinNow:
    b = desk.bins[i]
    held = b.held(desk.belief)
    expected = float(fn_from_ln(held.ln)) if held.tonnes > 0 else None
    return BinNow(b.name, held.tonnes, held.room_t, len(b.loads), expected)


def _queue(site: Site, desk: Desk) -> Queue | None:
    if site.trucks_an_hour is None or site.test_min is None:
        return None
    return waiting(site.trucks_an_hour, desk.share, site.test_min, site.lanes, site.truck_hour_cost)
