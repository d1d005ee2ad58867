"""The SVG of a picture: nothing the page's policy refuses, and read out as what it shows."""

from __future__ import annotations

import re
from xml.etree import ElementTree

from brewlog.charts.picture import plotted
from brewlog.charts.plot import Band, Curve, LimitLine, Mark, Plot, Point

_SVG = "{http://www.w3.org/2000/svg}"


def picture(name: str = "<B1> & co"):
    points = (Point(0, 4.5, "1 Mar", "4.50", 0.05), Point(24, 4.0, "2 Mar", "4.0", 0.05))
    plot = Plot(
        "pH",
        "pH",
        "since starter was added",
        (Curve(name, points),),
        limits=(LimitLine(4.2, "limit ≤ 4.2 pH"),),
        marks=(Mark(0, "added to <B1> & co", "1 Mar 09:00"),),
        band=Band((0, 24), (4.4, 3.9), (4.5, 4.0), (4.6, 4.1)),
    )
    return plotted("ph", plot)


def test_there_is_no_style_and_every_shape_has_its_colour_by_class():
    for svg in (picture().wide, picture().narrow):
        tree = ElementTree.fromstring(svg)
        drawn = [each for each in tree.iter() if each.tag not in {"svg", "title", "desc"}]
        assert "style" not in svg
        assert all(each.get("class", "").startswith("fill-") for each in drawn)
        assert {each.tag for each in drawn} == {
            "line", "rect", "circle", "polyline", "polygon", "text"
        }  # fmt: skip


def test_ids_are_not_used_twice_on_a_page():
    page = picture().wide + picture().narrow

    ids = re.findall(r' id="([^"]*)"', page)

    assert len(ids) == len(set(ids)) == 4


def test_it_is_read_out_as_its_title_and_what_it_shows():
    tree = ElementTree.fromstring(picture().wide)

    title, description = tree.find("title"), tree.find("desc")

    assert tree.get("role") == "img"
    assert tree.get("aria-labelledby") == f"{title.get('id')} {description.get('id')}"
    assert title.text == "pH"
    assert description.text == (
        "2 values, 4.0 to 4.50. limit: limit ≤ 4.2 pH. added to <B1> & co: 1 Mar 09:00. "
        "The table below has every value."
    )


def test_words_are_escaped():
    assert "<B1>" not in picture().wide
    assert "added to &lt;B1&gt; &amp; co" in picture().wide


def test_the_table_has_what_is_drawn():
    shown = picture()

    assert shown.columns == ("When", "pH", "Uncertainty, k = 1")
    assert shown.rows == (
        ("1 Mar", "4.50", "± 0.05"),
        ("2 Mar", "4.0", "± 0.05"),
        ("1 Mar 09:00", "added to <B1> & co", ""),
        ("all along", "limit ≤ 4.2 pH", ""),
    )
    assert shown.wide.count("<circle") == 2


def test_the_same_picture_is_the_same_text():
    assert picture().wide == picture().wide
