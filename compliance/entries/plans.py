"""Entries of the hazard plan: the manager writes and signs it."""

from __future__ import annotations

from brewlog.entries.base import MANAGE, REVIEW, Entry, Lines
from compliance.domain import plans
from compliance.forms import plans as forms

_APPROVED = (
    "A plan is approved by a process authority or whoever your authority accepts. Signing here "
    "does not replace that."
)

ENTRIES = (
    Entry(
        slug="plan",
        title="Begin a hazard plan",
        form=forms.PlanForm,
        verb=plans.begin_plan,
        permission=MANAGE,
        button="Begin it",
    ),
    Entry(
        slug="plan-version",
        title="Write a version of a hazard plan",
        form=forms.PlanVersionForm,
        verb=plans.write_version,
        permission=MANAGE,
        lines=(
            Lines(
                name="steps",
                title="Steps of the flow, one row for each hazard",
                form=forms.StepForm,
                build=plans.Step,
                least=1,
                blank_rows=2,
            ),
        ),
        about="plan",
        button="Keep it as a draft",
    ),
    Entry(
        slug="plan-texts",
        title="Change the texts of a draft",
        form=forms.PlanTextsForm,
        verb=plans.change_version,
        permission=MANAGE,
        about="version",
        button="Keep it",
    ),
    Entry(
        slug="plan-step",
        title="Add a step to a draft",
        form=forms.AddStepForm,
        verb=plans.add_step,
        permission=MANAGE,
        about="version",
        button="Add it",
    ),
    Entry(
        slug="plan-step-change",
        title="Change a step of a draft",
        form=forms.ChangeStepForm,
        verb=plans.change_step,
        permission=MANAGE,
        about="plan_step",
        button="Keep it",
    ),
    Entry(
        slug="plan-step-drop",
        title="Strike a step out of a draft",
        form=forms.DropStepForm,
        verb=plans.drop_step,
        permission=MANAGE,
        about="plan_step",
        button="Strike it out",
    ),
    Entry(
        slug="copy-plan",
        title="Copy a version to change it",
        form=forms.CopyPlanForm,
        verb=plans.copy_version,
        permission=MANAGE,
        about="version",
        button="Copy it",
    ),
    Entry(
        slug="sign-plan",
        title="Sign a hazard plan into force",
        form=forms.SignPlanForm,
        verb=plans.sign_plan,
        permission=MANAGE,
        about="version",
        button="Sign it into force",
        caution=_APPROVED,
    ),
    Entry(
        slug="reanalysis",
        title="Look at the hazard plan again",
        form=forms.ReanalysisForm,
        verb=plans.note_reanalysis,
        permission=REVIEW,
        about="plan",
        button="Sign it",
    ),
)
