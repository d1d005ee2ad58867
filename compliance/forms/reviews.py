"""Forms of review and release."""

from __future__ import annotations

from brewlog.forms.fields import LotField, NoteField
from brewlog.models import LotKind
from compliance.forms.fields import SignedForm
from compliance.models import Signature


class ReviewForm(SignedForm):
    meaning = Signature.Meaning.REVIEW.label
    lot = LotField(label="Lot")
    remark = NoteField(label="Remark", required=False, max_length=200)


class ReleaseForm(SignedForm):
    meaning = Signature.Meaning.RELEASE.label
    lot = LotField(LotKind.BOTTLING, label="Lot")
    remark = NoteField(label="Remark", required=False, max_length=200)


class TakeBackForm(SignedForm):
    meaning = Signature.Meaning.UNDO.label
    lot = LotField(LotKind.BOTTLING, label="Lot")
    reason = NoteField(label="Why the release is taken back", max_length=200)
