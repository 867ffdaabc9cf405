"""Every column of the live schema is changed by raw SQL, with the guards off, and found."""

# ruff: noqa: S608 - the SQL is put together from names of the live schema

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest
from sqlalchemy import Boolean, LargeBinary

from lodestarch.common.findings import Severity
from lodestarch.records import sqlite as records_sqlite
from lodestarch.records.engine import open_records, verify_at
from lodestarch.records.tables import OUTSIDE, Base
from lodestarch.records.verify import EVERY_TABLE, verify
from records.harvest import Clock
from records.house import fill


@pytest.fixture(scope="module")
def house(tmp_path_factory, blank_file):
    path = tmp_path_factory.mktemp("house") / "lab.db"
    path.write_bytes(blank_file.read_bytes())
    clock = Clock()
    with open_records(path, clock=clock) as records:
        fill(records, clock)
    report = verify_at(path)
    assert report.findings == tuple(f for f in report.findings if f.severity is Severity.NOTE)
    return path


class Raw:
    """The file as somebody with the rights of the operating system sees it."""

    def __init__(self, path):
        self.path = path
        self.conn = sqlite3.connect(path, isolation_level=None)
        self.conn.execute("PRAGMA foreign_keys=OFF")
        self.conn.execute("PRAGMA ignore_check_constraints=ON")
        self.engine = records_sqlite.reading(
            path
        )  # one engine: its compiled statements are what takes the time
        found = self.conn.execute("SELECT name, sql, tbl_name FROM sqlite_master WHERE type='trigger'")
        self.guards = found.fetchall()

    def close(self):
        self.engine.dispose()
        self.conn.close()

    def without_guards(self, *statements):
        """Change something with the guards of the tables concerned taken away meanwhile."""
        guards = [g for g in self.guards if any(g[2] in sql for sql, *_ in statements)]
        self.conn.execute("BEGIN")
        try:
            for name, _, _ in guards:
                self.conn.execute(f'DROP TRIGGER "{name}"')
            for sql, *parameters in statements:
                self.conn.execute(sql, parameters)
            for _, sql, _ in guards:
                self.conn.execute(sql)
        except BaseException:
            self.conn.execute("ROLLBACK")
            raise
        self.conn.execute("COMMIT")


TABLES = [t.name for t in Base.metadata.sorted_tables if t.name not in OUTSIDE]


def other(value, *, truth=False):
    """Something else of the same kind."""
    if isinstance(value, bytes):
        return bytes([value[0] ^ 1]) + value[1:]
    if isinstance(value, str):
        return value[:-1] + ("x" if value[-1:] != "x" else "y")
    if isinstance(value, int):
        return 1 - value if value in {0, 1} and truth else value + 11
    return 0.5 if value is None else value + 0.5


@pytest.fixture(scope="module")
def raw(house):
    opened = Raw(house)
    yield opened
    opened.close()


def codes(raw, *tables):
    """What is found at first; a sweep over some hundred columns looks at the table that it changes only."""
    with raw.engine.connect() as conn, conn.begin():
        found = verify(conn, most=1, tables=tables or EVERY_TABLE).findings
        return [f.code for f in found if f.severity is Severity.STOP]


def test_the_live_schema_has_these_tables(raw):
    live = {n for (n,) in raw.conn.execute("SELECT name FROM sqlite_master WHERE type='table'")}
    assert live - OUTSIDE == set(TABLES)


def change(raw, table, column):
    """Change one value of a column and say what was found; the value is put back."""
    rowid, value = raw.conn.execute(
        f'SELECT rowid, "{column}" FROM "{table}" ORDER BY "{column}" IS NULL, rowid DESC'
    ).fetchone()
    kind = Base.metadata.tables[table].columns[column].type
    blank = b"x" if isinstance(kind, LargeBinary) else "x"
    changed = blank if value is None else other(value, truth=isinstance(kind, Boolean))
    write = f'UPDATE "{table}" SET "{column}" = ? WHERE rowid = ?'
    raw.without_guards((write, changed, rowid))
    is_rowid = raw.conn.execute(f'SELECT count(*) FROM "{table}" WHERE rowid = ?', (rowid,)).fetchone() == (
        0,
    )
    try:
        found = codes(raw, table)
    finally:
        raw.without_guards((write, value, changed if is_rowid else rowid))
    return [] if "guards-missing" in found else found


@pytest.mark.parametrize("table", TABLES)
def test_a_changed_value_is_found_in_every_column(raw, table):
    columns = [row[1] for row in raw.conn.execute(f'PRAGMA table_info("{table}")')]
    assert columns
    assert [c for c in columns if not change(raw, table, c)] == []
    assert codes(raw) == []  # else what the next table finds would prove nothing


