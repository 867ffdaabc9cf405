"""The certificate against ISO/IEC 17025:2017, 7.8, and as independent readers see its PDF."""

from __future__ import annotations

import dataclasses
import json
import re
from datetime import UTC, datetime

import pikepdf
import pytest

from issued_papers import ISSUED_AT, LAB, certificate, pages_of, paper, readings, run, text_of
from lodestarch.common.canonical import sha256_hex
from lodestarch.report.attached import attached_in_pdf
from lodestarch.report.issued import files_of
from lodestarch.report.issued_html import data_in_html
from lodestarch.report.issued_paper import paper_from_json
from lodestarch.words.issued.names import CustomerNames

# ISO/IEC 17025:2017, 7.8.2.1 a) to p) as read in a secondary copy; 7.8.3 to 7.8.8 recalled. Beside each item
# what the page has to say of it.
ISO_17025 = {
    "7.8.2.1 a title": ["Certificate of test: falling number"],
    "7.8.2.1 b laboratory": ["Gannet Bench", "Wharf Lane 3", "Nether Tamwold"],
    "7.8.2.1 c place of the work": ["Shed 2, Ostrawick quay"],
    "7.8.2.1 d identification, and a clear end": ["lab-d7", "page 1 of 2", "End of certificate lab-d7."],
    "7.8.2.1 e customer and contact": ["Feldwick Farm", "office@feldwick.example"],
    "7.8.2.1 f method": ["gannet-14@2", "Standard cited XY-1", "Printed standard XY-1, 2009"],
    "7.8.2.1 g item and its condition": [
        "S-8814",
        "T-8814",
        "wheat, hard",
        "seal 40117",
        "dry and clean",
        "1500 g",
    ],
    "7.8.2.1 h received, sampled": ["2024-08-21 07:10"],
    "7.8.2.1 i dates of the work": ["Dates of the work 2024-08-21"],
    "7.8.2.1 j date of issue": ["Issued 2024-08-22 09:00 UTC"],
    "7.8.2.1 k sampling plan": ["probed at five places", "the carrier", "Probes 5", "Increments 12"],
    "7.8.2.1 l only the items tested": ["relate only to the sample tested"],
    "7.8.2.1 m results with units": ["287 s", "14 % moisture basis"],
    "7.8.2.1 n deviations": ["1 reading was set aside", "set aside: lumps"],
    "7.8.2.1 o who authorised": ["Released 2024-08-21 12:00 UTC, by Ada Merrowby"],
    "7.8.2.1 p results from outside": ["Results from outside none"],
    "7.8.2.1 note on reproduction": ["reproduced only in full"],
    "7.8.3 conditions": [
        "951.2 hPa",
        "not corrected for air pressure",
        "mill M1",
        "13.4 %, drying dish, measured on meal",
    ],
    "7.8.3 uncertainty": ["U = 15 s (coverage factor k = 2, about 95 %)"],
    "7.8.6 conformity": [
        "contract Q-24-3",
        "at least 300 s",
        "guarded acceptance",
        "12 s",
        "at most 5 %",
        "Agreed with the customer 2024-07-01",
        "does not meet the specification",
    ],
    "7.8.7 opinion, marked": [
        "Opinion, as asked for by the customer",
        "fits a wet harvest",
        "not a measurement",
    ],
    "7.8.8 amended": ["This certificate replaces lab-d3 of 2024-08-21", "ground again after lumps", "291 s"],
    "not an official test": ["Not an official test."],
    "proof": ["SHA-256", "entry 41"],
}


@pytest.fixture(scope="module")
def files():
    return files_of(paper())


@pytest.fixture(scope="module")
def on_pdf(files, tmp_path_factory):
    return text_of(files.pdf, tmp_path_factory.mktemp("pdf"))


@pytest.fixture(scope="module")
def on_html(files):
    body = files.html.decode().split("<main>")[1].split("</main>")[0]
    plain = re.sub(r"<svg.*?</svg>|<[^>]+>", " ", body, flags=re.DOTALL)
    return " ".join(plain.replace("&nbsp;", " ").replace("&#39;", "'").replace("\u200b", "").split())


@pytest.mark.parametrize("item", ISO_17025)
def test_what_iso_17025_asks_for_stands_on_the_pdf(item, on_pdf):
    plain = on_pdf.replace("\u00a0", " ")
    assert [said for said in ISO_17025[item] if said not in plain] == []


@pytest.mark.parametrize("item", [i for i in ISO_17025 if "identification" not in i])
def test_and_on_the_page_for_the_browser(item, on_html):
    plain = on_html.replace("\u00a0", " ")
    assert [said for said in ISO_17025[item] if said not in plain] == []


def test_what_was_not_agreed_or_asked_for_is_not_on_it(tmp_path):
    result = dataclasses.replace(certificate().result, k=None, expanded_s=None)
    official = dataclasses.replace(LAB, official=True, k=None)
    bare = certificate(conformity=None, opinion=None, replaces=None, lab=official, result=result)
    said = text_of(files_of(paper(bare)).pdf, tmp_path)
    for absent in ("Statement of conformity", "Opinion", "replaces", "Not an official test", "U = "):
        assert absent not in said


