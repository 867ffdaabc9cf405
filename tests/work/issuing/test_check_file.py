"""A changed byte in a PDF, a page, the data or a bundle is found; what was issued holds."""

from __future__ import annotations

import json
import random
import zipfile
from io import BytesIO

import pytest

from lodestarch.common.canonical import canonical_bytes
from lodestarch.report.attached import attached_in_pdf
from lodestarch.report.known_heads import KnownHeads, read_heads
from lodestarch.words.findings import sentence
from lodestarch.work.issuing.check_file import check_file

FILES = [
    "certificate-demo-d2.pdf",
    "certificate-demo-d2.html",
    "certificate-demo-d2.json",
    "certificate-demo-d1-superseded.pdf",
    "certificate-demo-d1.pdf",
    "letter-demo-d6.pdf",
    "letter-demo-d6.json",
    "evidence-demo-d10.zip",
]


def _against(house, name, data):
    by_records = check_file(name, data, records=house.records, heads=None)
    heads = read_heads((house.out / "heads.json").read_bytes())
    return by_records, check_file(name, data, records=None, heads=heads)


@pytest.mark.parametrize("name", FILES)
def test_what_was_issued_holds_against_records_and_heads(house, name):
    by_records, by_heads = _against(house, name, (house.out / name).read_bytes())
    assert by_records.holds
    assert by_heads.holds
    assert (by_records.held_against, by_heads.held_against) == ("records", "heads")


@pytest.mark.parametrize("name", FILES)
def test_a_changed_byte_anywhere_is_found_and_said(house, name):
    whole = (house.out / name).read_bytes()
    chance = random.Random(name)
    places = {0, 1, len(whole) // 2, len(whole) - 1, *(chance.randrange(len(whole)) for _ in range(6))}
    for place in sorted(places):
        bad = bytearray(whole)
        bad[place] ^= 1 << chance.randrange(8)
        for checked in _against(house, name, bytes(bad)):
            assert not checked.holds, place
            assert any(sentence(f) for f in checked.findings)


@pytest.mark.parametrize("name", FILES)
def test_bytes_added_or_cut_off_are_found(house, name):
    whole = (house.out / name).read_bytes()
    for bad in (whole + b"\n", whole[:-1], b"", whole[: len(whole) // 2]):
        for checked in _against(house, name, bad):
            assert not checked.holds


def test_a_result_changed_in_the_data_is_told_from_a_page_set_anew(house):
    data = json.loads((house.out / "certificate-demo-d2.json").read_bytes())
    data["statement"]["result"]["seconds"] = 345
    _, checked = _against(house, "c.json", canonical_bytes(data))
    codes = {f.code for f in checked.findings}
    assert "report-statement" in codes
    assert {c.code: c.holds for c in checked.checks}["inclusion"]


def test_a_changed_name_is_found_without_the_records(house):
    data = json.loads((house.out / "certificate-demo-d2.json").read_bytes())
    data["names"]["customer"]["names"]["name"] = "Somebody Else"
    _, checked = _against(house, "c.json", canonical_bytes(data))
    assert "report-names" in {f.code for f in checked.findings}


def test_a_forged_entry_with_its_own_digests_does_not_lie_under_the_root(house):
    data = json.loads((house.out / "certificate-demo-d2.json").read_bytes())
    entry = json.loads(data["proof"]["entry"])
    data["statement"]["result"]["seconds"] = 345
    said = canonical_bytes(data["statement"])
    import hashlib

    entry["data"]["changes"][0]["row"]["content"] = said.decode()
    entry["data"]["changes"][0]["row"]["content_sha256"] = hashlib.sha256(said).hexdigest()
    data["proof"]["entry"] = canonical_bytes(entry).decode()
    _, checked = _against(house, "c.json", canonical_bytes(data))
    assert {f.code for f in checked.findings} >= {"report-inclusion"}


def test_a_whole_other_log_shows_only_against_a_head_kept_elsewhere(house, another_history):
    """The same papers of another history: sound in themselves, not under the lab's roots."""
    theirs = (another_history / "certificate-demo-d2.pdf").read_bytes()
    by_records, by_heads = _against(house, "c.pdf", theirs)
    assert {f.code for f in by_heads.findings} == {"report-root"}
    assert "report-in-records" in {f.code for f in by_records.findings}


def test_without_records_and_heads_there_is_no_answer(house):
    checked = check_file("c.pdf", (house.out / FILES[0]).read_bytes(), records=None, heads=None)
    assert not checked.holds
    assert [f.code for f in checked.findings] == ["report-nothing-to-hold-against"]


def test_a_head_that_says_nothing_of_the_paper_is_no_answer(house):
    heads = KnownHeads({"demo": (10_000, "0" * 64)}, {})
    checked = check_file("c.pdf", (house.out / FILES[0]).read_bytes(), records=None, heads=heads)
    assert not checked.holds
    assert [f.code for f in checked.findings] == ["report-head-apart"]


def test_a_superseded_paper_holds_and_says_what_took_its_place(house):
    by_records, _ = _against(house, "c.pdf", (house.out / "certificate-demo-d1.pdf").read_bytes())
    assert by_records.holds
    assert by_records.superseded_by == "demo-d2"
    assert [f.code for f in by_records.findings] == ["report-superseded"]


def test_a_file_put_into_a_bundle_taken_out_or_changed_is_found(house):
    whole = (house.out / "evidence-demo-d10.zip").read_bytes()

    def repacked(change):
        out = BytesIO()
        with zipfile.ZipFile(BytesIO(whole)) as old, zipfile.ZipFile(out, "w") as new:
            members = {i.filename: old.read(i) for i in old.infolist()}
            change(members)
            for name, body in members.items():
                new.writestr(name, body)
        return out.getvalue()

    def tamper(members):
        members["readings.csv"] = members["readings.csv"].replace(b"312.0", b"322.0")

    for change in (tamper, lambda m: m.pop("readings.csv"), lambda m: m.update({"more.txt": b"x"})):
        for checked in _against(house, "e.zip", repacked(change)):
            assert "report-members" in {f.code for f in checked.findings}


@pytest.mark.parametrize(
    "junk", [b"", b"%PDF-1.7\n", b"PK\x03\x04junk", b"{}", b"[1]", b"<!doctype html>x", b"{" * 9]
)
def test_what_is_no_paper_is_said_to_be_none(house, junk):
    for checked in _against(house, "j", junk):
        assert [f.code for f in checked.findings] == ["report-unreadable"]


def test_data_that_unpack_without_end_are_refused():
    import zlib

    stream = zlib.compress(b"\0" * (40 * 1024 * 1024))
    head = f"1 0 obj\n<</Type/EmbeddedFile/Filter/FlateDecode/Length {len(stream)}>>\nstream\n".encode()
    assert attached_in_pdf(b"%PDF-1.7\n" + head + stream + b"\nendstream") is None
