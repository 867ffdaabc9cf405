"""``shift``: may the bench run, the list at the start of a shift, and upkeep, on the terminal."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import typer

from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, Person, RecordsAddress, Strict
from lodestarch.cli.output import EXIT_NO_ANSWER, emit_json, say, show_findings, table
from lodestarch.words import control as said
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import DASH
from lodestarch.words.quality import held_row
from lodestarch.words.times import when

if TYPE_CHECKING:
    from lodestarch.records.engine import Records
    from lodestarch.work.bench.entered import Entered, Sent
    from lodestarch.work.quality.bench_now import BenchWatchNow

__all__ = ["shift_app"]

shift_app = typer.Typer(
    help="May the bench run, the list at the start of a shift, check samples and upkeep.",
    no_args_is_help=True,
)


def _now() -> datetime:
    return datetime.now().astimezone()


@shift_app.command("show")
def show(records: RecordsAddress = DEFAULT_RECORDS, as_json: AsJson = False, strict: Strict = False) -> None:
    """Say whether the bench may run, what is due, and what is held."""
    from lodestarch.records.engine import open_records
    from lodestarch.work.quality.bench_control_json import watch_as_dict
    from lodestarch.work.quality.bench_now import bench_watch_now

    at = _now()
    with open_records(records, create=False, mode="read", clock=lambda: at) as kept:
        watch = bench_watch_now(kept, at=at)
    if as_json:
        emit_json(watch_as_dict(watch), watch.hold.findings if watch.hold else ())
    else:
        _show(watch)
    if strict and watch.verdict != "run":
        raise typer.Exit(EXIT_NO_ANSWER)


def _show(watch: BenchWatchNow) -> None:
    say(said.verdict_line(watch.verdict, watch.watches, watch.due))
    for number, code in enumerate(said.suspects_of(watch.watches), start=1):
        say(f"  {number}. {term(f'control.suspect.{code}')}")
    if watch.verdict == "unwatched":
        say(term("control.unwatched-do"))
    for line in (*said.reason_lines(watch.watches), *(said.due_words(d) for d in watch.due)):
        say(line)
    if watch.hold is not None and watch.hold.held:
        held = watch.hold.held
        say()
        say(said.held_words(len(held), sum(h.released is not None for h in held)))
        heads = ("held", "held-day", "held-by", "held-told", "held-retained")
        table([(term(f"quality.{h}-column"), "left") for h in heads], [held_row(h) for h in held])
    say()
    say(said.shift_words(watch.shift))
    table(
        [(term("control.upkeep.item"), "left"), ("", "left")],
        [(term(f"shift.item.{s.item.item}"), _ticked(s.tick)) for s in watch.shift],
    )
    say()
    columns = ("item", "every", "last", "due")
    table(
        [(term(f"control.upkeep.{c}"), "left") for c in columns],
        [
            (
                said.item_words(u.interval.item),
                said.interval_words(u.interval.every_days, u.interval.every_runs),
                when(u.last.at) if u.last else DASH,
                said.when_due(u.due),
            )
            for u in watch.upkeep
        ],
    )


def _ticked(tick: object) -> str:
    from lodestarch.control.upkeep_items import ShiftTick

    if not isinstance(tick, ShiftTick):
        return DASH
    text = term("shift.ticked", at=said.clock(tick.at), by=tick.by)
    return text if tick.held else f"{text}: {term('shift.off', note=tick.note)}"


def _enter(records: str, use_case: Callable[[Records, Sent, datetime], Entered]) -> None:
    """Take one entry; end with 1 where it is not taken."""
    from lodestarch.records.engine import open_records
    from lodestarch.work.bench.entered import Sent

    at = _now()
    with open_records(records, create=False, clock=lambda: at) as kept:
        entered = use_case(kept, Sent(secrets.token_hex(16), "", at), at)
    show_findings(entered.findings)
    if not entered.taken:
        raise typer.Exit(EXIT_NO_ANSWER)
    if entered.sample:
        say(entered.sample)


@shift_app.command("tick")
def tick(
    item: Annotated[str, typer.Argument(help="bath-boil, station-pressure, tubes-and-stirrers, ...")],
    value: Annotated[str, typer.Option(help="What was read, where the item has a value.")] = "",
    wrong: Annotated[str, typer.Option(help="Not in order: what is wrong, and what was done.")] = "",
    person: Person = "analyst",
    records: RecordsAddress = DEFAULT_RECORDS,
) -> None:
    """Tick one item of the list at the start of a shift."""
    from lodestarch.work.quality import upkeep_entries

    typed = upkeep_entries.TickTyped(item, value, not wrong, wrong)
    _enter(records, lambda kept, sent, at: upkeep_entries.tick(kept, sent, typed, person=person, at=at))


@shift_app.command("upkeep")
def upkeep(
    item: Annotated[str, typer.Argument(help="bath-water, mill-sieve, stirrers, ...")],
    place: Annotated[str, typer.Option(help="Bath, mill or piece, as the bench calls it.")] = "",
    done_at: Annotated[
        str, typer.Option("--at", help="When: 7:10, or 2024-08-21 07:10. [default: now]")
    ] = "",
    note: Annotated[str, typer.Option(help="What was done.")] = "",
    person: Person = "analyst",
    records: RecordsAddress = DEFAULT_RECORDS,
) -> None:
    """Keep that something was done to the bench."""
    from lodestarch.work.quality import upkeep_entries as entries

    typed = entries.UpkeepTyped(item, place, done_at, note)
    _enter(records, lambda kept, sent, at: entries.upkeep_done(kept, sent, typed, person=person, at=at))


@shift_app.command("check")
def check(
    material: Annotated[str, typer.Argument(help="Name of the registered check material.")],
    seconds: Annotated[list[str] | None, typer.Argument(help="Seconds of its tubes: 219 222.")] = None,
    bath: Annotated[str, typer.Option(help="Bath that they were in.")] = "",
    mill: Annotated[str, typer.Option(help="Mill, for whole grain.")] = "",
    moisture: Annotated[str, typer.Option(help="Moisture. [%]")] = "",
    person: Person = "analyst",
    records: RecordsAddress = DEFAULT_RECORDS,
) -> None:
    """Take up a check sample, or enter it with its readings."""
    from lodestarch.work.quality.check_entry import CheckTyped, run_check

    typed = CheckTyped(material, bath, mill, moisture, tuple(seconds or ()))
    _enter(records, lambda kept, sent, at: run_check(kept, sent, typed, person=person, at=at))


@shift_app.command("material")
def material(
    name: Annotated[str, typer.Argument(help="Name, as on sheets and labels.")],
    lot: Annotated[str, typer.Option(help="Lot.")],
    form: Annotated[str, typer.Option(help="meal or whole grain.")],
    target: Annotated[str, typer.Option(help="Target. [s]")],
    u: Annotated[str, typer.Option("--u", help="Standard uncertainty of one result on it here. [s]")],
    source: Annotated[str, typer.Option(help="Where the target comes from.")],
    expires: Annotated[str, typer.Option(help="Use until, as 2026-12-31.")] = "",
    person: Person = "chemist",
    records: RecordsAddress = DEFAULT_RECORDS,
) -> None:
    """Register a check material, or change one."""
    from lodestarch.work.quality.check_entries import MaterialTyped, register_material

    typed = MaterialTyped(name, lot, form, target, u, source, expires)
    _enter(records, lambda kept, sent, at: register_material(kept, sent, typed, person=person, at=at))


@shift_app.command("cause")
def cause(
    check_sample: Annotated[str, typer.Argument(metavar="CHECK", help="The check sample that was off.")],
    found: Annotated[str, typer.Argument(metavar="CAUSE", help="What was found.")],
    note: Annotated[str, typer.Option(help="What was done.")] = "",
    person: Person = "chemist",
    records: RecordsAddress = DEFAULT_RECORDS,
) -> None:
    """Lift the hold of a failed check sample, with the cause that was found."""
    from lodestarch.work.quality.bench_now import failed_checks
    from lodestarch.work.quality.check_entries import CauseTyped, find_cause

    typed = CauseTyped(check_sample, found, note)
    _enter(
        records,
        lambda kept, sent, at: find_cause(kept, sent, typed, failed_checks(kept), person=person, at=at),
    )
