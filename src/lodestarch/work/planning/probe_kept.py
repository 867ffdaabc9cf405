"""The probe as it stands: the site, the loads that came, the composites, and the words that were said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import Any, Final

from lodestarch.common.findings import Finding
from lodestarch.plan.receive.desk import Mode, Said, Word
from lodestarch.plan.receive.loads import Load as Delivery
from lodestarch.records.engine import Records
from lodestarch.records.tables import Load, Sample
from lodestarch.records.unit import View
from lodestarch.sheets.receive_site import Site, ToldLoad, read_site
from lodestarch.work.planning.bin_layers import layers_after, tonnes_in
from lodestarch.work.planning.bins_kept import moves_in_order
from lodestarch.work.planning.kept_documents import document_of, documents_of
from lodestarch.work.planning.load_numbers import LOAD, Number, load_key, numbers_of, sample_numbers
from lodestarch.work.planning.receive import CompositeTold, ReceiveAnswer, Waiting, said_of

__all__ = [
    "COMPOSITE",
    "LEFT",
    "SITE",
    "CompositeKept",
    "ProbeMode",
    "ProbeNow",
    "SiteKept",
    "Truck",
    "composites_kept",
    "probe_now",
    "read_probe",
    "site_kept",
]  # fmt: skip

SITE: Final = "receive/site"
COMPOSITE: Final = "composite"
LEFT: Final = "left"
_USUAL_COMPOSITE: Final = 4


class ProbeMode(StrEnum):
    """What happens while a test runs."""

    HOLD = "hold"
    DUMP = "dump"
    COMPOSITE = "composite"
    """No load is tested by itself: samples of so many loads are put together and tested as one."""


@dataclass(frozen=True, slots=True)
class SiteKept:
    """The site with what was chosen on the page."""

    site: Site
    mode: ProbeMode
    composite_of: int
    findings: tuple[Finding, ...]
    demonstration: bool


@dataclass(frozen=True, slots=True)
class Truck:
    """A load that stands at the probe or waits.

    Parameters
    ----------
    ticket : str
    tonnes : float
        [t]
    field, variety : str or None
    word : Word or None
        What was said; ``None``: no bin has room.
    bin : str or None
        Where it goes on what is known now.
    number : Number or None
        Its result, where it is in.
    said : Said or None
        What stands behind the word: expected seconds, worth of a test. ``None`` with a number of its own.
    at_bench : bool
        Its sample is on the bench's list.
    """

    ticket: str
    tonnes: float
    field: str | None
    variety: str | None
    word: Word | None
    bin: str | None
    number: Number | None
    said: Said | None
    at_bench: bool


@dataclass(frozen=True, slots=True)
class CompositeKept:
    """Samples of several loads put together; ``seconds`` is ``None`` until it is tested. [s]"""

    number: int
    tickets: tuple[str, ...]
    wanted: int
    seconds: float | None

    @property
    def is_full(self) -> bool:
        """As many loads as are wanted have given their part."""
        return len(self.tickets) >= self.wanted


@dataclass(frozen=True, slots=True)
class ProbeNow:
    """Everything that the page Receive shows.

    Parameters
    ----------
    kept : SiteKept
    answer : ReceiveAnswer
        What the desk says now.
    trucks : tuple of Truck
        Not dumped yet, in the order in which they came.
    composites : tuple of CompositeKept
    fields, varieties : tuple of str
        Known ones, those met last first.
    came : int
        Loads so far.
    untested : tuple of (str, str)
        Loads dumped with a sample taken whose number is still out: ticket and bin.
    holds_t : mapping of str to float
        What lies in each bin, after all movements. [t]
    """

    kept: SiteKept
    answer: ReceiveAnswer
    trucks: tuple[Truck, ...]
    composites: tuple[CompositeKept, ...]
    fields: tuple[str, ...]
    varieties: tuple[str, ...]
    came: int
    untested: tuple[tuple[str, str], ...]
    holds_t: Mapping[str, float]


def site_kept(view: View) -> SiteKept | None:
    """Return the site; ``None`` where none is kept, or it cannot be read."""
    found = document_of(view, SITE)
    if found is None:
        return None
    read = read_site(found["text"].encode(), found["name"])
    if read.site is None:
        return None
    mode = ProbeMode(found.get("mode") or read.site.mode.value)
    desk_mode = Mode.HOLD if mode is ProbeMode.HOLD else Mode.DUMP
    return SiteKept(
        replace(read.site, mode=desk_mode),
        mode,
        int(found.get("composite_of") or _USUAL_COMPOSITE),
        read.findings,
        bool(found.get("demonstration")),
    )


def composite_code(number: int) -> str:
    """Ticket under which a composite stands at the bench."""
    return f"composite-{number}"


def composites_kept(view: View) -> tuple[CompositeKept, ...]:
    """Return the composites, the first made first; the bench's number counts where none was typed."""
    found = documents_of(view, COMPOSITE).values()
    open_ = [composite_code(int(d["number"])) for d in found if d.get("fn_s") is None]
    at_bench = sample_numbers(view, open_)
    made = []
    for one in found:
        told = at_bench.get(composite_code(int(one["number"])))
        seconds = one.get("fn_s") if told is None else told.seconds
        made.append(CompositeKept(int(one["number"]), tuple(one["tickets"]), int(one["wanted"]), seconds))
    return tuple(sorted(made, key=lambda c: c.number))


