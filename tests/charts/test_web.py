"""Boxes and lines: each drawn once, none over another, all within the picture."""

from __future__ import annotations

from itertools import combinations

import pytest
from reportlab.graphics.shapes import Path, Rect, String

from brewlog.charts import ink
from brewlog.charts.picture import LETTERS
from brewlog.charts.web import Box, Join, Web, draw_web, web_size
from tests.charts.rooms import cut_off, written_over


def web(is_down: bool = False) -> Web:
    """Two ingredients into two brews, both into a batch, that into three bottlings."""
    keys = ("tea", "sugar", "K1", "K2", "S1", "B1", "L1", "L2", "L3")
    joins = (
        ("tea", "K1", "1 kg"), ("sugar", "K1", "6 kg"), ("tea", "K2", "0.5 kg"),
        ("sugar", "K2", "3 kg"), ("K1", "B1", "60 L"), ("K2", "B1", "30 L"), ("S1", "B1", "9 L"),
        ("B1", "L1", "33 L"), ("B1", "L2", "33 L"), ("B1", "L3", "20 L"), ("sugar", "L1", "200 g"),
    )  # fmt: skip
    boxes = tuple(Box(key, key, f"what {key} is", is_asked=key == "B1") for key in keys)
    return Web("The way", boxes, tuple(Join(*join) for join in joins), is_down)


def of(drawing, kind: type) -> list:
    return [shape for shape in drawing.contents if isinstance(shape, kind)]


def framed(drawing) -> list[Rect]:
    return [rect for rect in of(drawing, Rect) if rect.strokeColor]


@pytest.mark.parametrize("is_down", [False, True])
def test_every_line_is_drawn_once_with_its_words(is_down):
    drawn = draw_web(web(is_down), 10)

    said = [shape.text for shape in of(drawn, String)]
    assert len(of(drawn, Path)) == len(web().joins)
    for join in web().joins:
        assert said.count(join.words) == sum(other.words == join.words for other in web().joins)
    assert len(framed(drawn)) == len(web().boxes)


def ends(is_down: bool) -> set[tuple]:
    """Where the lines end, and which box holds each end."""
    drawn = draw_web(web(is_down), 10)
    return {tuple(path.points[-2:]) for path in of(drawn, Path)}


@pytest.mark.parametrize("is_down", [False, True])
def test_lines_end_apart_at_the_near_side_of_their_box(is_down):
    drawn = draw_web(web(is_down), 10)
    near = [
        (rect.y + rect.height, rect.x, rect.x + rect.width)
        if is_down
        else (rect.x, rect.y, rect.y + rect.height)
        for rect in framed(drawn)
    ]

    found = ends(is_down)

    assert len(found) == len(web().joins)
    for x, y in found:
        along, across = (y, x) if is_down else (x, y)
        assert any(abs(side - along) < 0.01 and low < across < high for side, low, high in near)


@pytest.mark.parametrize("is_down", [False, True])
def test_boxes_do_not_overlap_and_stay_within(is_down):
    drawn = draw_web(web(is_down), 10)

    boxes = [(r.x, r.y, r.x + r.width, r.y + r.height) for r in framed(drawn)]
    for one, other in combinations(boxes, 2):
        apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
        assert apart
    for left, low, right, high in boxes:
        assert 0 <= left < right <= drawn.width
        assert 0 <= low < high <= drawn.height


def family(transfers: int, kept_from: str) -> Web:
    """A starter handed on so often, each time through batches, beside one never handed on."""
    boxes = [Box(str(n), f"S2026-{n}", "kept back from a batch", "in use", rank=n)
             for n in range(transfers + 1)]  # fmt: skip
    boxes.append(Box("alone", "a starter with a long code", "bought as a culture", rank=0))
    joins = [Join(str(n), str(n + 1), kept_from, is_through=True) for n in range(transfers)]
    ranks = tuple((n, f"{n} transfers since bought") for n in range(transfers + 1))
    return Web("Family", tuple(boxes), tuple(joins), is_down=True, ranks=ranks)


@pytest.mark.parametrize(
    "drawn_web",
    [
        web(),
        web(is_down=True),
        family(1, "B1"),
        family(4, "B2026-118, B2026-119, B2026-120"),
        family(2, "a batch with a code as long as a code may be at all"),
    ],
    ids=["across", "down", "one transfer", "pooled", "long codes"],
)
def test_no_words_are_written_over_others_or_beyond_the_picture(drawn_web):
    drawn = draw_web(drawn_web, LETTERS)

    assert written_over(drawn) == []
    assert cut_off(drawn) == []


@pytest.mark.parametrize("is_down", [False, True])
def test_its_size_is_known_beforehand_and_grows_with_its_letters(is_down):
    width, height = web_size(web(is_down), 10)
    drawn = draw_web(web(is_down), 10)

    assert (drawn.width, drawn.height) == (width, height)
    assert web_size(web(is_down), 5) == (pytest.approx(width / 2), pytest.approx(height / 2))


def test_the_lot_asked_about_has_the_heavy_frame():
    drawn = draw_web(web(), 10)

    heavy = [rect for rect in framed(drawn) if rect.strokeColor == ink.ACCENT]

    assert len(heavy) == 1


def test_each_generation_is_named_above_its_first_box():
    boxes = (Box("a", "a", rank=0), Box("b", "b", rank=0), Box("c", "c", rank=1))
    family = Web(
        "Family",
        boxes,
        (Join("a", "b"), Join("a", "c", "B1")),
        is_down=True,
        ranks=((0, "as bought"), (1, "1 transfer since bought")),
    )

    height = {shape.text: shape.y for shape in of(draw_web(family, 10), String)}

    assert height["as bought"] > height["a"] > height["b"]
    assert height["b"] > height["1 transfer since bought"] > height["c"]
