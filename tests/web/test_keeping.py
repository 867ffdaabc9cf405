"""A backup that is taken away holds by itself; the log is read by who may; pages stay light."""

from __future__ import annotations

import hashlib
import re
from datetime import UTC, datetime

import pytest

from lodestarch.records.engine import open_records, verify_at
from lodestarch.work.people.staff import add_staff
from web.workbench import PERSON, Workbench

LIGHT = [
    "/bench",
    "/bench?ticket=8814",
    "/tickets",
    "/tickets/8814",
    "/tickets/8814/grain",
    "/samples",
    "/paste",
    "/bins",
    "/control",
    "/price",
    "/plan/receive",
    "/season",
    *("/setup" + more for more in ("", "/tokens", "/instruments", "/keeping", "/terms")),
    "/sign-in",
]
MOST = 80 * 1024


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    made = Workbench(tmp_path_factory.mktemp("keeping") / "lab.db").sign_in()
    made.enter("/quick", ticket="8814", moisture_pct="14", seconds=["287", "291"])
    yield made
    made.records.close()


def test_a_backup_is_proved_and_opens_elsewhere(lab, tmp_path):
    said = lab.client.post("/setup/keeping/backup")
    assert said.status_code == 200
    assert "attachment" in said.headers["content-disposition"]
    assert said.headers["x-content-sha256"] == hashlib.sha256(said.content).hexdigest()
    path = tmp_path / "taken away.db"
    path.write_bytes(said.content)
    assert verify_at(path).holds
    with open_records(path, mode="read", clock=lambda: datetime.now(UTC)) as copy, copy.view() as view:
        with lab.records.view() as ours:
            assert view.head() == ours.head()
        assert view.standing_readings(["8814"]).height == 2
    assert lab.enter("/tickets", ticket="8815").status_code == 201


def test_the_log_is_read_in_parts_the_latest_first(lab):
    page = lab.client.get("/setup/keeping").text
    numbers = [int(n) for n in re.findall(r'<tr><td class="n">(\d+)</td>', page)]
    with lab.records.view() as view:
        end, _ = view.head()
    assert numbers == list(range(end, 0, -1))
    assert PERSON in page
    earlier = lab.client.get(f"/setup/keeping?before={end - 2}").text
    assert next(int(n) for n in re.findall(r'<tr><td class="n">(\d+)</td>', earlier)) == end - 3
    for odd in ("", "-1", "x", "٣", "9" * 40, "0"):
        assert lab.client.get("/setup/keeping", params={"before": odd}).status_code == 200


def test_who_may_not_gets_neither(lab):
    add_staff(lab.records, "Rec Eiver", ["receiver"], "harvest moon over it", person=PERSON, at=lab.clock())
    lab.client.post("/sign-in", data={"name": "Rec Eiver", "password": "harvest moon over it"})
    try:
        refused = lab.client.post("/setup/keeping/backup")
        assert refused.status_code == 422
        assert "keeper" in refused.text
        page = lab.client.get("/setup/keeping").text
        assert '<tr><td class="n">' not in page
    finally:
        lab.sign_in()


def weight(lab, path):
    """Bytes of a page with everything it asks for, modules of modules too; the cached font apart."""
    page = lab.client.get(path)
    assert page.status_code == 200, path
    total, asked = len(page.content), set(re.findall(r'(?:src|href)="(/static/[^"]+)"', page.text))
    met = set()
    while asked:
        file = asked.pop()
        plain = file.partition("?")[0]
        if plain in met or plain.endswith(".woff2"):
            continue
        met.add(plain)
        content = lab.client.get(plain).content
        total += len(content)
        if plain.endswith(".js"):
            folder = plain.rpartition("/")[0]
            for found in re.findall(r'from "(\.[^"]+)"', content.decode()):
                parts = folder.split("/")
                for step in found.split("/"):
                    if step == "..":
                        parts.pop()
                    elif step != ".":
                        parts.append(step)
                asked.add("/".join(parts))
    return total


@pytest.mark.parametrize("path", LIGHT)
def test_a_page_without_charts_stays_light(lab, path):
    assert weight(lab, path) < MOST
