"""Anything in any order: store, correct, release, issue, erase, send, fail, reopen; and all is proved."""

from __future__ import annotations

import contextlib
import tempfile
from dataclasses import replace
from datetime import timedelta
from functools import cache
from pathlib import Path

import polars as pl
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from lodestarch.records.conflict import NeedsReason
from lodestarch.records.engine import open_records, verify_at
from records.harvest import START, Clock, day
from records.house import bench_day

PERSON = "Ann Example"
SAMPLES = st.integers(8000, 8005)


@cache
def blank(site):
    """Records just made for a site, as bytes: making them takes longer than any step."""
    with tempfile.TemporaryDirectory() as name:
        open_records(Path(name) / "lab.db", clock=Clock(), site=site).close()
        return (Path(name) / "lab.db").read_bytes()


class Interrupted(Exception):
    """Something goes wrong in the middle of a unit."""


class Lab(RuleBasedStateMachine):
    """A lab and a centre that takes its packages; beside it a plain account of what they should hold."""

    @initialize()
    def begin(self):
        self.folder = tempfile.TemporaryDirectory()
        self.clock = Clock()
        self.path = Path(self.folder.name) / "lab.db"
        centre = Path(self.folder.name) / "centre.db"
        self.path.write_bytes(blank("north"))
        centre.write_bytes(blank("centre"))
        self.records = open_records(self.path, clock=self.clock)
        self.centre = open_records(centre, clock=self.clock)
        self.texts: dict[tuple[str, str, str], list[str]] = {}
        self.judged: set[str] = set()
        self.released: dict[str, int] = {}
        self.sent, self.growers = 0, 0
        with self.unit() as unit:
            self.day_id = unit.open_day(bench_day(START))

    def unit(self):
        return self.records.unit(PERSON, self.clock.move(seconds=1))

    def note(self, rows, results):
        for row in rows.iter_rows(named=True):
            revisions = self.texts.setdefault((row["sample"], row["run"], row["position"]), [])
            if not revisions or revisions[-1] != row["row_text"]:
                revisions.append(row["row_text"])
        self.judged |= set(results["sample"])

    @rule(first=SAMPLES, pairs=st.integers(1, 3), seed=st.integers(0, 3), take=st.booleans())
    def hand_in_a_sheet(self, first, pairs, seed, take):
        parts = day(2 * pairs, first_sample=first, seed=seed, sheet=f"{first}-{pairs}-{seed}-{take}")
        with self.unit() as unit:
            stored = unit.store_day(parts, take_changes="a reason" if take else None)
        assert (
            stored.added + stored.superseded + stored.already_known + stored.changed.height == 2 * pairs
            or not stored.new
        )
        if stored.new:
            refused = {(r["sample"], r["run"], r["position"]) for r in stored.changed.iter_rows(named=True)}
            went_in = pl.struct("sample", "run", "position").map_elements(
                lambda k: (k["sample"], k["run"], k["position"]) not in refused, return_dtype=pl.Boolean
            )
            self.note(parts.readings.filter(went_in), parts.results)

    @rule(
        sample=SAMPLES,
        seed=st.integers(10, 13),
        judge=st.booleans(),
        reason=st.sampled_from([None, "misread"]),
    )
    def type_at_the_bench(self, sample, seed, judge, reason):
        typed = day(2, first_sample=sample, seed=seed)
        known = self.texts.get((str(sample), "2026-07-14", "1"))
        changes = known is not None and any(
            self.texts.get((r["sample"], r["run"], r["position"]), [r["row_text"]])[-1] != r["row_text"]
            for r in typed.readings.iter_rows(named=True)
        )
        try:
            with self.unit() as unit:
                unit.record_readings(self.day_id, typed.readings, reason)
                if judge:
                    unit.record_results(self.day_id, typed.results)
        except NeedsReason:
            assert changes
            assert reason is None
            assert str(sample) in self.judged
            return
        assert not (changes and reason is None and str(sample) in self.judged)
        self.note(typed.readings, typed.results if judge else typed.results.clear())

    @precondition(lambda self: self.judged)
    @rule(data=st.data(), paper=st.booleans())
    def let_a_result_out(self, data, paper):
        sample = data.draw(st.sampled_from(sorted(self.judged)))
        with self.unit() as unit:
            key = unit.release(sample, reason="again" if sample in self.released else None)
            if paper:
                unit.issue_document("certificate", {"sample": sample}, releases=(key,))
            else:
                unit.tell(key, "phone", said="287")
        self.released[sample] = self.released.get(sample, 0) + 1

    @rule()
    def add_and_erase_a_grower(self):
        with self.unit() as unit:
            key = unit.add_party(f"Grower {self.growers % 3}", "grower")
        if self.growers % 2:
            with self.unit() as unit:
                unit.erase("parties", key, "asked for")
        self.growers += 1

    @rule(first=SAMPLES)
    def fail_half_way(self, first):
        with contextlib.suppress(Interrupted), self.unit() as unit:
            unit.store_day(replace(day(4, first_sample=first + 500), title="never kept"))
            unit.add_party("Never kept", "grower")
            raise Interrupted

    @rule()
    def close_and_open(self):
        self.records.close()
        self.records = open_records(self.path, clock=self.clock)

    @rule()
    def send_to_the_centre(self):
        package, (part,) = self.records.write_package(self.clock(), since={"north": self.sent})
        told = self.centre.take_package(package, self.clock())
        assert told.taken.get("north", 0) == part.last_seq - self.sent
        self.sent = part.last_seq
        assert self.centre.verify().holds

    @invariant()
    def what_is_kept_is_what_was_handed_in(self):
        with self.records._reader.connect() as conn:
            rows = conn.exec_driver_sql(
                "SELECT sample, run, position, row_text FROM readings "
                "ORDER BY sample, run, position, revision"
            ).fetchall()
        kept = {}
        for sample, run, position, text in rows:
            kept.setdefault((sample, run, position), []).append(text)
        assert kept == self.texts
        with self.records.view() as view:
            for sample, count in self.released.items():
                assert len(view.issued_from(sample)) == count
                assert view.standing_release(sample) is not None
            assert all("never" not in line.title for line in view.list_days())

    def teardown(self):
        if hasattr(self, "records"):
            self.records.close()
            self.centre.close()
            assert verify_at(self.path).holds
            self.folder.cleanup()


TestLab = Lab.TestCase
TestLab.settings = settings(
    max_examples=5,
    stateful_step_count=12,
    deadline=timedelta(seconds=60),
    suppress_health_check=list(HealthCheck),
)