@pytest.mark.parametrize("table", TABLES)
def test_a_row_taken_out_is_found(raw, table):
    names = [c.name for c in Base.metadata.tables[table].columns]
    listed = ", ".join(f'"{n}"' for n in names)
    rowid, *row = raw.conn.execute(f'SELECT rowid, {listed} FROM "{table}" ORDER BY rowid DESC').fetchone()
    raw.without_guards((f'DELETE FROM "{table}" WHERE rowid = ?', rowid))
    try:
        found = codes(raw, table)
    finally:
        put_back(raw, table, listed, rowid, row)
    assert found
    assert "guards-missing" not in found


def put_back(raw, table, listed, rowid, row):
    marks = ", ".join("?" * (len(row) + 1))
    raw.without_guards((f'INSERT INTO "{table}" (rowid, {listed}) VALUES ({marks})', rowid, *row))


@pytest.mark.parametrize("table", [t for t in TABLES if t != "heads"])
def test_a_row_put_in_is_found(raw, table):
    meta = Base.metadata.tables[table]
    names = [c.name for c in meta.columns]
    listed = ", ".join(f'"{n}"' for n in names)
    row = list(raw.conn.execute(f'SELECT {listed} FROM "{table}" ORDER BY rowid DESC').fetchone())
    for i, name in enumerate(names):
        unique = {
            c.name
            for key in meta.constraints
            if type(key).__name__ == "UniqueConstraint"
            for c in key.columns
        }
        if name in meta.primary_key.columns or name in unique:
            row[i] = other(row[i])
    last = raw.conn.execute(f'SELECT max(rowid) FROM "{table}"').fetchone()[0]
    raw.without_guards((f'INSERT INTO "{table}" ({listed}) VALUES ({", ".join("?" * len(names))})', *row))
    try:
        found = codes(raw, table)
    finally:
        raw.without_guards((f'DELETE FROM "{table}" WHERE rowid > ?', last))
    assert found
    assert "guards-missing" not in found


def test_after_all_that_everything_holds_again(raw):
    assert codes(raw) == []


def test_a_guard_taken_away_is_found(raw):
    name, sql, _ = next(g for g in raw.guards if g[0] == "keep_events_update")
    raw.conn.execute(f"DROP TRIGGER {name}")
    assert codes(raw) == ["guards-missing"]
    raw.conn.execute(sql)


def test_a_rewritten_tail_shows_only_against_a_head_kept_elsewhere(house, tmp_path):
    path = tmp_path / "lab.db"
    # The library's own copy: what earlier tests wrote may still lie in the log beside the file.
    with closing(sqlite3.connect(house)) as source, closing(sqlite3.connect(path)) as target:
        source.backup(target)
    with open_records(path, mode="read", clock=Clock()) as records, records.view() as view:
        known = view.head()
    raw = Raw(path)
    _, hash_, at = raw.conn.execute(
        "SELECT body, hash, at FROM events WHERE seq = ?", (known[0] - 1,)
    ).fetchone()
    rooted = raw.conn.execute(
        "SELECT max(seq) FROM events WHERE kind='log.rooted' AND seq < ?", (known[0],)
    ).fetchone()[0]
    raw.without_guards(
        ("DELETE FROM events WHERE seq = ?", known[0]),
        ("UPDATE heads SET seq = ?, hash = ?, at = ?, rooted_seq = ?", known[0] - 1, hash_, at, rooted - 1),
    )
    raw.close()
    assert verify_at(path).holds
    told = verify_at(path, known_heads={"lab": known})
    assert [f.code for f in told.findings if f.severity is Severity.STOP] == ["log-head-elsewhere-differs"]


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE events SET person = 'x'",
        "DELETE FROM events",
        "INSERT OR REPLACE INTO events SELECT * FROM events WHERE seq = 1",
        "REPLACE INTO events SELECT * FROM events WHERE seq = 1",
        "DELETE FROM readings",
        "UPDATE readings SET seconds = 300",
        "UPDATE results SET seconds = 300",
        "DELETE FROM samples",
        "UPDATE profile_versions SET document = '{}'",
        "INSERT OR REPLACE INTO profile_versions SELECT * FROM profile_versions",
        "DELETE FROM heads",
    ],
)
@pytest.mark.parametrize("recursive", ["ON", "OFF"])
def test_the_guards_refuse(raw, sql, recursive):
    raw.conn.execute(f"PRAGMA recursive_triggers={recursive}")
    with pytest.raises(sqlite3.IntegrityError, match="is kept"):
        raw.conn.execute(sql)


def test_the_first_difference_says_what_was_issued_from_it(raw):
    write = "UPDATE samples SET variety = ? WHERE key = '8000'"
    raw.without_guards((write, "another"))
    try:
        with raw.engine.connect() as conn, conn.begin():
            found = verify(conn, most=1).findings
    finally:
        raw.without_guards((write, "Invented"))
    (note,) = [f for f in found if f.code == "difference-touches"]
    assert (found[0].code, note.where.sample) == ("row-differs", "8000")
    assert note.values == {"touches": "r1, r2, d1", "told": 2}
