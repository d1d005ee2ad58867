"""Names written from right to left, on a page."""

from __future__ import annotations

from brewlog.templatetags.brewlog import apart

TEA, BLACK = "תה", "שחור"


def test_a_date_beside_a_name_keeps_its_own_order():
    assert apart(f"{TEA} 2026-01") == f'{TEA} <bdi dir="ltr">2026-01</bdi>'
    assert apart(f"of {TEA} {BLACK}, 3") == f'of <bdi dir="rtl">{TEA} {BLACK}</bdi>, 3'


def test_what_runs_from_the_left_is_as_it_was():
    assert apart("Black tea <b>") == "Black tea <b>"
    assert apart(12) == 12


def test_nothing_that_was_typed_becomes_a_tag():
    assert apart(f"{TEA} <script>") == f'<bdi dir="rtl">{TEA}</bdi> &lt;script&gt;'
    assert apart(f"{TEA} <i>") == f'{TEA} <bdi dir="ltr">&lt;i</bdi>&gt;'
    assert apart(f"{TEA}\u2069\u2066 x") == f'{TEA} <bdi dir="ltr">x</bdi>'
    assert apart("\u2067 x") == "\u2067 x"


def test_tags_are_opened_and_closed_in_turn():
    shown = apart(f"a {TEA} L-1 {BLACK} b ({TEA}) 5 % {BLACK}")
    assert shown.count("<bdi") == shown.count("</bdi>") > 1
