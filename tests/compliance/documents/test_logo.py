"""The brewery's logo on papers, and papers without one."""

from __future__ import annotations

import dataclasses

import pytest
from reportlab.platypus import PageBreak

from brewlog.domain import people
from brewlog.models import Brewery
from compliance.documents.page import paragraph, render
from tests import factories
from tests.compliance.documents.papers import pictures_of
from tests.compliance.documents.test_page import HEAD


@pytest.mark.django_db
def test_the_logo_is_at_the_head_of_each_page_and_once_in_the_file(manager, brewery):
    people.set_logo(actor=manager, reason="a new sign", logo=factories.picture(300, 100))
    head = dataclasses.replace(HEAD, logo=Brewery.objects.get().logo.name)
    pdf = render(head, [paragraph("x"), PageBreak(), paragraph("y")])
    assert pdf == render(head, [paragraph("x"), PageBreak(), paragraph("y")])
    assert pdf.count(b"/Subtype /Image") == 1
    for page in pictures_of(pdf, 72):
        assert page.getpixel((int(20 / 210 * page.width), int(9 / 297 * page.height))) < 128


def test_without_a_logo_the_brewery_stands_at_the_margin():
    [page] = pictures_of(render(HEAD, [paragraph("x")]), 72)
    head = page.crop((0, 0, page.width // 2, int(13 / 297 * page.height)))
    left = head.point(lambda shade: 255 * (shade < 128)).getbbox()[0]
    assert left == pytest.approx(15 / 210 * page.width, abs=3)
