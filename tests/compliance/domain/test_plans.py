"""Hazard plans: written, copied, signed into force; the example."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command

from brewlog.domain.lots import correct
from brewlog.recording import Refused
from compliance.domain import plans
from compliance.domain.plan_contents import missing
from compliance.domain.signing import changes_since, is_intact
from compliance.models import HazardPlan, Limit, PlanStep, PlanVersion
from tests import factories
from tests.compliance.domain import plans as make

pytestmark = pytest.mark.django_db


class TestWriting:
    def test_a_version_keeps_its_steps_in_order_and_their_limits(self, manager):
        limit = make.ph_limit(manager)

        version = make.draft(manager, limit=limit)

        assert str(version) == "Live-culture tea v1"
        assert [str(each) for each in plans.steps_of(version)] == [
            "1. finished: germs grow",
            "2. bottling: germs grow",
            "3. vessel: germs grow",
        ]
        assert plans.steps_of(version)[0].limit == limit

    def test_versions_are_numbered_on(self, manager):
        plan = make.plan(manager)
        make.draft(manager, plan)

        assert make.draft(manager, plan).number == 2

    def test_a_version_without_a_step_is_refused(self, manager):
        with pytest.raises(Refused, match="at least one step"):
            plans.write_version(actor=manager, plan=make.plan(manager), steps=[], **make.TEXTS)

        assert not PlanVersion.objects.exists()

    def test_two_plans_of_one_name_are_refused(self, manager):
        make.plan(manager, "Ginger")

        with pytest.raises(ValidationError, match="That name is taken"):
            make.plan(manager, "ginger")

    def test_a_step_of_a_draft_is_added_changed_and_struck_out(self, manager):
        version = make.draft(manager)
        fields = vars(make.step("cold store", measure="a cooler"))
        added = plans.add_step(actor=manager, version=version, **fields)
        plans.change_step(actor=manager, plan_step=added, **fields | {"measure": "a new cooler"})
        first = plans.steps_of(version)[0]
        plans.drop_step(actor=manager, plan_step=first, reason="not done here")

        assert [each.step for each in plans.steps_of(version)] == [
            "bottling", "vessel", "cold store",
        ]  # fmt: skip
        assert plans.steps_of(version)[-1].measure == "a new cooler"
        assert PlanStep.objects.get(pk=first.pk).void_reason == "not done here"

    def test_a_copy_is_a_draft_with_the_same_words(self, manager):
        version = make.signed(manager)

        copy = plans.copy_version(actor=manager, version=version)

        assert (copy.number, copy.signature, copy.product) == (2, None, version.product)
        said = [name for name in vars(make.step()) if name != "order"]
        assert [[getattr(each, name) for name in said] for each in plans.steps_of(copy)] == [
            [getattr(each, name) for name in said] for each in plans.steps_of(version)
        ]
        assert plans.in_force(version.plan) == version

    def test_a_copy_can_begin_a_plan_of_its_own(self, manager):
        version = make.draft(manager)

        copy = plans.copy_version(actor=manager, version=version, name="Ginger beer")

        assert (str(copy), copy.plan == version.plan) == ("Ginger beer v1", False)


class TestSigning:
    def test_a_signed_version_is_in_force_and_says_who_approved_it(self, manager):
        version = make.signed(manager)

        assert plans.in_force(version.plan) == version
        assert version.signature.statement == (
            "Flow walked through on site. Approved by: county health office"
        )
        assert is_intact(version.signature)
        assert changes_since(
            version.signature, plans.contents_of(version, plans.steps_of(version))
        ) == []  # fmt: skip

    def test_it_stays_as_it_is_afterwards(self, manager):
        version = make.signed(manager)
        step = plans.steps_of(version)[0]
        fields = vars(make.step())

        for attempt in (
            lambda: plans.change_version(actor=manager, version=version, product="soda"),
            lambda: plans.add_step(actor=manager, version=version, **fields),
            lambda: plans.change_step(actor=manager, plan_step=step, **fields),
            lambda: plans.drop_step(actor=manager, plan_step=step, reason="gone"),
            lambda: make.sign(manager, version),
        ):
            with pytest.raises(Refused, match="is signed"):
                attempt()

        assert [each.step for each in plans.steps_of(version)] == ["finished", "bottling", "vessel"]

    def test_the_version_before_stays_readable_and_the_new_one_is_in_force(self, manager):
        first = make.signed(manager)
        second = make.sign(manager, plans.copy_version(actor=manager, version=first))

        assert plans.in_force(first.plan) == second
        assert plans.steps_of(PlanVersion.objects.get(pk=first.pk))[0].step == "finished"

    def test_a_wrong_password_signs_nothing(self, manager):
        version = make.draft(manager)

        with pytest.raises(Refused, match="not your password"):
            make.sign(manager, version, password="wrong")

        assert plans.in_force(version.plan) is None
        assert PlanVersion.objects.get(pk=version.pk).signature is None

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"walked_through": False}, "Walk the flow through"),
            ({"approved_by": " "}, "who approved it"),
            ({"approved_by": "x" * 160}, "in a line"),
        ],
    )
    def test_it_is_signed_only_with_a_walk_through_and_an_approval(self, manager, changes, words):
        with pytest.raises(Refused, match=words):
            make.sign(manager, make.draft(manager), **changes)

    def test_what_is_missing_is_listed_and_keeps_it_from_being_signed(self, manager):
        version = make.draft(
            manager, steps=[make.step(control="critical")], training="", validation=" "
        )

        lacking = missing(version, plans.steps_of(version))

        assert lacking == [
            "Nothing is written about chemical or physical hazards, not even why there are none.",
            "Choose the critical limit of step 1.",
            "Write what shows that the plan works.",
            "Write the training.",
        ]
        with pytest.raises(Refused, match=r"cannot be signed yet\. Nothing is written"):
            make.sign(manager, version)

    def test_a_plan_without_a_critical_control_point_is_not_signed(self, manager):
        with pytest.raises(Refused, match="No step is a critical control point"):
            make.sign(manager, make.draft(manager, steps=[make.step()]))

    def test_a_plan_out_of_use_has_nothing_in_force(self, manager):
        version = make.signed(manager)
        correct(actor=manager, record=version.plan, reason="no longer made", in_use=False)

        assert plans.all_in_force() == []


class TestTheExample:
    def test_it_is_marked_and_cannot_be_signed_or_changed(self, manager):
        version = plans.read_starter_plan(actor=manager)

        assert version.is_example
        with pytest.raises(Refused, match="is the example"):
            make.sign(manager, version)
        with pytest.raises(Refused, match="is the example"):
            plans.change_version(actor=manager, version=version, product="ours")

    def test_a_copy_of_it_is_signed_only_with_texts_of_ones_own(self, manager):
        copy = plans.copy_version(actor=manager, version=plans.read_starter_plan(actor=manager))
        assert not copy.is_example
        with pytest.raises(Refused, match="still reads as the example does"):
            make.sign(manager, copy)

        plans.change_version(actor=manager, version=copy, **make.TEXTS)

        assert make.sign(manager, copy).signature is not None

    def test_its_critical_limits_are_those_of_the_published_guidance(self, manager):
        version = plans.read_starter_plan(actor=manager)

        critical = [each for each in plans.steps_of(version) if each.control == "critical"]

        # Nummer 2013: pH 4.2 within 7 days (from memory), 2.5 to 4.2 as sold (read in Niagara
        # Region's page after it).
        limits = [each.limit for each in critical]
        assert [
            (limit.ruleset.key, limit.comparison, limit.within_hours, limit.reading)
            for limit in limits
        ] == [
            ("kombucha-guidance", "≤ 4.2 pH", 168, "memory"),
            ("kombucha-guidance", "≤ 4.2 pH", None, "confirmed"),
            ("kombucha-guidance", "≥ 2.5 pH", None, "confirmed"),
        ]  # fmt: skip

    def test_every_limit_it_refers_to_is_there_and_every_step_is_whole(self, manager):
        data = json.loads(plans.STARTER_PLAN.read_text("utf-8"))

        version = plans.read_starter_plan(actor=manager)

        named = [row["limit"] for row in data["steps"] if "limit" in row]
        assert [
            {"ruleset": each.limit.ruleset.key, "key": each.limit.key}
            for each in plans.steps_of(version)
            if each.limit
        ] == named
        own = plans.copy_version(actor=manager, version=version)
        plans.change_version(actor=manager, version=own, **make.TEXTS)
        assert missing(own, plans.steps_of(own)) == []
        assert all(text.startswith("EXAMPLE") for text in data["texts"].values())

    def test_reading_it_in_again_changes_nothing(self, manager):
        plans.read_starter_plan(actor=manager)
        limits = Limit.objects.count()

        assert plans.read_starter_plan(actor=manager) is None
        assert (HazardPlan.objects.count(), Limit.objects.count()) == (1, limits)

    def test_a_plan_can_begin_with_it_under_a_name_of_ones_own(self, manager):
        plan = plans.begin_plan(actor=manager, name="Our tea", from_example=True)

        assert [each.is_example for each in plan.versions.all()] == [True]

    def test_a_file_that_names_an_unknown_limit_is_refused_whole(self, manager, tmp_path):
        data = json.loads(plans.STARTER_PLAN.read_text("utf-8"))
        data["steps"][-1]["limit"]["key"] = "no-such"
        file = tmp_path / "plan.json"
        file.write_text(json.dumps(data), "utf-8")

        with pytest.raises(Refused, match="has no limit 'no-such'"):
            plans.read_starter_plan(actor=manager, file=file)

        assert not HazardPlan.objects.exists()


class TestTheCommand:
    def test_it_reads_the_example_in_once(self, manager):
        for words in ("Read in: Live-culture tea (example) v1.", "It is there already."):
            out = StringIO()
            call_command("load_plan", stdout=out)
            assert out.getvalue().strip() == words

    def test_it_asks_which_manager(self, manager):
        other = factories.person("manager")

        with pytest.raises(CommandError, match="with --as"):
            call_command("load_plan")
        call_command("load_plan", username=other.username, stdout=StringIO())

        assert PlanVersion.objects.get().recorded_by == other

    def test_nobody_else_reads_it_in(self, manager, operator):
        with pytest.raises(CommandError, match="Say which manager"):
            call_command("load_plan", username=operator.username)
