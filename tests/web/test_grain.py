"""Samples on their way: divided, composed by mass, kept and discarded, sent out with custody, with files."""

from __future__ import annotations

from datetime import timedelta

import pytest

from lodestarch.records.tables import RetainedUse, SampleParent
from lodestarch.work.office.files_of import MOST_BYTES, kind_of
from lodestarch.work.office.sample_parts import read_recipe
from web.workbench import Workbench

PDF = b"%PDF-1.7 of this test"


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    made = Workbench(tmp_path_factory.mktemp("grain") / "lab.db").sign_in()
    for ticket, mass in (("8814", "1000"), ("8815", "800"), ("8816", "600")):
        assert made.enter("/tickets", ticket=ticket, whose="Thornhollow Farm", mass_g=mass).status_code == 201
    yield made
    assert made.records.verify().holds
    made.records.close()


def codes(answer):
    return [(f["code"], f["where"].get("field")) for f in answer.json()["findings"]]


def grain(lab, code):
    return lab.client.get(f"/api/v1/tickets/{code}/grain").json()


def test_a_part_divided_off_is_a_sample_of_its_own(lab):
    first = lab.enter("/tickets/8814/splits", mass_g="250", reason="for the buyer")
    second = lab.enter("/tickets/8814/splits")
    assert [first.json()["sample"], second.json()["sample"]] == ["8814a", "8814b"]
    assert grain(lab, "8814a")["parents"] == [
        {"sample": "8814", "how": "split", "mass_g": 250.0, "reason": "for the buyer"}
    ]
    assert [tie["sample"] for tie in grain(lab, "8814")["children"]] == ["8814a", "8814b"]
    assert lab.enter("/tickets/8814a/moisture", moisture_pct="14").status_code == 201
    for path in ("/tickets/8814a", "/tickets/8814a/label", "/tickets/8814a/grain", "/tickets"):
        assert lab.client.get(path).status_code == 200, path


def test_what_is_left_is_kept_by_the_labs_own_rule_and_discarded_on_its_day(lab):
    said = lab.enter("/tickets/8816/retained", mass_g="400", place="shelf 4")
    assert codes(said) == [("retained-no-end", None)]
    rule = {"applies_to": "every sample", "keep_days": "90", "source": "contract of this test"}
    assert lab.enter("/retention-rules", **rule).status_code == 201
    assert lab.enter("/tickets/8816/retained", mass_g="100", place="shelf 5", seal="1145").status_code == 201
    assert lab.enter("/tickets/8816/retained", mass_g="50", place="x", keep_days="1").status_code == 201
    no_day, by_rule, one_day = grain(lab, "8816")["retained"]
    today = lab.now.date()
    assert no_day["destroy_by"] is None
    assert by_rule["destroy_by"] == (today + timedelta(days=90)).isoformat()
    assert one_day["due"] is False
    early = lab.enter("/retained/discarded", key=one_day["key"])
    assert codes(early) == [("retained-not-due", "reason")]
    lab.now += timedelta(days=1)
    assert "1 sample may be discarded today." in lab.client.get("/samples").text
    due = [one["key"] for one in lab.client.get("/api/v1/retained").json()["retained"] if one["due"]]
    assert due == [one_day["key"]]
    assert lab.enter("/retained/discarded", key=one_day["key"]).status_code == 201
    assert codes(lab.enter("/retained/discarded", key=one_day["key"])) == [("retained-unknown", "key")]
    assert lab.enter("/retained/discarded", key=no_day["key"], reason="weevils").status_code == 201
    assert "Nothing is to be discarded today." in lab.client.get("/samples").text


