"""Layers after any movements hold what was put in less what left, and a turned bin is one layer."""

from __future__ import annotations

import math
from dataclasses import dataclass

from hypothesis import given
from hypothesis import strategies as st

from lodestarch.work.planning.bin_layers import layers_after, tonnes_in

BINS = ("a", "b", "c")
AMOUNT = st.floats(0.5, 90.0)


@dataclass(frozen=True)
class Move:
    kind: str
    tonnes: float
    from_bin: str | None = None
    to_bin: str | None = None
    load: str | None = None


@st.composite
def moves(draw):
    made, held = [], dict.fromkeys(BINS, 0.0)
    for i in range(draw(st.integers(1, 25))):
        kind = draw(st.sampled_from(("in", "in", "move", "turn", "out")))
        first, second = draw(st.permutations(BINS))[:2]
        tonnes = draw(AMOUNT)
        if kind == "in":
            made.append(Move("in", tonnes, to_bin=first, load=f"l{i}"))
            held[first] += tonnes
        elif kind == "turn":
            made.append(Move("turn", held[first], first, first))
        else:
            tonnes = min(tonnes, held[first])
            made.append(Move(kind, tonnes, first, second if kind == "move" else None))
            held[first] -= tonnes
            held[second] += tonnes if kind == "move" else 0.0
    return made, held


@given(moves())
def test_what_lies_there_is_what_came_less_what_left(case):
    made, held = case
    after = layers_after(made)
    for name in BINS:
        assert math.isclose(tonnes_in(after.get(name, ())), held[name], abs_tol=1e-6)
    by_load = {}
    for layers in after.values():
        for layer in layers:
            for load, tonnes in layer.parts:
                assert tonnes >= 0.0
                by_load[load] = by_load.get(load, 0.0) + tonnes
    brought = {m.load: m.tonnes for m in made if m.kind == "in"}
    assert all(tonnes <= brought[load] + 1e-6 for load, tonnes in by_load.items())


@given(moves(), st.sampled_from(BINS))
def test_a_turned_bin_is_one_layer_with_the_same_loads(case, name):
    made, held = case
    before = layers_after(made).get(name, ())
    after = layers_after([*made, Move("turn", held[name], name, name)]).get(name, ())
    assert len(after) == (1 if before else 0)
    loads = sorted({load for layer in before for load, _ in layer.parts})
    assert loads == sorted(load for layer in after for load, _ in layer.parts)
    assert all(layer.mixed for layer in after)


def test_the_lowest_layer_leaves_first_and_untouched_layers_stay_whole():
    made = [Move("in", 20.0, to_bin="a", load="x"), Move("in", 30.0, to_bin="a", load="y"),
            Move("in", 10.0, to_bin="a", load="z"), Move("out", 35.0, "a")]  # fmt: skip
    assert [layer.parts for layer in layers_after(made)["a"]] == [(("y", 15.0),), (("z", 10.0),)]
