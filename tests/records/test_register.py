from __future__ import annotations

import hashlib

import polars as pl
import pytest

from lodestarch.common.canonical import canonical_text
from lodestarch.common.errors import NoAnswer, UnknownName
from lodestarch.common.merkle import holds, leaf_hash
from lodestarch.records.conflict import NeedsReason, OnlySuperseded, StaleEdit
from lodestarch.records.people import ALL_ROLES
from lodestarch.records.tables import Equipment, Moisture, Sample
from records.harvest import START, day
from records.house import bench_day, fill

NOW = START.isoformat()


def unit(records, person="Ann Example"):
    return records.unit(person, START)


def proved(records):
    report = records.verify()
    return [f.code for f in report.findings if f.severity == "stop"]


def test_everything_that_a_lab_keeps_is_proved(records, clock):
    fill(records, clock)
    report = records.verify()
    assert report.holds
    assert [f.code for f in report.findings] == ["personal-erased"]
    (site,) = report.sites
    with records.view() as view:
        assert (site.entries, site.head) == view.head()


def test_of_two_edits_from_one_version_the_second_gets_both_values(records):
    with unit(records) as u:
        u.add(Equipment(key="M1", kind="mill", name="mill by the door"))
    with records.view() as view:
        mine, yours = view.get(Equipment, "M1"), view.get(Equipment, "M1")
    mine.wear = "screen worn"
    yours.wear = "new screen"
    with unit(records) as u:
        u.edit(mine, made_from=1)

    def too_late():
        with unit(records, "Ben Example") as u:
            u.edit(yours, made_from=1)

    with pytest.raises(StaleEdit) as told:
        too_late()
    assert (told.value.made_from, told.value.now, told.value.differs) == (1, 2, ("wear",))
    assert (told.value.offered["wear"], told.value.kept["wear"]) == ("new screen", "screen worn")
    with records.view() as view:
        assert view.get(Equipment, "M1").wear == "screen worn"
        kinds = [(e["kind"], e["data"]["changes"][0]["version"]) for e in view.history("equipment:M1")]
    assert kinds == [("equipment.added", 1), ("equipment.changed", 2)]


def test_an_edit_is_free_until_the_sample_is_judged(records, store):
    with unit(records) as u:
        u.add(Sample(key="8000", kind="load", received_at=NOW))
        u.add(
            Moisture(
                key="1",
                sample="8000",
                moisture_pct=13.4,
                as_entered="13,4",
                method="oven",
                measured_on="meal",
                measured_at=NOW,
            )
        )
    moisture = Moisture(
        key="1",
        sample="8000",
        moisture_pct=14.3,
        as_entered="14,3",
        method="oven",
        measured_on="meal",
        measured_at=NOW,
    )
    with unit(records) as u:
        u.edit(moisture, made_from=1)
    store(day(4))

    def without_a_word(row, made_from):
        with unit(records) as u:
            u.edit(row, made_from=made_from, reason="  ")

    with pytest.raises(NeedsReason, match="8000"):
        without_a_word(moisture, 2)
    with pytest.raises(NeedsReason):
        without_a_word(Sample(key="8000", kind="load", received_at=NOW, variety="other"), 1)
    with unit(records) as u:
        u.edit(moisture, made_from=2, reason="read from the next line")
    with records.view() as view:
        assert [e["reason"] for e in view.history("moistures:1")] == [None, None, "read from the next line"]
    assert proved(records) == []


def test_a_reading_from_the_bench_is_corrected_by_a_later_one_and_both_are_kept(records):
    typed = day(2, first_sample=9500).readings
    again = typed.slice(1, 1).with_columns(row_text=pl.lit("9500 288"), seconds=pl.lit(288.0))
    with unit(records) as u:
        day_id = u.open_day(bench_day(START))
        u.record_readings(day_id, typed)
        u.record_readings(day_id, typed)
        u.record_readings(day_id, again)
        u.record_results(day_id, day(2, first_sample=9500).results)

    def once_more():
        with unit(records) as u:
            u.record_readings(day_id, typed.slice(1, 1))

    with pytest.raises(NeedsReason):
        once_more()
    with records.view() as view:
        assert view.load_day(day_id).parts.readings.height == 3
        assert view.known_rows(typed)["row_text"].to_list() == [typed["row_text"][0], "9500 288"]
    assert proved(records) == []


def test_a_released_result_is_only_superseded_and_what_came_of_it_is_listed(records, store):
    store(day(4))
    with unit(records) as u:
        first = u.release("8000", by_rule=True)
        grower = u.add_party("Grower 3", "grower")
        u.tell(first, "phone", party=grower, said="287, limit 300")
        u.issue_document("certificate", {"seconds": 287}, releases=(first,))

    def again(reason):
        with unit(records) as u:
            return u.release("8000", reason=reason)

    with pytest.raises(NeedsReason):
        again(None)
    second = again("a second pair from remixed meal")
    with records.view() as view:
        assert view.standing_release("8000").key == second
        old, new = view.issued_from("8000")
        assert (old.release, [c.said for c in old.copies], [d.kind for d in old.documents]) == (
            first,
            ["287, limit 300"],
            ["certificate"],
        )
        assert (new.release, new.copies, new.documents) == (second, (), ())
        standing = view.standing_release("8000")
    with pytest.raises(OnlySuperseded), unit(records) as u:
        u.edit(standing, made_from=standing.version, reason="no")
    with pytest.raises(NoAnswer, match="no-result-to-release"), unit(records) as u:
        u.release("nothing")
    assert proved(records) == []