def test_a_composite_takes_every_part_from_what_is_kept_or_nothing(lab):
    for ticket in ("8814", "8815"):
        lab.enter(f"/tickets/{ticket}/retained", mass_g="300", place="shelf 1", keep_days="90")
    short = lab.enter("/composites", ticket="C-1", recipe="8814 250\n8815 301")
    assert codes(short) == [("retained-too-little", "recipe")]
    assert short.json()["findings"][0]["values"] == {"mass_g": 301.0, "left_g": 300.0}
    unknown = lab.enter("/composites", ticket="C-1", recipe="8814 250\n9999 10")
    assert codes(unknown) == [("ticket-unknown", "recipe")]
    with lab.records.view() as view:
        assert view.all(RetainedUse) == []
    assert lab.enter("/composites", ticket="C-1", recipe="8814 250\n8815; 125,5 g\n").status_code == 201
    made = grain(lab, "C-1")
    assert made["mass_g"] == 375.5
    assert [(p["sample"], p["how"], p["mass_g"]) for p in made["parents"]] == [
        ("8814", "composite", 250.0),
        ("8815", "composite", 125.5),
    ]
    assert [one["left_g"] for one in grain(lab, "8814")["retained"]] == [50.0]
    assert lab.client.get("/api/v1/tickets/C-1").json()["whose"] == "Thornhollow Farm"
    with lab.records.view() as view:
        assert len(view.all(SampleParent, sample="C-1")) == 2
    known = lab.enter("/composites", ticket="C-1", recipe="8814 10\n8815 10")
    assert codes(known) == [("ticket-known", "ticket")]


def test_a_part_sent_out_has_its_custody_and_what_came_back(lab):
    sent = {"laboratory": "The Other Lab", "purpose": "pairing", "mass_g": "300", "seal": "1146"}
    assert lab.enter("/tickets/8815/sent", **sent).status_code == 201
    (out,) = grain(lab, "8815")["sent"]
    hands = {"key": out["key"], "what": "handed over", "from_whom": "Ann Example", "to_whom": "The Carrier"}
    assert lab.enter("/sent/custody", **hands).status_code == 201
    assert lab.enter("/sent/custody", key=out["key"], what="arrived", seal="broken").status_code == 201
    assert lab.enter("/sent/results", key=out["key"], seconds="<=62").status_code == 201
    (out,) = grain(lab, "8815")["sent"]
    assert [(s["what"], s["from_whom"], s["to_whom"], s["seal"]) for s in out["steps"]] == [
        ("packed", None, None, "1146"),
        ("handed over", "Ann Example", "The Carrier", None),
        ("arrived", None, None, "broken"),
    ]
    assert (out["laboratory"], out["results"][0]["as_entered"]) == ("The Other Lab", "<=62")
    page = lab.client.get("/tickets/8815/grain").text
    assert all(word in page for word in ("The Other Lab", "The Carrier", "broken", "&lt;=62"))
    # Names stand beside the log, so that they can be erased.
    with lab.records.view() as view:
        assert "The Carrier" not in str(view.history(f"sent_samples:{out['key']}"))


