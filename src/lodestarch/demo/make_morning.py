"""Write the invented morning after: ``python -m lodestarch.demo.make_morning FOLDER``.

Two hundred earlier duplicate pairs of the invented bench, and the bench and sample sheets of the next
morning, on which bath A goes off the boil between two check samples. The files under ``morning/`` are the
output of this script; a test compares the two.
"""

from __future__ import annotations

import csv
import io
import sys
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from lodestarch.demo.cast import ANALYSTS, CHECKS, ELEVATION_M, ORIGINS, PROFILE_ID, STIRRERS, TUBES
from lodestarch.demo.clean_day import Dice, Reading, Sample
from lodestarch.demo.make_harvest import BENCH, SAMPLES, sheet_bytes
from lodestarch.method.bath import pressure_from_elevation_hpa
from lodestarch.method.portion import portion_mass_g
from lodestarch.method.shipped import shipped_profile

__all__ = ["BOIL_LOST", "PAIRS", "PAIR_CV", "SEED", "main", "morning_files"]

SEED: Final = 8901
PAIRS: Final = 200
PAIR_CV: Final = 0.012
"""The stated law of the earlier pairs: one tube scatters by 1.2 % of its level [1]. Invented; the law of the
invented bench itself."""
GROSS: Final = (0.015, 5.0)
"""Share of pairs with a gross error, and how many times wider they scatter. Invented."""
SPAN_S: Final = (110.0, 430.0)
AT_FLOOR: Final = 0.04
"""Span of the true levels of the pairs [s], and share of pairs at the floor. Invented."""
BOIL_LOST: Final = 1.12
"""By what the readings of bath A rise once it is off the boil. Invented."""

_FLOOR_S: Final = 62
_SLOTS: Final = 5
_SLOT_MIN: Final = 32
_OFF_FROM: Final = 2
"""Slot from which bath A is off the boil; the second checks are in the last slot."""
_FIRST_TICKET: Final = 8900


def _start(slot: int, bath: int) -> datetime:
    begin = datetime(2024, 8, 22, 6, 40)  # noqa: DTZ001 - the bench's own clock
    return begin + timedelta(minutes=_SLOT_MIN * slot + 9 * bath)


def _pairs(dice: Dice) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(("sample", "first", "second"))
    for n in range(1, PAIRS + 1):
        level = 40.0 if dice.between(0.0, 1.0) < AT_FLOOR else dice.between(*SPAN_S)
        sd = level * PAIR_CV * (GROSS[1] if dice.between(0.0, 1.0) < GROSS[0] else 1.0)
        tubes = [max(round(dice.normal(level, abs(sd))), _FLOOR_S) for _ in range(2)]
        said = [f"<={_FLOOR_S}" if t == _FLOOR_S else str(t) for t in tubes]
        writer.writerow((f"P{n:03d}", *said))
    return out.getvalue().encode()


def _check(number: int, time: int, dice: Dice) -> Sample:
    spec = CHECKS[number]
    return Sample(
        sample=f"{spec.material_id}-{time}",
        ticket="",
        kind="check",
        material=spec.material_id,
        level_s=dice.normal(spec.target_s, spec.u_s / 4.0),
        moisture_pct=spec.moisture_pct,
        ground_mass_g=320 if spec.whole_grain else None,
        mill_id="M1" if spec.whole_grain else "",
        ground_at=_start(0, 0) - timedelta(minutes=25) if spec.whole_grain else None,
        moisture_method="drying dish" if spec.whole_grain else "label",
    )


def _load(number: int, slot: int, dice: Dice) -> Sample:
    origin = dice.pick(ORIGINS[:5])
    ticket = str(_FIRST_TICKET + number)
    ground = _start(slot, 0) - timedelta(minutes=round(dice.between(15, 28)))
    return Sample(
        sample=ticket,
        ticket=ticket,
        kind="load",
        material="wheat",
        level_s=dice.normal(origin.level_s, origin.spread_s),
        moisture_pct=round(dice.normal(origin.moisture_pct, 0.3), 1),
        grower=dice.pick(origin.growers),
        origin=origin.place,
        variety=dice.pick(origin.varieties),
        harvest_date="2024-08-21",
        tonnes=round(dice.between(12.0, 28.0), 1),
        bin=origin.bin_id,
        ground_mass_g=round(dice.between(303.0, 336.0)),
        mill_id="M1" if number % 2 else "M2",
        received_at=ground - timedelta(minutes=round(dice.between(12, 40))),
        ground_at=ground,
        moisture_at=ground + timedelta(minutes=3),
    )


def _queue(dice: Dice) -> list[list[list[Sample]]]:
    """Samples by slot and bath, two a bath: checks at the start and after two hours, loads between."""
    loads = iter(range(1, 20))
    slots = [[[_check(0, 4, dice), _check(1, 4, dice)], [_check(1, 5, dice), _load(next(loads), 0, dice)]]]
    last = _SLOTS - 1
    slots += [[[_load(next(loads), n, dice) for _ in range(2)] for _ in range(2)] for n in range(1, last)]
    slots.append([[_check(1, n, dice), _load(next(loads), last, dice)] for n in (6, 7)])
    return slots


def morning_files(seed: int = SEED) -> dict[str, bytes]:
    """Make the files of the morning after.

    Parameters
    ----------
    seed : int

    Returns
    -------
    dict
        Bytes by file name: earlier pairs, bench sheet, sample sheet.
    """
    dice = Dice(seed)
    pairs = _pairs(dice)
    constants = shipped_profile(PROFILE_ID).constants
    slots = _queue(dice)
    readings: list[Reading] = []
    for slot, baths in enumerate(slots):
        stirrers = dice.deal(STIRRERS)
        pressure = round(pressure_from_elevation_hpa(ELEVATION_M) - 2.0 + dice.normal(0, 0.1), 1)
        for b, samples in enumerate(baths):
            rise = BOIL_LOST if b == 0 and slot >= _OFF_FROM else 1.0
            for k, sample in enumerate(samples):
                wanted = portion_mass_g(sample.moisture_pct, constants)
                for t in range(2):
                    seconds = max(round(sample.level_s * rise * dice.normal(1.0, PAIR_CV)), _FLOOR_S)
                    readings.append(
                        Reading(
                            sample=sample.sample,
                            ticket=sample.ticket,
                            run=f"{'AB'[b]}-{slot + 1:02d}",
                            bath="AB"[b],
                            position=str(2 * k + t + 1),
                            tube_id=TUBES[len(readings) % len(TUBES)],
                            stirrer_id=stirrers[4 * b + 2 * k + t],
                            seconds=str(seconds),
                            moisture_pct=sample.moisture_pct,
                            mass_g=round(wanted + min(max(dice.normal(0.0, 0.012), -0.03), 0.03), 2),
                            pressure_hpa=pressure,
                            analyst=ANALYSTS[0],
                            run_at=_start(slot, b),
                        )
                    )
    sheet = [sample for baths in slots for samples in baths for sample in samples]
    return {
        "pairs.csv": pairs,
        "bench.csv": sheet_bytes(BENCH, readings),
        "samples.csv": sheet_bytes(SAMPLES, sheet),
    }


def main(arguments: list[str]) -> int:
    """Write the files into the folder named, or beside this script."""
    folder = Path(arguments[0]) if arguments else Path(__file__).parent / "morning"
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in morning_files().items():
        (folder / name).write_bytes(data)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
