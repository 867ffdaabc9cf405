"""The invented week's planning: trucks at the probe, bins in layers, a plan problem, a cargo half aboard.

What is loaded here is what ``receive``, ``allocate`` and ``loadout`` are shown with on the command line, kept
in the demonstration's own records so that its pages have something to work on.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from importlib.resources import files

from lodestarch import demo
from lodestarch.plan.receive.desk import Word
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Load, Movement
from lodestarch.records.unit import Unit
from lodestarch.sheets.loadout_cargo import read_cargo, read_sublots
from lodestarch.sheets.receive_site import read_site
from lodestarch.work.people.permissions import unit_for
from lodestarch.work.planning.allocation_kept import ALLOCATION, problem_document
from lodestarch.work.planning.bins_entries import record_in
from lodestarch.work.planning.cargo_entries import cargo_document, sublot_document
from lodestarch.work.planning.cargo_kept import CARGO, SUBLOT, sublot_key
from lodestarch.work.planning.kept_documents import keep_document
from lodestarch.work.planning.load_numbers import keep_facts
from lodestarch.work.planning.probe_entries import add_bins, site_document
from lodestarch.work.planning.probe_kept import SITE, read_probe

__all__ = ["keep_planning", "planning_file"]

_BETWEEN = timedelta(minutes=14)
_CARGO = "demo"


def planning_file(folder: str, name: str) -> bytes:
    """A file of the invented planning: ``receive`` or ``loadout``."""
    return files("lodestarch.demo").joinpath(folder, name).read_bytes()


def keep_planning(records: Records, *, person: str, at: datetime) -> None:
    """Keep the invented planning in the demonstration's records, in three units of work."""
    with unit_for(records, person, at, "bins.change") as unit:
        _site(unit, at)
        _loads(unit, at)
    with unit_for(records, person, at, "bins.change") as unit:
        _words(unit, at)
        _turned(unit, at)
    with unit_for(records, person, at, "plan.make") as unit:
        text = demo.harvest_plan().decode()
        keep_document(
            unit, ALLOCATION, "allocation", problem_document(text, "plan.toml", demonstration=True), at
        )
        _cargo(unit, at)


def _site(unit: Unit, at: datetime) -> None:
    data = planning_file("receive", "site.toml")
    keep_document(
        unit, SITE, "receive-site", site_document(data.decode(), "site.toml", demonstration=True), at
    )
    site = read_site(data, "site.toml").site
    add_bins(unit, site.bins if site is not None else ())


def _rows(at: datetime) -> Iterator[tuple[dict[str, str], datetime]]:
    """Loads of the sheet with the moment they came: the last day's today, each earlier day a day back."""
    rows = list(csv.DictReader(io.StringIO(planning_file("receive", "loads.csv").decode())))
    last = int(rows[-1]["day"])
    for day in range(last + 1):
        mine = [row for row in rows if int(row["day"]) == day]
        base = (at - timedelta(days=last - day)).replace(hour=6, minute=0, second=0, microsecond=0)
        step = min(_BETWEEN, (at - base) / (len(mine) + 1)) if day == last and at > base else _BETWEEN
        yield from ((row, base + step * i) for i, row in enumerate(mine))


def _loads(unit: Unit, at: datetime) -> None:
    for row, came in _rows(at):
        tonnes, into = float(row["tonnes"]), row["bin"] or None
        said = (Word.HOLD if row["seconds"] else Word.DUMP).value if into else None
        unit.add(Load(key=row["ticket"], received_at=utc_text(came), tonnes=tonnes, bin=into, answer=said))
        keep_facts(
            unit, row["ticket"], at, field=row["field"] or None, variety=row["variety"] or None,
            to_come=int(row["to_come"]), fn_s=float(row["seconds"]) if row["seconds"] else None,
            fn_u_s=6.0 if row["seconds"] else None,
        )  # fmt: skip
        if into is not None:
            record_in(unit, row["ticket"], into, tonnes, came)


def _words(unit: Unit, at: datetime) -> None:
    """Keep the words that trucks still standing were told."""
    now = read_probe(unit)
    for truck in now.trucks if now is not None else ():
        row = unit.get(Load, truck.ticket)
        if row is not None and truck.word is not None:
            keep_facts(unit, truck.ticket, at, bin=truck.bin)
            fresh = Load(key=row.key, received_at=row.received_at, tonnes=row.tonnes, answer=truck.word.value)
            unit.edit(fresh, made_from=row.version)


def _turned(unit: Unit, at: datetime) -> None:
    """Bin 4 was turned."""
    held = sum(load.tonnes or 0.0 for load in unit.all(Load, bin="4"))
    key = unit.next_key(Movement, "m")
    unit.add(Movement(key=key, kind="turn", moved_at=utc_text(at), tonnes=held, from_bin="4", to_bin="4"))


def _cargo(unit: Unit, at: datetime) -> None:
    data = planning_file("loadout", "cargo.toml")
    keep_document(
        unit, CARGO, "cargo", cargo_document(data.decode(), "cargo.toml", _CARGO, demonstration=True), at
    )
    cargo = read_cargo(data, "cargo.toml").cargo
    if cargo is None:
        return
    sublots, _ = read_sublots(planning_file("loadout", "sublots.csv"), "sublots.csv", cargo)
    for order, one in enumerate(replace(cargo, sublots=sublots).sublots, 1):
        keep_document(unit, sublot_key(_CARGO, one.number), SUBLOT, sublot_document(_CARGO, order, one), at)
