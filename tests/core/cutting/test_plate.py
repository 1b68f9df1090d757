"""Single sheets against published optima, and properties that any cutting must have."""

import csv
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutting_checker import falls_apart_by_straight_cuts
from printlore.core.cutting.drawing import plate_svg
from printlore.core.cutting.plate import Piece, best_plate
from printlore.errors import ValueOutOfRange

DATA = Path(__file__).parents[2] / "data"


def rows(name):
    lines = [line for line in (DATA / name).read_text().splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


ITEMS = rows("cut2d_instances_items.csv")
OPTIMA = [row for row in rows("cut2d_instances_optima.csv") if row["instance"] != "cgcut3"]


def pieces_of(instance):
    return [
        Piece(
            name=row["item"],
            along=int(row["length"]),
            across=int(row["width"]),
            value=float(row["value"]),
            most=int(row["max_copies"]) if row["max_copies"] else None,
        )
        for row in ITEMS
        if row["instance"] == instance
    ]


def assert_can_be_cut(plan, along, across, pieces):
    boxes = [(p.at_along, p.at_across, p.along, p.across) for p in plan.placed]
    assert all(x >= 0 and y >= 0 and x + a <= along and y + b <= across for x, y, a, b in boxes)
    assert falls_apart_by_straight_cuts(boxes, 0)
    by_name = {p.name: p for p in pieces}
    for name in {p.name for p in plan.placed}:
        copies = sum(1 for p in plan.placed if p.name == name)
        assert by_name[name].most is None or copies <= by_name[name].most
    assert sum(by_name[p.name].value for p in plan.placed) == pytest.approx(plan.value)


@pytest.mark.parametrize("optimum", OPTIMA, ids=lambda row: row["instance"])
def test_plate_reaches_the_published_optimum(optimum):
    """Beasley (1985), Table 1 (gcut1-12); Christofides and Whitlock (1977), Table 2 (cgcut1-2)."""
    along, across = int(optimum["stock_length"]), int(optimum["stock_width"])
    pieces = pieces_of(optimum["instance"])
    plan = best_plate(along, across, pieces)
    assert plan.value == plan.bound == float(optimum["optimal_value"])
    assert_can_be_cut(plan, along, across, pieces)


@settings(max_examples=40, deadline=None)
@given(
    st.integers(6, 24),
    st.integers(6, 24),
    st.lists(
        st.tuples(st.integers(2, 12), st.integers(2, 12), st.integers(1, 60), st.integers(1, 3)), min_size=1, max_size=4
    ),
)
def test_every_plate_can_be_cut_and_limits_never_gain(along, across, sizes):
    limited = [Piece(name=str(i), along=a, across=b, value=v, most=m) for i, (a, b, v, m) in enumerate(sizes)]
    free = [Piece(name=p.name, along=p.along, across=p.across, value=p.value) for p in limited]
    few, many = best_plate(along, across, limited), best_plate(along, across, free)
    assert_can_be_cut(few, along, across, limited)
    assert_can_be_cut(many, along, across, free)
    assert few.value <= many.value + 1e-9
    assert many.value <= best_plate(along, across, free, may_turn=True).value + 1e-9


def test_limits_that_do_not_bind_give_the_same_worth_by_both_ways():
    """The table and the building up are two methods: with copies just above what fits, both must agree."""
    pieces = [Piece(name="a", along=5, across=4, value=20), Piece(name="b", along=7, across=3, value=22)]
    free = best_plate(20, 13, pieces)
    capped = [
        Piece(name="a", along=5, across=4, value=20, most=12),
        Piece(name="b", along=7, across=3, value=22, most=11),
    ]
    assert best_plate(20, 13, capped).value == free.value


def test_a_search_that_is_stopped_says_how_far_off_it_may_be():
    plan = best_plate(40, 70, pieces_of("cgcut2"), stop=lambda: True)
    assert plan.value < 2892 <= plan.bound


def test_plate_drawing_is_to_scale():
    plan = best_plate(100, 50, [Piece(name="half", along=50, across=50, value=1)])
    drawing = plate_svg(plan, 100, 50)
    assert drawing.count("<rect") == 3
    assert "half" in drawing


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: best_plate(0, 5, [Piece(name="a", along=1, across=1, value=1)]), "both sides must be at least 1"),
        (lambda: best_plate(5, 5, []), "no piece to cut"),
        (lambda: Piece(name="a", along=0, across=1, value=1), "sides must be at least 1"),
    ],
)
def test_plates_that_cannot_be_are_refused_in_words(call, words):
    with pytest.raises(ValueOutOfRange, match=words):
        call()
