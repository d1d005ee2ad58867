"""Signatures: who, meaning what, and exactly what was signed."""

from __future__ import annotations

import json

import pytest

from brewlog.domain.lots import correct, void
from brewlog.recording import Refused
from compliance.domain import signing
from compliance.domain.signing import Change
from compliance.models import Signature
from tests import factories
from tests.factories import at

pytestmark = pytest.mark.django_db

PASSWORD = "living culture 7"


def sign(actor, contents, password=PASSWORD):
    return signing.sign(
        actor=actor, password=password, meaning="release", contents=contents, statement="sound"
    )


def test_a_signature_has_name_time_meaning_and_digest(reviewer):
    found = sign(reviewer, {"batch:1": {"code": "B1"}})

    assert (found.printed_name, found.meaning) == (str(reviewer), "release")
    assert json.loads(found.contents) == {"batch:1": {"code": "B1"}}
    assert signing.is_intact(found)


def test_a_wrong_password_signs_nothing(reviewer):
    with pytest.raises(Refused, match="Nothing was signed"):
        sign(reviewer, {}, password="guess")

    assert not Signature.objects.exists()


def test_a_password_entered_once_signs_for_several(reviewer):
    confirmed = signing.confirm(reviewer, PASSWORD)

    one, other = (sign(reviewer, {name: {}}, confirmed) for name in ("batch:1", "batch:2"))

    assert one.contents != other.contents
    assert (one.person, other.person) == (reviewer, reviewer)


def test_a_password_that_somebody_else_entered_signs_nothing(reviewer, manager):
    confirmed = signing.confirm(manager, PASSWORD)

    with pytest.raises(Refused, match="Somebody else"):
        sign(reviewer, {}, confirmed)

    assert not Signature.objects.exists()


def test_a_wrong_password_confirms_nothing(reviewer):
    with pytest.raises(Refused, match="Nothing was signed"):
        signing.confirm(reviewer, "guess")


def test_the_digest_is_sha_256_of_canonical_json():
    # SHA-256 of {"a":1,"b":"é"} in UTF-8, by any other tool.
    assert signing.canonical({"b": "é", "a": 1}) == '{"a":1,"b":"é"}'
    assert signing.digest_of("abc") == (
        # FIPS 180-2, appendix B.1.
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )


class TestWhatIsSigned:
    def test_reaches_to_the_lots_it_was_made_from(self, operator):
        culture = factories.culture(operator)
        batch = factories.batch(operator, starter=culture)
        reading = factories.reading(operator, batch)

        contents = signing.contents_about(batch)

        assert f"culturelot:{culture.pk}" in contents
        assert contents[f"checkpoint:{reading.pk}"]["value_text"] == "3.45"

    def test_unchanged_shows_nothing(self, reviewer):
        batch = factories.batch(reviewer)
        signature = sign(reviewer, signing.contents_about(batch))

        assert signing.changes_since(signature, signing.contents_about(batch)) == []

    def test_a_later_correction_shows_with_its_field(self, reviewer):
        batch = factories.batch(reviewer)
        reading = factories.reading(reviewer, batch)
        signature = sign(reviewer, signing.contents_about(batch))

        correct(actor=reviewer, record=reading, reason="misread", note="second look")

        assert signing.changes_since(signature, signing.contents_about(batch)) == [
            Change(f"checkpoint:{reading.pk}", "changed", ("note",))
        ]

    def test_a_later_void_shows_as_gone_and_a_later_entry_as_added(self, reviewer):
        batch = factories.batch(reviewer)
        first = factories.reading(reviewer, batch)
        signature = sign(reviewer, signing.contents_about(batch))

        void(actor=reviewer, record=first, reason="other jar")
        second = factories.reading(reviewer, batch, when=at(11))

        assert signing.changes_since(signature, signing.contents_about(batch)) == [
            Change(f"checkpoint:{first.pk}", "gone"),
            Change(f"checkpoint:{second.pk}", "added"),
        ]

    def test_a_change_of_a_calibration_it_leaned_on_shows_too(self, reviewer):
        meter = factories.instrument(reviewer)
        calibration = factories.calibration(reviewer, meter)
        batch = factories.batch(reviewer)
        factories.reading(reviewer, batch, instrument=meter)
        signature = sign(reviewer, signing.contents_about(batch))

        correct(actor=reviewer, record=calibration, reason="typo", buffers="lot 9")

        (change,) = signing.changes_since(signature, signing.contents_about(batch))
        assert change == Change(f"calibration:{calibration.pk}", "changed", ("buffers",))
