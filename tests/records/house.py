"""A lab with something in every table."""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from lodestarch.method.table import JUDGED, RESULTS, SAMPLES, empty
from lodestarch.records.day_values import DayParts
from lodestarch.records.tables import (
    Answer,
    ApiToken,
    Bin,
    BinLayer,
    Cargo,
    CheckCause,
    CheckMaterial,
    CheckRun,
    CustodyStep,
    Equipment,
    EquipmentCheck,
    FeeCode,
    FeeItem,
    HeardLine,
    Load,
    Lot,
    Lowering,
    Moisture,
    Movement,
    PageEntry,
    Plan,
    PortionWeighed,
    Preparation,
    RetainedSample,
    RetainedUse,
    RetentionRule,
    Retest,
    RingResult,
    RingTest,
    Sample,
    SampleParent,
    SentResult,
    SentSample,
    Setting,
    ShiftCheck,
    Sublot,
    Terms,
    TermsVersion,
    ToldPrice,
    UpkeepDone,
    UpkeepInterval,
)
from records.harvest import Clock, day


def bench_day(at):
    nothing = {"readings": empty(JUDGED), "samples": empty(SAMPLES), "results": empty(RESULTS)}
    return DayParts(title="at the bench", read_at=at, demonstration=True, inputs=(), profiles=(), **nothing)


def sheets(records, clock: Clock):
    """Two sheets: the second says one row again, one differently, one anew; then it is taken."""
    first = day(12)
    with records.unit("Ann Example", clock()) as unit:
        unit.store_day(first)
    rows = first.readings.slice(0, 3).with_columns(
        row_text=pl.when(pl.col("row") == 3).then(pl.lit("8000\x1f2\x1f299")).otherwise("row_text"),
        sample=pl.when(pl.col("row") == 4).then(pl.lit("9000")).otherwise("sample"),
    )
    second = replace(day(12, sheet="b"), readings=rows)
    with records.unit("Ann Example", clock.move(minutes=1)) as unit:
        unit.store_day(second)
    with records.unit("Ann Example", clock.move(minutes=1)) as unit:
        unit.store_day(second, take_changes="the instrument's own record says so")


