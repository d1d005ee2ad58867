"""A new brewery: the first manager by the server's code, and the list that leads on."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from brewlog import setup_code
from brewlog.models import User
from tests import factories as make
from tests.views.conftest import read

pytestmark = pytest.mark.django_db

HOME = reverse("home")
FIRST = reverse("first-manager")
INES = {
    "name": "Inês Prado Vale",
    "username": "ines",
    "password": "salt & tea 9",
    "again": "salt & tea 9",
}


@pytest.fixture
def code():
    yield setup_code.new_code()
    setup_code.use_up()


class TestTheFirstManager:
    def test_is_made_by_the_code_and_logged_in(self, strict_templates, code):
        client = Client()
        log_in = read(client.get(reverse("login")))

        made = client.post(log_in.links["Make the first manager"], INES | {"code": code.lower()})

        assert made.headers["Location"] == HOME
        assert (User.objects.get().role, User.objects.get().username) == ("manager", "ines")
        assert "To set up, in this order" in client.get(HOME).text

    def test_is_made_once(self, strict_templates, code):
        Client().post(FIRST, INES | {"code": code})
        setup_code.new_code()

        assert Client().get(FIRST).status_code == 404
        assert "first manager" not in Client().get(reverse("login")).text

    def test_is_not_made_where_the_server_printed_no_code(self, db):
        assert Client().get(FIRST).status_code == 404
        assert Client().post(FIRST, INES | {"code": ""}).status_code == 404
        assert not User.objects.exists()

    def test_is_not_made_by_guessing(self, strict_templates, code):
        for _ in range(10):
            page = read(Client().post(FIRST, INES | {"code": "AAAA-BBBB-CCCC"}))
            assert "That is not the code this server printed." in page.text
        assert page.fields["username"] == "ines"
        assert "Stop the server and start it again" in page.text

        assert Client().post(FIRST, INES | {"code": code}).status_code == 404
        assert not User.objects.exists()

    def test_is_told_what_is_missing_in_the_words_of_every_form(self, strict_templates, code):
        page = read(Client().post(FIRST, {"code": code}))

        assert "Your name: This is required: fill it in." in page.text
        assert "This field" not in page.text

    def test_keeps_to_the_rules_for_passwords(self, strict_templates, code):
        weak = {"password": "password1", "again": "password1"}

        page = read(Client().post(FIRST, INES | weak | {"code": code}))

        assert "too common" in page.text
        assert not User.objects.exists()


class TestTheList:
    @pytest.fixture
    def browser(self, strict_templates, manager):
        client = Client()
        client.force_login(manager)
        return client

    def steps(self, browser) -> dict[str, str]:
        """Each step's word by its title."""
        context = browser.get(HOME).context
        return {
            each.step.slug: "done" if each.is_done else "next" if each.is_next else "to do"
            for each in context["steps"]
        }

    def test_begins_with_the_brewery_and_the_rules(self, browser):
        page = read(browser.get(HOME))

        assert "A new brewery" in page.text
        assert list(self.steps(browser))[:4] == ["brewery", "bind-rules", "person", "vessel"]
        assert self.steps(browser)["brewery"] == "next"
        assert page.links["Choose the rules that bind you"] == reverse("rules")

    def test_says_what_is_done_and_goes_on_after_it(self, browser, brewery, manager):
        make.person("operator")
        make.vessel(manager)

        steps = self.steps(browser)

        # The rules were passed over: they are still to do, and do not ask first again.
        assert (steps["brewery"], steps["bind-rules"]) == ("done", "to do")
        assert (steps["vessel"], steps["instrument"]) == ("done", "next")

    def test_goes_on_from_each_form(self, browse, brewery, manager):
        browser = browse(manager)
        address = reverse("entry", args=["vessel"])

        page = browser.send(address, browser.fill(address, name="Jar 1", material="glass"))

        assert page.links["add an instrument"] == reverse("entry", args=["instrument"])

    def test_offers_another_of_what_one_has_several_of(self, browse, brewery, manager):
        browser = browse(manager)
        address = reverse("entry", args=["vessel"])

        page = browser.send(address, browser.fill(address, name="Jar 1", material="glass"))

        assert page.links["Add another"] == address

    def test_leads_from_a_named_recipe_to_its_contents_and_their_approval(
        self, browse, brewery, manager
    ):
        browser = browse(manager)
        contents = "write what goes into each litre, and approve it"
        address = reverse("entry", args=["recipe"])

        named = browser.send(address, browser.fill(address, name="Base"))
        make.recipe_version(manager, "Black tea base", approved=False)
        written = browser.send(address, browser.fill(address, name="Green base"))

        assert named.links[contents] == f"{reverse('entry', args=['recipe-version'])}?recipe=Base"
        assert written.links[contents].startswith(reverse("entry", args=["approve"]))

    def test_is_gone_once_there_is_a_lot(self, browser, brewery, manager):
        make.ingredient_lot(manager)

        assert browser.get(HOME).context["steps"] == []
        assert "To set up" not in browser.get(HOME).text

    def test_the_rule_sets_there_are_are_read_in_by_a_button(self, browse, brewery, manager):
        browser = browse(manager)
        rules = browser.open(reverse("rules"))
        address = rules.links["Read in the rule sets there are"]

        browser.send(address, browser.fill(address))
        again = browser.send(address, browser.fill(address))

        assert "Read in the rule sets there are" not in browser.open(reverse("rules")).links
        assert "All of them are read in already." in again.text
