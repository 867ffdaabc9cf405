"""``records``: make, prove, back up, restore, hand over, take in, bring up to date."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Annotated, Any

import typer

from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, RecordsAddress
from lodestarch.cli.output import EXIT_NO_ANSWER, emit_json, say, show_findings
from lodestarch.cli.progress import bar
from lodestarch.common.errors import Refused
from lodestarch.records.backup import backup as take_backup
from lodestarch.records.backup import is_due, list_backups
from lodestarch.records.backup import restore as put_back
from lodestarch.records.engine import open_records, verify_at
from lodestarch.records.upgrade import upgrade as bring_up
from lodestarch.records.verify import VerifyReport
from lodestarch.work.keeping.results_out import results_csv, results_parquet

__all__ = ["records_app"]

BACKUPS = Path("backups")

Site = Annotated[str | None, typer.Option(help="Which site is meant, where the records hold several.")]

records_app = typer.Typer(
    help="The records: make, prove, back up, restore, hand over, take in.", no_args_is_help=True
)


def _now() -> datetime:
    return datetime.now(UTC)


def _heads(path: Path | None) -> dict[str, tuple[int, str]] | None:
    """Heads kept elsewhere: a backup's manifest, or a file of the same form."""
    if path is None:
        return None
    try:
        body = json.loads(path.read_text("utf-8"))
        return {site: (int(n), str(mark)) for site, (n, mark) in body["heads"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as cause:
        raise typer.BadParameter(f"{path} is no manifest with heads", param_hint="--heads") from cause


def _proof_as_dict(report: VerifyReport) -> dict[str, Any]:
    return {"holds": report.holds, "sites": [asdict(s) for s in report.sites]}


def _show_proof(report: VerifyReport) -> None:
    for s in report.sites:
        counts = f"{s.entries} entries, {s.rows} rows and {s.sheets} sheets in the log"
        say(f"{s.site}: {counts}; head {s.head[:16]}")
    if report.holds:
        say("Every entry follows from the one before, and every kept value from the log.")
        say("A wholly rewritten tail shows only against a head kept elsewhere: papers and backups print it.")
    show_findings(report.findings)


@records_app.command()
def init(
    records: RecordsAddress = DEFAULT_RECORDS,
    site: Annotated[str, typer.Option(help="Code of the first site, small letters.")] = "lab",
    as_json: AsJson = False,
) -> None:
    """Make new records."""
    if "://" not in records and Path(records).exists():
        raise Refused(f"There is a file {records} already; nothing was changed.")
    with open_records(records, clock=_now, site=site) as kept, kept.view() as view:
        number, mark = view.head()
    if as_json:
        emit_json({"records": records, "site": site, "entries": number, "head": mark})
    else:
        say(f"New records at {records}, site {site}.")


@records_app.command()
def verify(
    records: RecordsAddress = DEFAULT_RECORDS,
    heads: Annotated[
        Path | None, typer.Option(help="Heads kept elsewhere: the manifest beside a backup.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Walk the log, rebuild every kept value from it, and say the first difference."""
    known = _heads(heads)
    with bar("verifying", quiet=as_json) as told:
        report = verify_at(records, progress=told, known_heads=known)
    if as_json:
        emit_json(_proof_as_dict(report), report.findings)
    else:
        _show_proof(report)
    if not report.holds:
        raise SystemExit(EXIT_NO_ANSWER)


@records_app.command()
def backup(
    records: RecordsAddress = DEFAULT_RECORDS,
    folder: Annotated[Path, typer.Option(help="Where backups are kept; made when missing.")] = Path(
        "backups"
    ),
    keep: Annotated[int | None, typer.Option(min=1, help="How many stay; older ones are taken away.")] = None,
    every: Annotated[
        float | None,
        typer.Option(min=0.0, help="Only where the newest is older than so many hours: for a schedule."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Take a backup while others may write, prove it, and only then give it its name."""
    stem = "records" if "://" in records else Path(records).stem
    if every is not None and not is_due(folder, stem, timedelta(hours=every), _now()):
        say(f"The newest backup in {folder} is younger than {every:g} h; none was taken.")
        return
    with bar("backing up", quiet=as_json) as told:
        done = take_backup(records, folder, clock=_now, keep=keep, progress=told)
    kept = len(list_backups(folder, done.path.stem.rsplit("-", 3)[0]))
    if as_json:
        body = {**asdict(done), "path": str(done.path), "kept": kept}
        body["heads"] = [{"site": s, "entries": n, "head": m} for s, (n, m) in done.heads.items()]
        emit_json(body)
        return
    say(f"{done.path}: {done.size_bytes} bytes, proved. Its manifest lies beside it.")
    for site, (number, mark) in done.heads.items():
        say(f"head of {site}: entry {number}, {mark[:16]}")


@records_app.command()
def restore(
    source: Annotated[Path, typer.Argument(help="The backup.")],
    records: RecordsAddress = DEFAULT_RECORDS,
    as_json: AsJson = False,
) -> None:
    """Put a backup where there are no records; a damaged one is refused, and it says where it broke."""
    with bar("proving", quiet=as_json) as told:
        report = put_back(source, records, progress=told)
    if as_json:
        emit_json({"records": records, **_proof_as_dict(report)}, report.findings)
    else:
        say(f"{source} is restored to {records}.")
        _show_proof(report)


@records_app.command()
def export(
    out: Annotated[
        Path, typer.Argument(help="File to write: .zip is everything, .csv or .parquet the results.")
    ],
    records: RecordsAddress = DEFAULT_RECORDS,
    personal: Annotated[
        bool, typer.Option("--personal/--no-personal", help="With names and other personal data, or without.")
    ] = True,
    site: Site = None,
    as_json: AsJson = False,
) -> None:
    """Hand over everything as an open package, or the results as CSV or Parquet."""
    kinds = {".zip": "package", ".csv": "results", ".parquet": "results"}
    if out.suffix not in kinds:
        raise typer.BadParameter("a file that ends in .zip, .csv or .parquet", param_hint="OUT")
    sites: list[dict[str, Any]] = []
    with open_records(records, create=False, mode="read", clock=_now, site=site) as kept:
        if out.suffix == ".zip":
            data, parts = kept.write_package(_now(), personal=personal)
            sites = [asdict(p) for p in parts]
        else:
            data = results_csv(kept) if out.suffix == ".csv" else results_parquet(kept)
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_bytes(data)
    if as_json:
        emit_json({"path": str(out), "what": kinds[out.suffix], "size_bytes": len(data), "sites": sites})
    else:
        say(f"{out}: {len(data)} bytes")


@records_app.command("import")
def take(
    package: Annotated[Path, typer.Argument(help="A package written by export.")],
    records: RecordsAddress = DEFAULT_RECORDS,
    site: Site = None,
    as_json: AsJson = False,
) -> None:
    """Take in a package of another site: each entry exactly once, in any order, held until a gap closes."""
    try:
        content = package.read_bytes()
    except OSError as cause:
        raise typer.BadParameter(
            f"{package} cannot be read: {cause.strerror}", param_hint="PACKAGE"
        ) from cause
    with open_records(records, clock=_now, site=site) as kept:
        done = kept.take_package(content, _now())
    sites = sorted({*done.taken, *done.known, *done.held})
    rows = [
        {"site": s, "taken": done.taken.get(s, 0), "known": done.known.get(s, 0), "held": done.held.get(s, 0)}
        for s in sites
    ]
    if as_json:
        emit_json({"sites": rows}, done.findings)
        return
    for row in rows:
        say(f"{row['site']}: {row['taken']} entries taken, {row['known']} were here already")
        if row["held"]:
            say(f"{row['site']}: {row['held']} wait until the earlier ones come")
    show_findings(done.findings)


@records_app.command()
def upgrade(
    records: RecordsAddress = DEFAULT_RECORDS,
    folder: Annotated[Path, typer.Option(help="Where the copy taken before goes.")] = BACKUPS,
    as_json: AsJson = False,
) -> None:
    """Bring records of an earlier version up to date, after a copy."""
    before, after, copy = bring_up(records, folder if "://" not in records else None, clock=_now)
    if as_json:
        emit_json({"before": before, "after": after, "copy": str(copy) if copy else None})
    elif before == after:
        say(f"{records} is up to date ({after}).")
    else:
        say(f"{records}: from {before} to {after}." + (f" Copy taken before: {copy}" if copy else ""))