def test_what_nobody_stated_says_so(tmp_path):
    item = dataclasses.replace(certificate().item, condition=None, seal=None, received_at=None)
    said = text_of(files_of(paper(certificate(item=item), CustomerNames("", ""))).pdf, tmp_path)
    for name in ("Condition on arrival", "Seal", "Received", "Customer", "Contact"):
        assert f"{name} not stated" in said


def test_every_page_says_which_certificate_it_is_of_and_that_a_demonstration_is_one(tmp_path):
    demonstration = certificate(readings=readings(70), demonstration=True)
    pages = pages_of(files_of(paper(demonstration)).pdf, tmp_path)
    assert len(pages) > 2
    for number, said in enumerate(pages, 1):
        assert "Certificate of test lab-d7 · sample S-8814 · issued 2024-08-22" in said
        assert "Demonstration, invented data" in said
        assert f"page {number} of {len(pages)}" in said
    assert sum("Seconds" in said and "Portion, g" in said for said in pages) > 1  # the head repeats


def test_a_superseded_copy_says_so_on_every_page(tmp_path):
    pages = pages_of(files_of(paper(later={"number": "lab-d9", "day": "2024-08-23"})).pdf, tmp_path)
    assert all("Superseded by lab-d9 on 2024-08-23" in said for said in pages)


def test_the_same_data_give_the_same_bytes(files):
    again = files_of(paper_from_json(files.json))
    assert again.digests() == files.digests()


def test_a_changed_field_changes_every_file(files):
    other = files_of(
        paper(certificate(released=dataclasses.replace(certificate().released, at="2024-08-21T12:01:00Z")))
    )
    assert all(other.digests()[k] != files.digests()[k] for k in ("pdf", "html", "json"))


def test_the_attached_data_are_those_of_the_json_file(files):
    assert attached_in_pdf(files.pdf) == files.json
    held = data_in_html(files.html)
    assert held is not None
    assert paper_from_json(held).json_bytes() == files.json
    with pikepdf.open(_stream(files.pdf)) as pdf:
        (name,) = pdf.attachments
        assert name == "certificate.json"
        assert pdf.attachments[name].get_file().read_bytes() == files.json


def _stream(pdf: bytes):
    import io

    return io.BytesIO(pdf)


def test_independent_readers_find_a_sound_tagged_pdf_with_our_fonts(files, tmp_path):
    path = tmp_path / "c.pdf"
    path.write_bytes(files.pdf)
    assert "No syntax or stream encoding errors" in run("qpdf", "--check", path)
    told = run("pdfinfo", path)
    assert re.search(r"Tagged:\s+yes", told)
    assert re.search(r"JavaScript:\s+no", told)
    assert re.search(r"Page size:.*A4", told)
    fonts = run("pdffonts", path).splitlines()[2:]
    assert fonts
    assert all("SourceSans3" in line and re.search(r"\byes yes yes\b", line) for line in fonts)


def test_metadata_tags_and_language(files):
    with pikepdf.open(_stream(files.pdf)) as pdf:
        assert str(pdf.Root.Lang).startswith("en")
        assert pdf.Root.MarkInfo.Marked
        with pdf.open_metadata() as meta:
            assert meta["dc:title"].startswith("Certificate of test")
            assert "Gannet Bench" in str(meta["dc:creator"])
            assert meta["pdfaid:part"] == "3"
            assert meta["pdfuaid:part"] == "1"
            at = datetime.fromisoformat(ISSUED_AT)
            assert datetime.fromisoformat(meta["xmp:CreateDate"]).astimezone(UTC) == at
        tags = set(_tags(pdf.Root.StructTreeRoot))
        assert {"/H1", "/H2", "/Table", "/TH", "/TD", "/Figure", "/P"} <= tags
        assert all("/Alt" in node for node in _nodes(pdf.Root.StructTreeRoot) if node.get("/S") == "/Figure")


def _nodes(node):
    kids = node.get("/K", [])
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary):
            yield kid
            yield from _nodes(kid)


def _tags(root):
    return [str(node.get("/S")) for node in _nodes(root) if node.get("/S") is not None]


def test_no_letter_leaves_the_page(files, tmp_path):
    path = tmp_path / "c.pdf"
    path.write_bytes(files_of(paper(certificate(readings=readings(40)))).pdf)
    boxes = re.findall(
        r'<word xMin="([-\d.]+)" yMin="[-\d.]+" xMax="([-\d.]+)"', run("pdftotext", "-bbox", path, "-")
    )
    assert boxes
    assert min(float(a) for a, _ in boxes) >= 50.0  # points; the margin is 20 mm
    assert max(float(b) for _, b in boxes) <= 595.3 - 45.0


def test_the_code_holds_number_and_digest(files):
    from lodestarch.report.scan_code import code_text

    digest = sha256_hex(_canonical(files.json))
    assert paper().digest == digest
    assert code_text("lab", "lab-d7", digest) == f"LODESTARCH:LAB:LAB-D7:{digest.upper()}"


def _canonical(data: bytes) -> bytes:
    from lodestarch.common.canonical import canonical_bytes

    return canonical_bytes(json.loads(data)["statement"])
