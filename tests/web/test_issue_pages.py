"""The page with a ticket's papers: issuing for those who may, files as they stand now."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime

import pytest

from lodestarch.demo.handing_over import CHEMIST, hand_over
from lodestarch.records.engine import open_records
from lodestarch.web.app import create_app
from lodestarch.web.kept import KeptDays
from web.client import TestClient

AT = datetime(2024, 8, 22, 10, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def handed(tmp_path_factory):
    out = tmp_path_factory.mktemp("handed")
    with open_records(out / "lab.db", clock=lambda: AT, site="demo") as kept:
        hand_over(kept, out, at=AT)
    return out / "lab.db"


@pytest.fixture
def records(handed, tmp_path):
    shutil.copy(handed, tmp_path / "lab.db")
    with open_records(tmp_path / "lab.db", clock=lambda: AT, create=False) as kept:
        yield kept


def signed_in(records, name):
    app = create_app(
        KeptDays(records), token=None, allowed_hosts=("testserver",), records=records, clock=lambda: AT
    )
    client = TestClient(app, headers={"Sec-Fetch-Site": "same-origin"}, follow_redirects=False)
    client.post("/sign-in", data={"name": name, "password": "a long enough one", "to": "/"})
    return client


def test_a_chemist_replaces_a_certificate_with_a_reason_and_never_without(records):
    client = signed_in(records, CHEMIST)
    asked = {"what": "certificate", "reason": ""}
    refused = client.post("/tickets/8722/papers", data=asked)
    assert refused.status_code == 422
    assert "certificate demo-d3 stands for this sample" in refused.text
    done = client.post("/tickets/8722/papers", data={**asked, "reason": "condition entered late"})
    assert (done.status_code, done.headers["location"]) == (303, "/tickets/8722/papers#demo-d11")
    assert "superseded by demo-d11" in client.get("/tickets/8722/papers").text
    assert "Superseded by demo-d11" in client.get("/papers/demo-d3.html").text


def test_files_are_handed_out_to_keep(records):
    client = signed_in(records, CHEMIST)
    got = client.get("/papers/demo-d4.pdf")
    assert got.content.startswith(b"%PDF-")
    assert got.headers["content-disposition"].startswith("attachment")
    bundle = client.post("/tickets/8723/papers", data={"what": "bundle", "reason": "claim"})
    assert bundle.content.startswith(b"PK")
    assert client.post("/tickets/8723/papers", data={"what": "letter"}).status_code == 303


MISSING = ["/tickets/none/papers", "/papers/demo-d999.pdf", "/papers/x.pdf", "/papers/demo-d4.exe"]


@pytest.mark.parametrize("path", MISSING)
def test_what_is_not_there_is_said(records, path):
    assert signed_in(records, CHEMIST).get(path).status_code == 404


def test_who_may_not_issue_is_told_and_refused(records):
    with records.unit(CHEMIST, AT) as unit:
        key = unit.add_person("Bo Tarrel", ("analyst",))
        unit.set_password(key, "a long enough one")
    client = signed_in(records, "Bo Tarrel")
    seen = client.get("/tickets/8724/papers").text
    assert "Papers are issued by a chemist." in seen
    assert "Put another certificate" not in seen
    for what in ("certificate", "letter", "bundle"):
        assert client.post("/tickets/8724/papers", data={"what": what, "reason": "x"}).status_code == 403