def register(unit, now: str):
    """Kept rows of every kind that the bench and the office write."""
    grower = unit.add_party("Grower 3", "grower", contact={"phone": "0100 2003"}, region="inland")
    lab = unit.add_party("The other lab", "laboratory")
    rows = [
        Equipment(key="B1", kind="bath", name="bath one", check_every_days=1),
        Equipment(
            key="M1", kind="mill", name="mill by the door", in_use_since="2025-06-01", wear="screen worn"
        ),
        EquipmentCheck(
            key="e1",
            equipment="M1",
            what="granulation",
            checked_at=now,
            checked_by=unit.person,
            held=True,
            value=98.5,
            unit="%",
            least=95.0,
            most=100.0,
            note="sieved twice",
        ),
        ShiftCheck(key="s1", checked_at=now, checked_by=unit.person, items='[["boils",true]]', held=True),
        Sample(
            key="8000",
            kind="load",
            received_at=now,
            ticket="T-8000",
            whose=grower,
            payer=grower,
            tests_wanted="fn moisture",
            needed_by=now,
            drawn_how="probe",
            drawn_by=unit.person,
            probes=3,
            increments=3,
            mass_g=2500.0,
            condition="dry, sound",
            seal="1144",
            sprouted_pct=0.5,
            sprouted_counted_by=unit.person,
            variety="Invented",
            variety_how="declared",
            origin="north field",
            harvest_date="2026-07-13",
            material="wheat",
            note="smells right",
        ),
        Sample(key="8000a", kind="split", received_at=now),
        SampleParent(
            key="1",
            sample="8000a",
            parent="8000",
            how="split",
            mass_g=400.0,
            asked_by=grower,
            reason="asked for",
        ),
        Preparation(
            key="1",
            sample="8000",
            cleaned_how="dockage off",
            dockage_pct=1.5,
            besatz_pct=0.4,
            divider="riffle",
            mill="M1",
            order_on_mill=4,
            ground_mass_g=300.0,
            ground_at=now,
        ),
        Moisture(
            key="1",
            sample="8000",
            moisture_pct=13.4,
            as_entered="13,4",
            method="oven",
            measured_on="meal",
            measured_at=now,
            meter="B1",
        ),
        RetentionRule(
            key="ours",
            applies_to="every sample",
            keep_days=90,
            source="the lab's own rule",
            provenance="entered by the lab",
        ),
        RetainedSample(
            key="1",
            sample="8000",
            mass_g=900.0,
            place="shelf 4",
            seal="1145",
            retained_at=now,
            rule="ours",
            destroy_by="2026-10-12",
        ),
        RetainedUse(key="1", retained="1", mass_g=50.0, taken_at=now, purpose="retest"),
        Terms(
            key="contract/q1/2026-07-01",
            kind="contract",
            terms_id="q1",
            valid_from="2026-07-01",
            valid_to="2026-12-31",
            party=grower,
            document="{}",
        ),
        Bin(key="4", name="bin four", capacity_t=400.0),
        Bin(key="5", name="bin five"),
        Load(
            key="T-8000", received_at=now, grower=grower, sample="8000", tonnes=24.6, bin="4", answer="DUMP 4"
        ),
        BinLayer(key="1", bin="4", order_no=1, tonnes=24.6, load="T-8000"),
        Lot(key="L1", name="lot one", tonnes=24.6, bin="4", sample="8000"),
        Cargo(
            key="K1",
            name="cargo one",
            buyer=grower,
            terms="contract/q1/2026-07-01",
            tonnes=24.0,
            loading_began_at=now,
            loading_ended_at=now,
        ),
        Sublot(key="K1/1", cargo="K1", order_no=1, tonnes=24.0, lot="L1", sample="8000"),
        Movement(
            key="1",
            kind="move",
            moved_at=now,
            tonnes=1.0,
            from_bin="4",
            to_bin="5",
            load="T-8000",
            sublot="K1/1",
        ),
        Plan(key="1", kind="allocate", made_at=now, problem="{}", answer="{}"),
        CheckMaterial(
            key="C1",
            lot="c-26",
            form="meal",
            level_s=285.0,
            level_source="twenty runs here",
            provenance="measured here",
            u_s=4.0,
            expires_on="2027-01-01",
        ),
        CheckRun(
            key="1",
            material="C1",
            run_at=now,
            seconds=281.0,
            sample="C1-1",
            bath="B1",
            mill="M1",
            judged="in control",
        ),
        CheckCause(key="C1-1", cause="a worn stirrer", decided_at=now, decided_by=unit.person, note="S9"),
        UpkeepDone(
            key="u1",
            item="stirrers",
            done_at=now,
            done_by=unit.person,
            changes_results=True,
            place="B1",
            note="two replaced",
        ),
        UpkeepInterval(
            key="stirrers", source="ours", provenance="entered by the lab", every_days=14.0, every_runs=400
        ),
        RingTest(
            key="r1",
            organiser="a ring of labs",
            round="2026-1",
            received_at=now,
            due_at=now,
            assigned_s=300.0,
            assigned_u_s=3.0,
            between_labs_s=14.0,
        ),
        RingResult(key="1", ring_test="r1", material="A", seconds=296.0, reported_at=now, sample="ring-a"),
        FeeCode(
            key="fn", what="falling number, two tubes", price="14.50", currency="EUR", valid_from="2026-01-01"
        ),
        FeeItem(key="1", code="fn", done_at=now, sample="8000", payer=grower),
        ApiToken(
            key="k1",
            person=unit.person,
            purpose="the weighbridge",
            scopes="read enter",
            token_sha256="0" * 64,
            issued_at=now,
            ends_at=now,
            revoked_at=now,
        ),
        HeardLine(
            key="h1",
            source="bench one",
            pattern="{ticket} {seconds}",
            heard_at=now,
            text="8000 287",
            read='{"seconds":"287","ticket":"8000"}',
            sample="8000",
            used_in="0f1e",
        ),
        Setting(key="bench-profile", value='"meal-14"'),
        PageEntry(key="0f1e", what="moisture", subject="samples:8000", body_sha256="0" * 64, taken_at=now),
        PortionWeighed(
            key="1",
            sample="8000",
            position="1",
            mass_g=6.95,
            as_entered="6,95",
            weighed_at=now,
            wanted_g=6.95,
            used_in="1",
        ),
        Lowering(
            key="1",
            sample="8000",
            run="1",
            position="1",
            bath="B1",
            lowered_at=now,
            profile="meal-14@1",
            tube_id="7",
            stirrer_id="9",
            mass_g=6.95,
            moisture_pct=13.4,
            pressure_hpa=982.0,
            ended="read",
            note="started late by a breath",
        ),
        Answer(
            key="1",
            sample="8000",
            said_at=now,
            how="phone",
            said="287, limit 300",
            party=grower,
            release="r1",
        ),
    ]
    for row in rows:
        unit.add(row)
    return lab