def test_a_document_carries_a_short_proof_and_the_head_before_it(records, store):
    store(day(4))
    with records.view() as view:
        before = view.head()
    content = {"sample": "8000", "seconds": 287}
    with unit(records) as u:
        document, proof = u.issue_document("certificate", content)
    assert (document.head_seq, document.head_hash) == before
    assert document.content_sha256 == hashlib.sha256(canonical_text(content).encode()).hexdigest()
    assert holds(leaf_hash(proof.body.encode()), proof.inclusion, bytes.fromhex(proof.root))
    assert document.content_sha256 in proof.body
    assert len(proof.inclusion.path) <= 3
    forged = proof.body.replace("8000", "8001") if "8000" in proof.body else proof.body + " "
    assert not holds(leaf_hash(forged.encode()), proof.inclusion, bytes.fromhex(proof.root))
    with records.view() as view:
        assert view.proof_of(proof.seq) == proof
        with pytest.raises(NoAnswer, match="no-root-yet"):
            view.proof_of(view.head()[0] + 1)
    assert proved(records) == []


def test_an_erasure_takes_the_name_from_tables_and_sheets_and_the_rest_is_still_proved(records, store):
    parts = day(12)
    stored = store(parts)
    with unit(records) as u:
        key = u.add_party("Grower 3", "grower", contact={"phone": "0100 2003"})
    with unit(records) as u:
        u.erase("parties", key, "asked for in writing")
        names = u.names("people")
        u.erase("people", next(iter(names)), "left, asked for in writing")
    with records.view() as view:
        assert view.personal("parties", key) is None
        kept = view.load_day(stored.day_id).parts
        assert "Grower 3" not in str(kept.samples.to_dicts())
        assert "Grower 2" in str(kept.samples.to_dicts())
        assert set(kept.readings["analyst"].drop_nulls()) == set()
        assert "Ann" not in str([r.text for r in kept.refused])
        assert kept.results.equals(parts.results)
        again = view.known_rows(parts.readings)
        assert again.height == 12
    assert proved(records) == []
    assert [f.values["count"] for f in records.verify().findings] == [2]
    # The same sheet again: what was erased counts as the same.
    with records.unit("Ben Example", START) as u:
        assert not u.store_day(parts).new


def test_nobody_s_name_is_in_the_log(records, clock):
    fill(records, clock)
    with records._reader.connect() as conn:
        log = " ".join(row[0] for row in conn.exec_driver_sql("SELECT body FROM events"))
    for name in ("Ann Example", "Grower 3", "Grower 4", "0100 2003", "The other lab"):
        assert name not in log


def test_people(records):
    with unit(records) as u:
        ben = u.add_person("Ben Example", ("analyst",))
    with records.unit("Ben Example", START) as u:
        assert u.person == ben
    with pytest.raises(UnknownName, match="person"), records.unit("Stranger", START):
        pass
    with pytest.raises(UnknownName, match="role"), unit(records) as u:
        u.add_person("Cem Example", ("emperor",))
    with pytest.raises(UnknownName), records.unit("   ", START):
        pass
    assert ALL_ROLES[0] == "receiver"


def test_the_same_file_is_kept_once(records):
    with unit(records) as u:
        u.attach("samples:1", "a.png", "image/png", b"one")
        u.attach("samples:2", "b.png", "image/png", b"one")
    with records._reader.connect() as conn:
        assert conn.exec_driver_sql("SELECT count(*) FROM attachment_bytes").scalar_one() == 1
    assert proved(records) == []


def test_a_sample_is_opened_with_every_version(records, store, clock):
    fill(records, clock)
    with records.view() as view:
        kept = view.open_sample("8000")
        nothing = view.open_sample("no such")
        latest = view.latest_results(3)
        older = view.latest_results(3, before=latest["id"].min())
        found, by_ticket = view.search("800"), view.search("T-8003")
    standing = kept.readings.filter("stands")
    assert standing["position"].to_list() == ["1", "2"]
    assert kept.readings.filter(pl.col("position") == "2").select("revision", "stands").rows() == [
        (0, False),
        (1, True),
    ]
    assert (kept.results.height, kept.row.ticket, len(kept.issued)) == (3, "T-8000", 2)
    assert kept.sheet_rows["grower"].unique().to_list() == ["Grower 0"]
    assert (nothing.readings.height, nothing.row, nothing.issued) == (0, None, ())
    assert latest["sample"][0] == "9500"
    assert latest["id"].is_sorted(descending=True)
    assert older["id"].max() < latest["id"].min()
    assert ("8003", "T-8003") in found
    assert by_ticket == [("8003", "T-8003")]
    with records.view() as view:
        assert view.search("") == []


def test_order_is_that_of_code_points_wherever_it_is_kept(records):
    keys = ["a", "B", "b", "Z", "ä", "10", "9", "_"]
    with records.unit("Ann Example", START) as u:
        for key in keys:
            u.add(Sample(key=key, kind="load", received_at=NOW, ticket=f"T{key}"))
    with records.view() as view:
        assert [s.key for s in view.all(Sample)] == sorted(keys)
        assert [s for s, _ in view.search("T")] == sorted(keys)
