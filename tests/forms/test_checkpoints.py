"""Forms of readings, checks and results."""

from __future__ import annotations

import hashlib
import io
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from brewlog.entries import BY_SLUG
from brewlog.forms.checkpoints import ConditionForm, LabResultForm, ReadingForm
from brewlog.models import ConditionCheck
from tests import factories
from tests.factories import at
from tests.forms.sending import sent

pytestmark = pytest.mark.django_db


def picture(kind="PNG"):
    file = io.BytesIO()
    Image.new("RGB", (4, 4), "green").save(file, kind)
    return file.getvalue()


def test_a_reading_from_a_sheet_reaches_the_record(operator):
    batch = factories.batch(operator)
    meter = factories.instrument(operator, "Meter A")
    form = sent(
        ReadingForm,
        operator,
        {
            "when": "2026-03-09 14:20",
            "lot": batch.code.lower(),
            "measurand": "pH",
            "value": " 3,42 ",
            "sample_temperature": "72 °F",
            "instrument": "meter a",
            "stage": "fermenting",
        },
    )

    assert form.is_valid(), form.errors
    found = BY_SLUG["reading"].verb(actor=operator, **form.cleaned_data)
    assert (found.lot_id, found.value, found.value_text) == (batch.pk, Decimal("3.42"), "3,42")
    assert (found.instrument, found.sample_temperature) == (meter, Decimal("22.22"))


def test_whether_there_is_mould_is_answered_by_who_looked_and_by_nothing_else(operator):
    jar = factories.culture(operator).code

    form = ConditionForm({"when": "2026-03-09", "lot": jar, "reason": "on paper"}, actor=operator)

    assert list(form.errors) == ["mould"]
    assert "checked" not in str(ConditionForm(actor=operator)["mould"])


class TestUploads:
    def condition(self, operator, name, content):
        data = {"when": "2026-03-09", "lot": factories.culture(operator).code, "mould": "none"}
        files = {"photo": SimpleUploadedFile(name, content)}
        return ConditionForm(data, files, actor=operator, from_sheet=True)

    def test_a_photo_is_kept(self, operator):
        form = self.condition(operator, "jar.png", picture())

        assert form.is_valid(), form.errors
        [check] = BY_SLUG["condition"].verb(actor=operator, **form.cleaned_data)
        found = ConditionCheck.objects.get(pk=check.pk)
        assert found.photo.name.endswith(".png")
        with found.photo.open() as kept:
            assert kept.read() == picture()
        assert found.photo_digest == hashlib.sha256(picture()).hexdigest()

    @pytest.mark.parametrize(
        ("name", "content"),
        [
            ("jar.png", b"not a picture"),
            ("jar.html", b"<script>alert(1)</script>"),
            ("jar.png", picture("GIF")),
        ],
    )
    def test_what_is_not_a_photo_is_refused(self, operator, name, content):
        assert list(self.condition(operator, name, content).errors) == ["photo"]

    def test_no_photo_is_no_photo(self, operator):
        data = {"when": "2026-03-09", "lot": factories.culture(operator).code, "mould": "none"}
        form = sent(ConditionForm, operator, data)

        assert form.is_valid(), form.errors
        assert form.cleaned_data["photo"] == ""

    def test_a_report_is_a_paper_or_a_picture_of_one(self, operator):
        data = {
            "when": "2026-03-25",
            "lot": factories.bottles(operator).code,
            "measurand": "alcohol",
            "value": "0.4",
            "laboratory": "Northgate Analytical",
        }
        files = {"report": SimpleUploadedFile("report.exe", b"MZ\x00")}
        form = LabResultForm(data, files, actor=operator, from_sheet=True)

        assert list(form.errors) == ["report"]


def test_a_late_reading_says_why(operator):
    batch = factories.batch(operator)
    data = {"when": "2026-03-09 14:20", "lot": batch.code, "measurand": "ph", "value": "3.4"}

    form = ReadingForm(data, actor=operator)

    assert list(form.errors) == ["reason"]
    assert at(9).at < form.cleaned_data["when"].at
