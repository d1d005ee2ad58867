"""Forms of a recall question, its signed answer, and what customers say."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from brewlog.forms.base import EventForm
from brewlog.forms.fields import (
    ChoiceField,
    LotField,
    NamedField,
    NoteField,
    TextField,
    WhenField,
    WholeField,
    YesNoField,
)
from brewlog.models import Customer
from compliance.forms.fields import PickField, SignedForm
from compliance.models import RecallResponse, RecallRun, Signature


class StartRecallForm(EventForm):
    kind = ChoiceField(
        label="Drill, or the real thing", choices=[("", "—"), *RecallRun.Kind.choices]
    )
    lot = LotField(label="Lot in question")
    question = NoteField(
        label="What is asked, and why", help_text="Like: mould in this starter, who has it?"
    )
    since = WhenField(
        label="Suspect only since",
        required=False,
        help_text="Its last good check. Left empty: from the first.",
    )
    level = ChoiceField(
        label="Customers to be checked on", choices=RecallRun.Level.choices, initial="A"
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["when"].label = "Asked"


class SignRecallForm(SignedForm):
    meaning = Signature.Meaning.RECALL.label
    run = PickField(
        RecallRun.objects.live().filter(signature__isnull=True).select_related("lot"),
        label="Recall question",
        gone="That question is answered and signed already.",
    )
    counted = WholeField(
        label="Bottles counted in store",
        required=False,
        least=0,
        help_text="Of all the lots it reaches. Left empty, what the books say is taken.",
    )
    learnt = NoteField(
        label="What was learnt", help_text="What took long, what was missing, what is changed."
    )


def _in_earnest() -> QuerySet[RecallRun]:
    rows = RecallRun.objects.live().exclude(kind=RecallRun.Kind.DRILL)
    return rows.filter(signature__isnull=False).select_related("lot")


class _EndForm(SignedForm, EventForm):
    """What is asked and signed about the end of a recall, whichever way it goes."""

    meaning = Signature.Meaning.CLOSING.label
    run = PickField(_in_earnest(), label="Recall", gone="There is no such recall to act on.")


class ReopenRecallForm(_EndForm):
    why = NoteField(label="Why it is opened again")


class CloseRecallForm(_EndForm):
    why = NoteField(
        label="Why no more can be done",
        help_text="Who was reached and who was not, and who agreed that it ends: the authority, "
        "where one takes part.",
    )
    bottles = NoteField(
        label="What became of the bottles",
        help_text="Destroyed, how and before whom; made good; still out.",
    )


class ResponseForm(EventForm):
    run = PickField(
        RecallRun.objects.live().select_related("lot"),
        label="Recall question",
        gone="There is no such question.",
    )
    customer = NamedField(Customer, label="Customer")
    how = ChoiceField(label="Reached by", choices=[("", "—"), *RecallResponse.How.choices])
    is_reached = YesNoField(label="They know of it", initial=True)
    spoke_with = TextField(label="Who answered", required=False, max_length=120)
    found = WholeField(
        label="Bottles they still had",
        required=False,
        least=0,
        help_text="When they heard of it. Left empty while they have not said; 0 for none.",
    )
    destroyed = WholeField(label="Of these destroyed", required=False, least=0, initial=0)
    returned = WholeField(
        label="Of these sent back",
        required=False,
        least=0,
        initial=0,
        help_text="What arrives here is taken back into stock besides.",
    )
    sold_on = WholeField(label="Sold on or used up", required=False, least=0, initial=0)
    told_on = TextField(
        label="Whom they told in turn",
        required=False,
        max_length=200,
        help_text="Other businesses they sold it to.",
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        for name in ("destroyed", "returned", "sold_on"):
            cleaned[name] = cleaned.get(name) or 0
        return cleaned