def _told(
    loads: Sequence[Load], facts: Mapping[str, Mapping[str, Any]], numbers: Mapping[str, Number]
) -> list[ToldLoad]:
    out = []
    first = datetime.fromisoformat(loads[0].received_at).date() if loads else None
    for row, one in enumerate(loads, 1):
        known = facts.get(load_key(one.key), {})
        day = 0 if first is None else (datetime.fromisoformat(one.received_at).date() - first).days
        number = numbers.get(one.key)
        to_come = known.get("to_come")
        out.append(
            ToldLoad(
                Delivery(
                    one.key,
                    one.tonnes or 0.0,
                    known.get("field"),
                    known.get("variety"),
                    None if to_come is None else int(to_come),
                    max(day, 0),
                ),
                row,
                None if number is None else number.seconds,
                one.bin,
            )
        )
    return out


def read_probe(view: View) -> ProbeNow | None:
    """Return the probe as it stands; ``None`` without a site."""
    kept = site_kept(view)
    if kept is None:
        return None
    facts = documents_of(view, LOAD)
    bins = {name for name, _ in kept.site.bins}
    loads = [
        one
        for one in sorted(view.all(Load), key=lambda one: (one.received_at, one.key))
        if (one.tonnes or 0.0) > 0.0 and one.answer != LEFT and (one.bin is None or one.bin in bins)
    ]
    numbers = numbers_of(view, loads)
    told = _told(loads, facts, numbers)
    composites = composites_kept(view)
    mixed = [CompositeTold(c.tickets, float(c.seconds)) for c in composites if c.seconds is not None]
    holds_t = _holds(view, kept.site)
    site = replace(kept.site, bins=_with_room(kept.site, loads, holds_t))
    answer = said_of(site, told, composites=mixed, findings=kept.findings)
    now = {w.ticket: w for w in answer.waiting}
    room = {b.bin: b.room_t for b in answer.bins}
    trucks = tuple(
        _truck(view, one, facts.get(load_key(one.key), {}), numbers.get(one.key), now[one.key], room)
        for one in loads
        if one.bin is None and one.key in now
    )
    return ProbeNow(
        kept,
        answer,
        trucks,
        composites,
        _latest(facts, loads, "field"),
        _latest(facts, loads, "variety"),
        len(loads),
        tuple(
            (one.key, one.bin)
            for one in loads
            if one.bin is not None
            and one.answer in {Word.TEST.value, Word.HOLD.value}
            and one.key not in numbers
        ),
        holds_t,
    )


def _holds(view: View, site: Site) -> dict[str, float]:
    """What lies in the site's bins after everything that was moved. [t]"""
    layers = layers_after(moves_in_order(view))
    return {name: tonnes_in(layers.get(name, ())) for name, _ in site.bins}


def _with_room(
    site: Site, loads: Sequence[Load], holds_t: Mapping[str, float]
) -> tuple[tuple[str, float], ...]:
    """The bins, with as much more (less) room as grain left (came) otherwise than by the loads.

    The desk fills a bin by its loads alone; what is believed of its grain stays that of all of them.
    """
    dumped = {name: sum(one.tonnes or 0.0 for one in loads if one.bin == name) for name, _ in site.bins}
    return tuple((name, room_t + dumped[name] - holds_t[name]) for name, room_t in site.bins)


def _truck(
    view: View,
    one: Load,
    facts: Mapping[str, Any],
    number: Number | None,
    waits: Waiting,
    room: Mapping[str, float],
) -> Truck:
    tonnes = one.tonnes or 0.0
    into = None if waits.said is None else waits.said.bin
    told = str(facts.get("bin"))
    # The bin that was said stands as well, until a number is in or the bin is full.
    if into is not None and number is None and told in room and room[told] >= tonnes:
        into = told
    return Truck(
        one.key,
        tonnes,
        facts.get("field"),
        facts.get("variety"),
        _word(one, waits.said, number),
        into,
        number,
        waits.said,
        one.sample is not None and view.get(Sample, one.sample) is not None,
    )


def _word(one: Load, said: Said | None, number: Number | None) -> Word | None:
    """The word that was said stands, however often the rule is set anew; a number ends the waiting."""
    if said is None:
        return None
    if number is not None:
        return Word.DUMP
    return Word(one.answer) if one.answer in {w.value for w in Word} else said.word


def _latest(facts: Mapping[str, Mapping[str, Any]], loads: Sequence[Load], name: str) -> tuple[str, ...]:
    met = [
        str(known[name]) for one in reversed(loads) if (known := facts.get(load_key(one.key), {})).get(name)
    ]
    return tuple(dict.fromkeys(met))


def probe_now(records: Records) -> ProbeNow | None:
    """Return the probe as it stands; ``None`` without a site."""
    with records.view() as view:
        return read_probe(view)