def bench(unit, day_id):
    """Two readings typed at the bench, one of them corrected, and two versions of a result."""
    typed = day(2, first_sample=9500)
    unit.record_readings(day_id, typed.readings)
    unit.record_results(day_id, typed.results)
    again = typed.readings.slice(1, 1).with_columns(
        row_text=pl.lit("9500\x1f2\x1f288"), seconds=pl.lit(288.0)
    )
    unit.record_readings(day_id, again, reason="read from the wrong line")
    unit.record_results(day_id, typed.results.with_columns(mean_s=pl.lit(288.0)))


def fill(records, clock: Clock):
    """Put something in every table that the log stands for."""
    sheets(records, clock)
    with records.unit("Ann Example", clock.move(minutes=1)) as unit:
        now = clock().isoformat()
        lab = register(unit, now)
        bench(unit, unit.open_day(bench_day(clock())))
        unit.save_profile("ours", "1", {"base_mass_g": 7.0})
        unit.save_signoff("ours", "1", {"field": "floor_s"})
        first = unit.release("8000")
        unit.tell(first, "phone", said="287, limit 300")
        unit.release("8000", reason="second pair")
        document, _ = unit.issue_document(
            "certificate", {"sample": "8000", "seconds": 287}, releases=("r2",), file_sha256="0" * 64
        )
        unit.tell("r2", "paper", party=lab, document=document.key)
        unit.add(
            SentSample(
                key="1",
                sample="8000",
                laboratory=lab,
                sent_at=now,
                mass_g=300.0,
                seal="1146",
                purpose="pairing",
            )
        )
        unit.add(
            CustodyStep(
                key="1/1",
                sent="1",
                what="packed",
                at=now,
                from_party=lab,
                to_party=lab,
                seal="1146",
                note="box",
            )
        )
        unit.add(
            SentResult(
                key="1",
                sent="1",
                received_at=now,
                as_entered="291",
                seconds=291.0,
                kind=0,
                moisture_basis_pct=14.0,
                own_release="r2",
            )
        )
        unit.add(
            Retest(
                key="8000a",
                sample="8000a",
                parent="8000",
                made_from="retained-sample",
                retained="1",
                rule="official-appeal",
                asked_at=now,
                rule_from="q1",
                appeal_sd_s=8.0,
                reason="near the limit",
            )
        )
        unit.add(
            TermsVersion(
                key="t1",
                entered_at=now,
                source="offers.csv",
                top='{"currency":"USD"}',
                blocks='["contract/q1/2026-07-01"]',
                sha256="1" * 64,
            )
        )
        unit.add(
            ToldPrice(
                key="p1",
                told_at=now,
                terms_name="offers.csv",
                terms_sha256="1" * 64,
                told='{"net_per_t":226.0}',
                terms_version="t1",
                sample="8000",
            )
        )
        unit.attach("samples:8000", "photo.png", "image/png", b"\x89PNG not really")
    with records.unit("Ann Example", clock.move(minutes=1)) as unit:
        mill = unit.get(Equipment, "M1")
        mill.uses = 41
        unit.edit(mill, made_from=mill.version)
        gone = unit.add_party("Grower 4", "grower")
        unit.erase("parties", gone, "asked for in writing")
        unit.root()
