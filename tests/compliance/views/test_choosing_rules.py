"""Choosing what binds the brewery: rule sets, house limits, what does not apply, the policy."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.urls import reverse

from brewlog.recording import recording
from compliance.domain.rulesets import in_force
from compliance.models import (
    Binding,
    Limit,
    Policy,
    RuleSet,
    Waiver,
)
from tests import factories
from tests.compliance import rules
from tests.compliance.rules import PASSWORD, address
from tests.factories import at

pytestmark = pytest.mark.django_db


# Rule sets ---------------------------------------------------------------------------------


def test_the_page_says_what_binds_since_when_on_whose_word(browse, inspector, guidance):
    page = browse(inspector).open(reverse("rules"))

    assert "Not legal advice" in page.text
    (row,) = [row for row in page.rows if row[0].startswith("Published kombucha guidance")]
    assert row[1:3] == ["published guidance", "1 Jan 2026"]
    assert "United States" in page.text


def test_one_rule_set_shows_how_surely_each_value_was_read(browse, inspector, guidance):
    page = browse(inspector).open("/rules/kombucha-guidance/2013/")

    assert "within 7 days of adding starter" in page.text
    assert "Nummer 2013 from memory, not confirmed" in page.text
    assert "Clears it" in page.text


def test_two_rule_sets_are_compared(browse, inspector, guidance):
    one, other = (RuleSet.objects.get(key=key).pk for key in ("us-federal-alcohol", "uk"))

    page = browse(inspector).open(reverse("rules-compare"), one=one, other=other)

    (row,) = [row for row in page.rows if row[0] == "Alcohol in the bottle"]
    assert row[1].startswith("< 0.5 % vol")
    assert row[2].startswith("≤ 0.5 % vol")


@pytest.mark.parametrize("where", ["/record/bind-rules/", "/rules/"])
def test_rule_sets_of_one_name_are_told_apart_by_whose_they_are(browse, manager, where):
    rules.read_in(manager)
    known = RuleSet.objects.get(key="ca-most-provinces")
    with recording(manager):
        RuleSet(
            key="elsewhere",
            jurisdiction="Elsewhere",
            title=known.title,
            edition=known.edition,
            status=known.status,
            source="invented",
            effective_from=known.effective_from,
        ).save()

    page = browse(manager).open(where).response.content.decode()

    assert ">Canada: Most provinces (2020)<" in page
    assert ">Elsewhere: Most provinces (2020)<" in page
    assert ">Switzerland (2022)<" in page
    assert ">Ontario, Canada (2020)<" in page


def test_switching_on_shows_first_what_it_would_hold(browse, operator, manager):
    rules.read_in(manager)
    lot = factories.bottles(operator, when=at(12))
    factories.reading(operator, lot, "4.60", when=at(14), stage="finished")
    ruleset = RuleSet.objects.get(key="kombucha-guidance")
    browser = browse(manager)

    page = browser.open(address("bind-rules"), ruleset=ruleset.pk, since="2026-01-01")
    assert "1 would be kept back at once:" in page.text
    assert lot.code in page.text
    page = browser.open(address("bind-rules"), ruleset=ruleset.pk, since="2026-04-01")
    assert "No lot would be kept back." in page.text
    assert not Binding.objects.exists()

    browser.send(address("bind-rules"), {"ruleset": ruleset.pk, "since": "2026-01-01"})
    assert Binding.objects.get().ruleset == ruleset
    page = browser.send(
        address("end-rules"),
        {"binding": Binding.objects.get().pk, "until": "2026-11-01", "reason": "moved away"},
    )
    assert Binding.objects.get().until is not None


def test_a_limit_is_declared_not_applicable_over_a_signature(browse, manager, guidance):
    limit = guidance.limits.get(key="steep")
    browser = browse(manager)

    page = browser.send(
        address("waive"),
        {
            "limit": limit.pk,
            "since": "2026-01-01",
            "reason": "we steep cold, the authority agreed",
            "password": PASSWORD,
        },
    )

    assert Waiver.objects.get().limit == limit
    assert "declared not applicable here" in page.text


class TestHouseLimits:
    FIELDS = {
        "title": "pH after three days",
        "kind": "by_deadline",
        "lot_kind": "batch",
        "measurand": "ph",
        "operator": "<=",
        "value": "4.0",
        "within_hours": "72",
        "since": "pitched",
        "consequence": "action",
        "cause": "acidification",
        "citation": "agreed in the house",
        "because": "ours are faster",
        "clears": "a look by the brewer",
    }

    def test_are_added_and_bind_from_today(self, browse, manager):
        browse(manager).send(address("house-limit"), self.FIELDS)

        limit = Limit.objects.get()
        assert (limit.key, limit.reading) == ("ph-after-three-days", "house")
        assert limit in in_force(Binding.objects.get().since)

    @pytest.mark.parametrize("missing", ["within_hours", "value", "since", "measurand"])
    def test_ask_for_what_their_kind_needs(self, browse, manager, missing):
        page = browse(manager).send(address("house-limit"), self.FIELDS | {missing: ""})

        assert "A limit of this kind needs this too." in page.text
        assert page.fields["title"] == "pH after three days"
        assert not Limit.objects.exists()

    def test_are_replaced_and_ended_from_their_page(self, browse, manager):
        browser = browse(manager)
        browser.send(address("house-limit"), self.FIELDS)
        (first,) = Limit.objects.all()
        house = reverse("ruleset-detail", args=["house", "1"])
        assert f"{address('replace-house-limit')}?limit={first.pk}" in (
            browser.open(house).links.values()
        )

        opened = browser.open(address("replace-house-limit"), limit=first.pk)
        assert "pH after three days" in opened.text
        assert opened.fields["limit"] == str(first.pk)
        page = browser.send(
            address("replace-house-limit"), opened.fields | {"value": "39", "reason": "a near miss"}
        )
        assert "A pH lies between 0 and 14" in page.text
        assert page.fields["reason"] == "a near miss"
        browser.send(address("replace-house-limit"), page.fields | {"value": "3.9"})

        second = Limit.objects.get(effective_until__isnull=True)
        assert second.comparison == "≤ 3.9 pH"
        ending = browser.open(address("end-house-limit"), limit=second.pk).fields
        browser.send(address("end-house-limit"), ending | {"reason": "enough"})
        page = browser.open(house)
        assert page.text.count("pH after three days ended") == 2
        assert address("end-house-limit") not in page.response.content.decode()

    def test_are_never_looser_than_a_law_that_binds(self, browse, manager):
        rules.bound(manager, "us-federal-alcohol")
        loose = self.FIELDS | {
            "kind": "peak",
            "measurand": "alcohol",
            "operator": "<=",
            "value": "0.5",
            "within_hours": "",
            "since": "",
        }

        page = browse(manager).send(address("house-limit"), loose)

        assert "which is stricter" in page.text
        assert not Limit.objects.filter(ruleset__key="house").exists()


def test_the_policy_is_opened_as_it_stands_and_kept_with_its_history(browse, manager):
    browser = browse(manager)
    form = browser.fill(
        address("policy"), release_needed_since="2026-12-01", reason="the buyers ask for it"
    )
    assert form["review_within_days"] == "7"

    browser.send(address("policy"), form)
    browser.send(
        address("policy"),
        browser.fill(address("policy"), review_within_days="5", reason="quicker"),
    )

    policy = Policy.objects.get()
    assert (str(policy.release_needed_since), policy.review_within_days) == ("2026-12-01", 5)
    assert policy.history.count() == 2


def test_what_another_manager_wrote_into_the_policy_meanwhile_is_told_and_kept(browse, manager):
    other = factories.person("manager")
    first, second = browse(manager), browse(other)
    first.send(address("policy"), first.fill(address("policy"), one_person="on", reason="alone"))
    shown = first.fill(address("policy"), review_within_days="5", reason="quicker")
    second.send(
        address("policy"),
        second.fill(
            address("policy"),
            review_within_days="6",
            release_needed_since="2026-12-01",
            reason="the buyers ask for it",
        ),
    )

    told = first.send(address("policy"), shown)

    assert "Manager wrote “6” here at " in told.text
    assert Policy.objects.get().review_within_days == 6
    assert (told.fields["review_within_days"], told.fields["reason"]) == ("5", "quicker")

    first.send(address("policy"), told.fields)

    policy = Policy.objects.get()
    assert (str(policy.release_needed_since), policy.review_within_days) == ("2026-12-01", 5)
    assert policy.one_person


def test_rule_sets_are_read_in_once_and_bind_nobody(capsys):
    call_command("load_rulesets")
    first = RuleSet.objects.count()
    call_command("load_rulesets")

    assert RuleSet.objects.count() == first > 10
    assert not Binding.objects.exists()
    assert capsys.readouterr().out.endswith("0 new rule sets.\n")
