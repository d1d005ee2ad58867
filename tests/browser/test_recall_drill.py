"""A recall drill: from the question to the signed answer, and who may do what in it."""

from __future__ import annotations

import pytest

from compliance.models import RecallResponse, RecallRun
from tests import factories as make
from tests.browser.roles import is_refused, ways_to_write
from tests.browser.screen import ON_BOTH_SCREENS, Screen

pytestmark = pytest.mark.browser


@pytest.fixture
def starter(manager):
    """A starter in a hundred bottles, forty of them at the Corner Larder."""
    found = make.culture(manager, "10 L")
    batch = make.batch(manager, "60 L", starter=found, starter_amount="6 L")
    bottles = make.bottles(manager, 100, batch, "33 L", code="L26079A")
    larder = make.customer(manager, "Corner Larder", contact="Ines", phone="555-0107")
    make.shipment(manager, bottles, "40", larder)
    return found


@ON_BOTH_SCREENS
def test_a_drill_goes_from_the_question_to_the_signed_answer(
    screens, operator, reviewer, inspector, starter, size
):
    floor: Screen = screens(operator, size=size)
    floor.lot(starter.code)
    floor.follow("Who has it")
    assert "555-0107" in floor.text
    floor.follow("Start a drill, or the real thing")
    floor.write_all({"Drill, or the real thing": "drill", "What is asked, and why": "mould: who?"})
    floor.press("Start the clock")
    assert "DRILL Nothing is being recalled." in floor.text
    floor.follow("answer")
    assert floor.value("Customer") == "Corner Larder"
    floor.write_all({"Reached by": "telephone", "Bottles they still had": "22"})
    floor.press("Record")
    assert "Reached 1 of 1 (100%)" in floor.text
    assert "Sign who has it" not in ways_to_write(floor)
    run = RecallRun.objects.get()
    sign = f"/record/sign-recall/?run={run.pk}"
    assert floor.open(sign) == 403
    assert is_refused(floor, sign, run=str(run.pk), learnt="all well", password="living culture 7")

    office: Screen = screens(reviewer, size=size)
    office.open(f"/recalls/{run.pk}/")
    office.follow("Sign who has it")
    office.write_all({"Bottles counted in store": "59", "What was learnt": "One number was old."})
    office.write("Your password, to sign", "living culture 8")
    office.press("Sign, and stop the clock")
    assert office.errors == [
        "Your password, to sign: That is not your password. Nothing was signed."
    ]
    assert office.value("What was learnt") == "One number was old."
    office.write("Your password, to sign", "living culture 7")
    office.press("Sign, and stop the clock")

    assert "Accounted for 99.0%" in office.text
    assert RecallRun.objects.get().signature.printed_name == reviewer.get_full_name()
    visitor: Screen = screens(inspector, size=size)
    visitor.open(f"/recalls/{run.pk}/")
    assert "One number was old." in visitor.text
    assert ways_to_write(visitor) == []
    answer = {"run": str(run.pk), "customer": "Corner Larder", "how": "phone", "found": "0"}
    assert is_refused(visitor, "/record/recall-response/", **answer)
    assert RecallResponse.objects.count() == 1
