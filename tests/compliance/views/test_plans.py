"""The pages of the hazard plan: begun, adapted, signed and read in the browser."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from brewlog.when import When
from compliance.domain import plans
from compliance.domain.plans import in_force, steps_of
from compliance.models import HazardPlan, PlanVersion
from tests import factories
from tests.compliance.domain import plans as make

pytestmark = pytest.mark.django_db


def entry(slug: str) -> str:
    return reverse("entry", args=[slug])


def version_page(version: PlanVersion) -> str:
    return reverse("plan-version", args=[version.pk])


def test_a_manager_begins_with_the_example_adapts_a_copy_and_signs_it(browse, manager):
    browser = browse(manager)
    page = browser.send(
        entry("plan"), browser.fill(entry("plan"), name="Our tea", from_example="on")
    )
    assert "nothing signed" in page.text
    example = PlanVersion.objects.get()

    form = browser.fill(f"{entry('copy-plan')}?version={example.pk}")
    page = browser.send(entry("copy-plan"), form)
    draft = PlanVersion.objects.get(number=2)
    assert "A draft" in page.text

    change = reverse("plan-texts-change", args=[draft.pk])
    assert "still reads as the example does" in page.text
    texts = make.TEXTS | {"team": "Ana brews, Rui reviews"}
    page = browser.send(change, browser.fill(change, **texts))
    assert "Ana brews, Rui reviews" in page.text

    sign = f"{entry('sign-plan')}?version={draft.pk}"
    form = browser.fill(
        sign, approved_by="county, 3 March", walked_through="on", password=make.PASSWORD
    )
    page = browser.send(sign, form)

    assert in_force(example.plan) == draft
    assert "in force" in page.text
    assert "Approved by: county, 3 March" in page.text


def test_a_wrong_password_comes_back_to_the_form_and_signs_nothing(browse, manager):
    draft = make.draft(manager)
    browser = browse(manager)
    sign = f"{entry('sign-plan')}?version={draft.pk}"

    form = browser.fill(sign, approved_by="county", walked_through="on", password="no")
    page = browser.send(sign, form)

    assert "That is not your password. Nothing was signed." in page.text
    assert in_force(draft.plan) is None


def test_a_step_is_changed_in_a_form_that_holds_what_stands(browse, manager):
    draft = make.draft(manager)
    step = steps_of(draft)[0]
    change = reverse("plan-step-change", args=[step.pk])
    browser = browse(manager)

    form = browser.fill(change, measure="a warmer room")
    assert form["monitoring"] == "pH meter, daily"
    assert form["limit"] == str(step.limit_id)
    page = browser.send(change, form)

    assert "a warmer room" in page.text
    changed = steps_of(draft)[0]
    assert (changed.measure, changed.monitoring, changed.limit_id) == (
        "a warmer room", step.monitoring, step.limit_id,
    )  # fmt: skip
    assert changed.is_significant


def test_a_version_is_written_with_its_steps_as_rows(browse, manager):
    plan = make.plan(manager)
    address = f"{entry('plan-version')}?plan={plan.name}"
    browser = browse(manager)
    texts = dict(make.TEXTS)
    row = {
        f"steps-0-{name}": value
        for name, value in vars(make.step()).items()
        if isinstance(value, str)
    }

    page = browser.send(address, browser.fill(address, **texts, **row))

    version = PlanVersion.objects.get()
    assert [str(each) for each in steps_of(version)] == ["1. souring: germs grow"]
    assert "Before it can be signed" in page.text


def test_the_page_of_a_signed_version_offers_no_change(browse, manager):
    version = make.signed(manager)
    step = steps_of(version)[0]

    page = browse(manager).open(version_page(version))

    assert {"Copy it"} == {"Copy it", "Add a step", "Change the texts"} & set(page.links)
    assert reverse("plan-step-change", args=[step.pk]) not in page.links.values()


def test_what_was_signed_and_is_different_now_shows(browse, manager):
    version = make.signed(manager)
    limit = steps_of(version)[0].limit
    plans.lots.correct(actor=manager, record=limit, reason="typing", citation="another source")

    page = browse(manager).open(version_page(version))

    assert "changed after signature" in page.text
    assert f"limit:{limit.pk} changed (citation)" in page.text


def test_an_inspector_reads_it_all_and_is_offered_nothing_to_write(browse, manager, inspector):
    version = make.draft(manager)
    browser = browse(inspector)

    page = browser.open(version_page(version))

    for words in ("Flow", "Hazards", "Control points", "Where the limits come from", "Training"):
        assert words in page.text
    assert not {"Copy it", "Sign it into force", "Add a step", "Change"} & set(page.links)
    assert browser.open(entry("plan-version")).status == 403


@pytest.mark.parametrize("who", ["operator", "reviewer"])
def test_only_a_manager_writes_and_signs(browse, manager, who, request):
    draft = make.draft(manager)
    browser = browse(request.getfixturevalue(who))

    for slug in ("plan", "plan-version", "plan-texts", "plan-step", "copy-plan", "sign-plan"):
        assert browser.open(entry(slug)).status == 403
        assert browser.send(entry(slug), {"version": draft.pk}).status == 403
    assert in_force(draft.plan) is None


def test_a_draft_says_what_is_missing_beside_the_heading(browse, manager):
    draft = make.draft(manager, steps=[make.step()], training="")

    page = browse(manager).open(version_page(draft))

    assert "Sign it into force" not in page.links
    assert "Training of the people missing Write the training." in page.text
    assert "Critical control points missing No step is a critical control point." in page.text


def test_the_limits_show_their_source_and_whether_they_bind(browse, manager):
    version = plans.read_starter_plan(actor=manager)

    page = browse(manager).open(version_page(version))

    (row,) = [row for row in page.rows if row[0] == "pH 4.2 within 7 days"]
    assert row[1:4] == ["≤ 4.2 pH", "Nummer 2013", "from memory, not confirmed"]
    assert row[5] == "does not bind here"
    assert "An example, approved by nobody" in page.text


def test_readings_of_the_period_stand_beside_the_control_point(browse, manager):
    version = make.signed(manager)
    bottles = factories.bottles(manager)
    for value in ("3.3", "4.6"):
        factories.reading(manager, bottles, value, When(timezone.now()), stage="finished")
    factories.reading(manager, bottles, "3.4", factories.now(days=-40), stage="finished")
    browser = browse(manager)

    def counted(days: int) -> list[str]:
        page = browser.open(version_page(version), days=days)
        # Of the page's tables the last with such a row.
        return [row for row in page.rows if row[0] == "1. finished"][-1][2:4]

    assert counted(30) == ["2", "1"]
    assert counted(365) == ["3", "1"]


def test_the_page_of_a_reading_names_the_control_point_it_serves(browse, manager):
    version = make.signed(manager)
    bottles = factories.bottles(manager)
    reading = factories.reading(manager, bottles, "3.3", When(timezone.now()), stage="finished")
    other = factories.reading(manager, bottles, "3.3", When(timezone.now()), stage="arrival")
    browser = browse(manager)

    page = browser.open(reverse("record-detail", args=["checkpoint", reading.pk]))
    assert "Control points it serves" in page.text
    assert page.links["1. finished"] == version_page(version)
    page = browser.open(reverse("record-detail", args=["checkpoint", other.pk]))
    assert "Control points it serves" not in page.text


def test_a_plan_due_says_why_and_a_reviewer_signs_that_it_was_looked_at(browse, manager, reviewer):
    plan = make.signed(manager).plan
    factories.recipe_version(manager, "Ginger base")
    browser = browse(reviewer)
    page = browser.open(reverse("plan-detail", args=[plan.pk]))
    assert "Recipe version Ginger base v1 was approved since" in page.text

    address = f"{entry('reanalysis')}?plan={plan.name}"
    form = browser.fill(address, because="ginger", found="it still fits", password=make.PASSWORD)
    page = browser.send(address, form)

    assert "it still fits" in page.text
    assert "was approved since" not in page.text


def test_an_operator_does_not_sign_that_it_was_looked_at(browse, manager, operator):
    make.signed(manager)

    assert browse(operator).open(entry("reanalysis")).status == 403


def test_the_list_takes_the_same_queries_for_one_plan_and_for_three(browse, manager):
    limit = make.ph_limit(manager)
    browser = browse(manager)
    counts = []
    for names in (["A"], ["B", "C"]):
        for name in names:
            make.signed(manager, make.plan(manager, name), limit)
        with CaptureQueriesContext(connection) as queries:
            assert len(browser.open("/plans/").rows) > len(names)
        counts.append(len(queries))

    assert counts == [14, 14]


def test_a_version_takes_the_same_queries_for_three_steps_and_for_nine(browse, manager):
    limit = make.ph_limit(manager)
    few = make.draft(manager, limit=limit)
    many = make.draft(manager, few.plan, steps=make.whole_steps(manager, limit) * 3)
    browser = browse(manager)
    counts = []
    for version in (few, many):
        with CaptureQueriesContext(connection) as queries:
            browser.open(version_page(version))
        counts.append(len(queries))

    assert counts == [19, 19]


def test_the_way_in_tells_what_is_due(browse, manager):
    factories.instrument(manager, "Meter 9", calibrate_every_days=7)
    make.draft(manager)

    page = browse(manager).open("/plan/")

    assert "Live-culture tea nothing signed" in page.text
    assert "Meter 9 never calibrated" in page.text


def test_a_plan_is_renamed_by_a_manager_and_its_signed_versions_are_never_struck_out(
    browse, manager, operator
):
    version = make.signed(manager)
    plan = ["hazardplan", version.plan_id]

    assert browse(operator).open(reverse("record-correct", args=plan)).status == 403
    address = reverse("record-correct", args=plan)
    browser = browse(manager)
    browser.send(address, browser.fill(address, name="House tea", reason="clearer"))
    assert HazardPlan.objects.get().name == "House tea"
    for kind, pk in (("planversion", version.pk), ("planstep", steps_of(version)[0].pk)):
        assert browser.open(reverse("record-void", args=[kind, pk])).status == 404