@pytest.mark.parametrize(
    ("path", "body", "fault"),
    [
        ("/tickets/8814/splits", {"mass_g": "-1"}, ("entry-no-number", "mass_g")),
        ("/tickets/8814/splits", {"mass_g": "0"}, ("grams-range", "mass_g")),
        ("/tickets/8814/splits", {"mass_g": "50001"}, ("grams-range", "mass_g")),
        ("/tickets/8814/splits", {"mass_g": "1.234,5"}, ("entry-no-number", "mass_g")),
        ("/tickets/nine/splits", {}, ("ticket-unknown", "ticket")),
        ("/tickets/8814/retained", {"mass_g": "", "place": "x"}, ("entry-no-number", "mass_g")),
        ("/tickets/8814/retained", {"mass_g": "5", "place": " "}, ("text-wanted", "place")),
        ("/tickets/8814/retained", {"mass_g": "5", "place": "x", "keep_days": "0"},
         ("days-range", "keep_days")),
        ("/retention-rules", {"applies_to": "all", "keep_days": "9", "source": "x"},
         ("entry-no-choice", "applies_to")),
        ("/retention-rules", {"applies_to": "load", "keep_days": "1.5", "source": "x"},
         ("days-range", "keep_days")),
        ("/retention-rules", {"applies_to": "load", "keep_days": "9", "source": ""},
         ("text-wanted", "source")),
        ("/composites", {"ticket": "C-9", "recipe": ""}, ("recipe-short", "recipe")),
        ("/composites", {"ticket": "C-9", "recipe": "8814 10"}, ("recipe-short", "recipe")),
        ("/composites", {"ticket": "C-9", "recipe": "8814 10\n8814 5"}, ("recipe-twice", "recipe")),
        ("/composites", {"ticket": "C-9", "recipe": "8814 ten\n8815 5"}, ("recipe-unread", "recipe")),
        ("/composites", {"ticket": "", "recipe": "8814 1\n8815 1"}, ("ticket-empty", "ticket")),
        ("/tickets/8814/sent", {"laboratory": "", "purpose": "x"}, ("text-wanted", "laboratory")),
        ("/sent/custody", {"key": "none", "what": "arrived"}, ("sent-unknown", "key")),
        ("/sent/results", {"key": "none", "seconds": "287"}, ("sent-unknown", "key")),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_at_its_field(lab, path, body, fault):
    answer = lab.enter(path, **body)
    assert answer.status_code == 422
    assert fault in codes(answer)


def attached(lab, name, content, code="8814"):
    return lab.client.post(f"/tickets/{code}/files", files={"file": (name, content)})


def test_a_file_comes_back_as_it_was_and_is_saved_not_shown(lab):
    assert attached(lab, "../../etc/note of <8814>.pdf", PDF).status_code == 303
    (file,) = grain(lab, "8814")["files"]
    assert (file["name"], file["media_type"]) == ("note of _8814_.pdf", "application/pdf")
    back = lab.client.get(f"/tickets/8814/files/{file['key']}")
    assert back.content == PDF
    assert back.headers["content-disposition"].startswith("attachment; filename*=UTF-8''note%20of")
    assert back.headers["x-content-type-options"] == "nosniff"
    for path in (f"/tickets/8815/files/{file['key']}", "/tickets/8814/files/none", "/tickets/no/files/a1"):
        assert lab.client.get(path).status_code == 404, path


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("a.pdf", b"", "no file is chosen"),
        ("a.pdf", b"<html><script>alert(1)</script>", "is not of a kind"),
        ("a.html", b"<html></html>", "is not of a kind"),
        ("a.svg", b"<svg/>", "is not of a kind"),
        ("a.png", PDF, "is not of a kind"),
        ("a.txt", b"a\0b", "is not of a kind"),
        ("a.txt", b"\xff\xfe", "is not of a kind"),
        ("a.exe", b"MZ", "is not of a kind"),
        ("a.pdf", PDF + b" " * MOST_BYTES, "larger than 8 MiB"),
    ],
)
def test_a_file_of_another_kind_is_not_taken(lab, name, content, said):
    before = len(grain(lab, "8816")["files"])
    answer = attached(lab, name, content, "8816")
    assert answer.status_code == 422
    assert said in answer.text.casefold().replace("mib", "MiB")
    assert len(grain(lab, "8816")["files"]) == before


def test_what_a_file_is_is_told_by_its_bytes_and_its_name_together():
    assert kind_of("a.JPG", b"\xff\xd8\xff\xe0") == "image/jpeg"
    assert kind_of("a.csv", "é,1\n".encode()) == "text/plain"
    assert kind_of("pdf", PDF) == "application/pdf"
    assert kind_of("a", b"text") is None


def test_a_recipe_is_read_as_typed():
    assert read_recipe("\n 8814\t250 g\n8815: 0,5\n")[0] == (("8814", 250.0), ("8815", 0.5))
    many = "\n".join(f"{n} 1" for n in range(61))
    assert [f.code for f in read_recipe(many)[1]] == ["recipe-unread"]
