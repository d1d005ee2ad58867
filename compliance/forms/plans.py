"""Forms of the hazard plan: begun, written, changed while a draft, signed, looked at again."""

from __future__ import annotations

from django.db.models import Q

from brewlog.forms.base import EntryForm, EventForm
from brewlog.forms.fields import (
    ChoiceField,
    NamedField,
    NoteField,
    TextField,
    WholeField,
    YesNoField,
)
from compliance.forms.fields import PickField, SignedForm
from compliance.models import HazardPlan, Limit, PlanStep, PlanVersion, Signature

_DRAFT = Q(signature__isnull=True, is_example=False, voided_at__isnull=True)
_DRAFTS = PlanVersion.objects.filter(_DRAFT).select_related("plan").order_by("-id")
_STEPS = (
    PlanStep.objects.live()
    .filter(version__in=PlanVersion.objects.filter(_DRAFT))
    .select_related("version__plan")
)
_NO_DRAFT = "That version is no draft. What is signed, and the example, are copied, not changed."


def limit_words(limit: Limit) -> str:
    """A limit as it is picked: whose, what, how much."""
    return f"{limit.ruleset.in_full}: {limit.title} {limit.comparison}".strip()


def step_words(step: PlanStep) -> str:
    return f"{step.version}, {step}"[:120]


class PlanForm(EntryForm):
    name = TextField(
        label="Name", max_length=120, help_text="One plan for each kind of product, not flavour."
    )
    from_example = YesNoField(
        label="Begin with the example for live-culture tea",
        help_text="To copy and adapt. It is nobody's approved plan.",
    )
    note = NoteField(label="Note", required=False)


class TextsForm(EntryForm):
    product = NoteField(
        label="The product and its recipe",
        help_text="What it is made of and how, packed in what, kept how; kinds of food that need "
        "time and temperature control.",
    )
    intended_use = NoteField(label="Intended use, and who drinks it")
    team = NoteField(label="Team and scope")
    training = NoteField(label="Training", required=False)
    validation = NoteField(
        label="What shows that the plan works",
        required=False,
        help_text="The articles, studies and batches the limits lean on.",
    )
    verification = NoteField(label="How it is verified", required=False)


class StepForm(EntryForm):
    step = TextField(label="Step of the flow", max_length=80)
    hazard_kind = ChoiceField(label="Kind of hazard", choices=PlanStep.Hazard.choices)
    hazard = NoteField(label="What can go wrong")
    control = ChoiceField(label="Controlled as", choices=PlanStep.Control.choices)
    is_significant = YesNoField(label="It is significant", initial=True)
    justification = NoteField(label="Why, or why not")
    measure = NoteField(label="How it is kept from happening")
    limit = PickField(
        Limit.objects.live().select_related("ruleset"),
        words=limit_words,
        label="Limit",
        required=False,
        gone="There is no such limit.",
    )
    monitoring = NoteField(label="What is looked at, how, how often, by whom")
    correction = NoteField(label="What is done when it is not met")
    verification = NoteField(label="How it is verified")
    records = NoteField(label="Records")


class PlanVersionForm(TextsForm):
    plan = NamedField(HazardPlan, label="Plan")

    field_order = ["plan"]


class PlanTextsForm(TextsForm):
    version = PickField(_DRAFTS, label="Draft", gone=_NO_DRAFT)

    field_order = ["version"]


class AddStepForm(StepForm):
    version = PickField(_DRAFTS, label="Draft", gone=_NO_DRAFT)
    order = WholeField(
        label="Place in the flow",
        required=False,
        least=1,
        most=999,
        help_text="Left empty, last. Steps of one place stand in the order they were written.",
    )

    field_order = ["version", "order"]


class ChangeStepForm(StepForm):
    plan_step = PickField(_STEPS, words=step_words, label="Step to change", gone=_NO_DRAFT)
    order = WholeField(label="Place in the flow", required=False, least=1, most=999)

    field_order = ["plan_step", "order"]


class DropStepForm(EntryForm):
    plan_step = PickField(_STEPS, words=step_words, label="Step", gone=_NO_DRAFT)
    reason = NoteField(label="Why it is struck out")


class CopyPlanForm(EntryForm):
    version = PickField(
        PlanVersion.objects.live().select_related("plan").order_by("-id"),
        label="Version to copy",
        gone="There is no such version.",
    )
    name = TextField(
        label="As a plan of its own, called",
        required=False,
        max_length=120,
        help_text="Left empty, the copy is the next version of the same plan.",
    )
    reason = TextField(label="What for", required=False)


class SignPlanForm(SignedForm):
    meaning = Signature.Meaning.PLAN.label
    version = PickField(_DRAFTS, label="Version", gone=_NO_DRAFT)
    walked_through = YesNoField(
        label="The flow was walked through on site, step by step, and is as written"
    )
    approved_by = TextField(
        label="Approved by, besides you",
        max_length=150,
        help_text="The process authority, the health authority, or the article it follows; "
        "with the date.",
    )


class ReanalysisForm(EventForm, SignedForm):
    meaning = Signature.Meaning.REVIEW.label
    plan = NamedField(HazardPlan, label="Plan")
    because = NoteField(label="Why it was looked at again")
    found = NoteField(
        label="What was looked at, and what was found",
        help_text="Where it has to change, copy the version, change the copy and sign it.",
    )
