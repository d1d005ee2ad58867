"""Forms of deciding what becomes of held lots, and of bottles that left."""

from __future__ import annotations

from typing import Any, cast

from django.forms import ModelChoiceField

from brewlog.forms.base import EntryForm, EventForm
from brewlog.forms.fields import (
    ChoiceField,
    DoneByField,
    LotField,
    NoteField,
    QuantityField,
    TextField,
    WhenField,
)
from brewlog.models import Hold, LotKind
from brewlog.when import now
from compliance.forms.fields import PickField, SignedForm
from compliance.models import Disposition, MarketDecision, Signature

_K = Disposition.Kind
_AMOUNT_FOR = {_K.REWORK, _K.STRONG_STARTER, _K.DESTROY}


def _hold_field() -> PickField:
    return PickField(
        Hold.objects.live().filter(lifted_at__isnull=True).select_related("lot"),
        label="Hold",
        gone="That hold is not open any more.",
    )


class DispositionForm(EventForm, SignedForm):
    """What becomes of one lot under one hold; only what the cause allows is asked."""

    meaning = Signature.Meaning.DISPOSITION.label
    hold = _hold_field()
    lot = LotField(label="Lot")
    kind = ChoiceField(label="What we do with it", choices=Disposition.Kind.choices)
    authority_asked = TextField(
        label="Authority asked, and what it said", required=False, max_length=200
    )
    why = NoteField(label="Why, on what evidence")
    quantity = QuantityField(
        label="How much of it", required=False, help_text="Not needed for a release."
    )
    witness = TextField(
        label="Witness", required=False, max_length=120, help_text="Needed where it is destroyed."
    )
    target = LotField(
        LotKind.BATCH,
        label="Batch it goes into",
        required=False,
        help_text="Needed where it is reworked or blended.",
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        hold = self.hold_named()
        if hold is not None:
            self._ask_only_what_the_cause_allows(hold)

    def hold_named(self) -> Hold | None:
        """The open hold this is about, as far as it is told by now."""
        key = str(self["hold"].value() or "")
        offered = cast(ModelChoiceField, self.fields["hold"]).queryset
        return offered.filter(pk=key).first() if offered is not None and key.isdecimal() else None

    def _ask_only_what_the_cause_allows(self, hold: Hold) -> None:
        allowed = Disposition.ALLOWED[Hold.Cause(hold.cause)]
        listed = [(kind.value, kind.label) for kind in allowed]
        if len(listed) > 1:
            listed.insert(0, ("", "—"))
        self.fields["kind"] = ChoiceField(label=self.fields["kind"].label, choices=listed)
        if _K.REWORK not in allowed:
            del self.fields["target"]
        if hold.cause == Hold.Cause.ALCOHOL:
            self.fields["authority_asked"].required = True
        else:
            del self.fields["authority_asked"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        kind = cleaned.get("kind")
        if kind in _AMOUNT_FOR and not cleaned.get("quantity") and "quantity" not in self.errors:
            self.add_error("quantity", "Write how much of it.")
        if kind == _K.DESTROY and not cleaned.get("witness"):
            self.add_error("witness", "Name someone who sees it destroyed.")
        if kind == _K.REWORK and not cleaned.get("target") and "target" not in self.errors:
            self.add_error("target", "Name the batch it goes into.")
        return cleaned


class MarketDecisionForm(EventForm, SignedForm):
    meaning = Signature.Meaning.WITHDRAWAL.label
    hold = _hold_field()
    kind = ChoiceField(
        label="What is done about what left", choices=[("", "—"), *MarketDecision.Kind.choices]
    )
    hazard = NoteField(label="What could happen to whom, and how likely it is")
    why = NoteField(label="Why this is decided")


class EndHoldForm(EntryForm):
    hold = _hold_field()
    lot = LotField(label="Lot it ends at")
    when = WhenField(label="When", initial=now)
    done_by = DoneByField(label="By", required=False)
    reason = NoteField(label="What was found, and why it may go on")
