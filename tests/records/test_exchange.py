from __future__ import annotations

import io
import json
import shutil
import zipfile

import pytest

from lodestarch.records.engine import open_records
from lodestarch.records.tables import OUTSIDE, Base, Site
from lodestarch.records.take import PackageRefused
from records.harvest import START, day
from records.house import fill


@pytest.fixture
def satellite(tmp_path, clock):
    with open_records(tmp_path / "satellite.db", clock=clock, site="north") as records:
        yield records


def contents(records, site):
    """Everything of one site, without what means something only in one place."""
    found = {}
    with records._reader.connect() as conn:
        number = conn.execute(Site.__table__.select().where(Site.code == site)).one().site_no
        for table in Base.metadata.sorted_tables:
            if table.name in OUTSIDE or "site_no" not in table.c or table.name == "sites":
                continue
            names = [c for c in table.c if c.name not in {"site_no", "day_no", "id"}]
            rows = conn.execute(table.select().with_only_columns(*names).where(table.c.site_no == number))
            found[table.name] = sorted((tuple(row) for row in rows), key=repr)
    return found


def parts_of(satellite, clock):
    """Three packages, one after each piece of work, and one of everything."""
    packages, seen = [], 0
    for piece in range(3):
        if piece == 0:
            fill(satellite, clock)
        else:
            with satellite.unit("Ann Example", clock.move(minutes=5)) as unit:
                unit.store_day(day(8, first_sample=20000 + 100 * piece, sheet=f"p{piece}"))
                if piece == 2:
                    unit.erase("parties", "c1", "asked for in writing")
        package, (part,) = satellite.write_package(clock(), since={"north": seen})
        assert part.first_seq == seen + 1
        seen = part.last_seq
        packages.append(package)
    return packages, satellite.write_package(clock())[0]


@pytest.mark.parametrize("order", [(2, 0, 1, 0, 2)])
def test_packages_are_taken_once_in_any_order(records, satellite, clock, order):
    packages, _ = parts_of(satellite, clock)
    with records.unit("Ben Example", clock()) as unit:
        unit.store_day(day(12))
    mine = contents(records, "lab")
    taken = [records.take_package(packages[i], clock()) for i in order]
    assert sum(t.taken.get("north", 0) for t in taken) == satellite.verify().sites[0].entries
    assert contents(records, "north") == contents(satellite, "north")
    assert contents(records, "lab") == mine
    assert records.verify().holds
    again = records.take_package(packages[1], clock())
    assert (again.taken["north"], again.known["north"] > 0) == (0, True)
    assert {f.code for t in taken for f in t.findings} <= {"package-held", "sample-at-two-sites"}
    if order[0] != 0:
        assert taken[0].held["north"] > 0
        assert taken[0].findings[0].values["seq"] == 1


def test_everything_as_one_package_makes_the_records_anew(records, satellite, clock):
    _, everything = parts_of(satellite, clock)
    told = records.take_package(everything, clock())
    assert contents(records, "north") == contents(satellite, "north")
    assert told.held == {}
    with open_records(satellite.address, mode="read", clock=clock) as reader, reader.view() as view:
        head = view.head()
    assert records.verify(known_heads={"north": head}).holds


def test_a_cut_or_changed_package_is_refused_and_nothing_is_taken(records, satellite, clock):
    _, everything = parts_of(satellite, clock)
    before = contents(records, "lab")

    def refused(package, said):
        with pytest.raises(PackageRefused, match=said):
            records.take_package(package, clock())
        assert contents(records, "lab") == before

    refused(everything[: len(everything) // 2], "cut one")
    refused(b"ticket,sample\n", "no package")
    files = {}
    with zipfile.ZipFile(io.BytesIO(everything)) as archive:
        files = {n: archive.read(n) for n in archive.namelist()}

    def packed(changed):
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as archive:
            for name, content in changed.items():
                archive.writestr(name, content)
        return out.getvalue()

    entries = files["north/entries.jsonl"]
    refused(packed({**files, "north/entries.jsonl": entries.replace(b"8000", b"8001", 1)}), "manifest says")

    def with_manifest(changed):
        import hashlib

        told = json.loads(changed["manifest.json"])
        told["sha256"] = {
            n: hashlib.sha256(c).hexdigest() for n, c in changed.items() if n != "manifest.json"
        }
        return packed({**changed, "manifest.json": json.dumps(told).encode()})

    refused(
        with_manifest({**files, "north/entries.jsonl": entries.replace(b"8000", b"8001", 1)}), "follow|hold"
    )
    rows = files["north/rows/results.jsonl"]
    refused(
        with_manifest({**files, "north/rows/results.jsonl": rows.replace(b"preliminary", b"released   ", 1)}),
        "hold",
    )
    refused(
        packed({**files, "manifest.json": files["manifest.json"].replace(b"package/1", b"package/9")}), "form"
    )


def test_two_histories_of_one_site_are_a_question_to_a_person(records, satellite, tmp_path, clock):
    with satellite.unit("Ann Example", clock()) as unit:
        unit.store_day(day(4))
    first, _ = satellite.write_package(clock())
    satellite.close()
    shutil.copy(satellite.address, tmp_path / "twin.db")
    with open_records(satellite.address, clock=clock) as one, one.unit("Ann Example", clock()) as unit:
        unit.store_day(day(4, first_sample=9000, sheet="one"))
    with open_records(tmp_path / "twin.db", clock=clock) as two, two.unit("Ann Example", clock()) as unit:
        unit.store_day(day(4, first_sample=9100, sheet="two"))
    with (
        open_records(satellite.address, clock=clock) as one,
        open_records(tmp_path / "twin.db", clock=clock) as two,
    ):
        a, b = one.write_package(clock())[0], two.write_package(clock())[0]
    records.take_package(first, clock())
    records.take_package(a, clock())
    told = records.take_package(b, clock())
    assert [f.code for f in told.findings] == ["package-clash"]
    assert told.taken == {}
    assert records.verify().holds


def test_the_same_code_at_two_sites_is_kept_apart_and_told(records, satellite, clock):
    for place in (records, satellite):
        with place.unit("Ann Example", START) as unit:
            unit.store_day(day(4))
    told = records.take_package(satellite.write_package(clock())[0], clock())
    assert {f.where.sample for f in told.findings} == {"8000", "8001"}
    with records.view() as view:
        assert len(view.find("8000")) == 1


def test_a_package_is_plain_text_with_a_schema(satellite, clock):
    _, everything = parts_of(satellite, clock)
    with zipfile.ZipFile(io.BytesIO(everything)) as archive:
        schema = json.loads(archive.read("schema.json"))
        lines = archive.read("north/rows/readings.jsonl").decode().split("\n")
        manifest = json.loads(archive.read("manifest.json"))
    assert schema["rows by the day"]["readings"]["seconds"] == "float64"
    assert set(schema["rows by the day"]["readings"]) <= set(json.loads(lines[0]))
    assert manifest["form"] == "lodestarch-package/1"
