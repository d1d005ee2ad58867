from __future__ import annotations

import json

import pytest

from brewlog.recording import recording
from compliance.documents.plan_packet import collect_plan
from compliance.documents.plan_paper import MOST_BOXES, plan_paper
from compliance.domain import plans
from tests.compliance.documents.papers import ink_in_margins, pages_of, words_of
from tests.compliance.documents.story import PRINTED_AT
from tests.compliance.domain import plans as planned


@pytest.fixture
def draft(brewery, manager):
    return planned.draft(manager)


def packet_of(version):
    return collect_plan(version, printed_by="a command", printed_at=PRINTED_AT)


def test_the_paper_says_what_the_version_says(draft):
    packet = packet_of(draft)
    words = words_of(plan_paper(packet))
    for pair in packet.texts:
        assert pair.value in words
    for step in plans.steps_of(draft):
        for said in (step.hazard, step.measure, step.monitoring, step.correction, step.records):
            assert said in words
    assert "State: draft, not signed" in words


def test_the_flow_shows_each_step_once_with_its_control_points(draft):
    packet = packet_of(draft)
    assert packet.flow == tuple(dict.fromkeys(step.step for step in plans.steps_of(draft)))
    [critical] = [row for row in packet.controls if row.number == "CCP 1"]
    pdf = plan_paper(packet)
    assert f"finished CCP 1: {critical.limit.title} ≤ 4.2 pH" in words_of(pdf)


def test_each_control_point_has_a_form_for_values(draft):
    packet = packet_of(draft)
    forms = [words for words in pages_of(plan_paper(packet)) if "Form for" in words]
    assert len(forms) == len(packet.controls) > 0
    assert "Write the value as read, not OK." in forms[0]
    assert "Form for CCP 1: finished Limit:" in forms[0]


def test_each_limit_stands_once_with_its_source(draft):
    words = words_of(plan_paper(packet_of(draft)))
    [limit] = {row.limit for row in packet_of(draft).rows if row.limit}
    assert f"{limit.citation} {limit.reading}" in words


def test_a_signed_plan_says_by_whom_and_what_was_changed_since(draft, manager):
    signed = planned.sign(manager, draft)
    packet = packet_of(signed)
    assert packet.head.state == "in force"
    assert packet.signed.startswith("Manager, ")
    with recording(manager, "by hand"):
        signed.reread()
        signed.training = "none"
        signed.save()
    packet = packet_of(signed)
    assert packet.head.state == "in force; CHANGED AFTER SIGNATURE"
    assert "Differs from what was signed" in words_of(plan_paper(packet))


def test_the_example_says_that_nobody_approved_it(brewery, manager):
    plan = plans.begin_plan(actor=manager, name="Tea", from_example=True)
    packet = packet_of(plan.versions.get())
    pdf = plan_paper(packet, "letter")
    words = words_of(pdf)
    assert "An example, approved by nobody." in words
    assert len(packet.flow) > 5
    for step in packet.flow:
        assert step in words
    assert ink_in_margins(pdf, 4) == 0
    assert pdf == plan_paper(packet_of(plan.versions.get()), "letter")
    assert json.loads(packet.to_json())["name"] == "Tea"


def test_a_long_flow_goes_on_over_the_page(brewery, manager):
    plan = plans.begin_plan(actor=manager, name="Long")
    steps = [planned.step(f"step number {number}") for number in range(MOST_BOXES + 3)]
    version = plans.write_version(actor=manager, plan=plan, steps=steps, **planned.TEXTS)
    words = words_of(plan_paper(packet_of(version)))
    assert "Flow, continued" in words
    assert "step number 17" in words


def test_a_version_without_steps_says_so(draft, manager):
    for step in plans.steps_of(draft):
        plans.drop_step(actor=manager, plan_step=step, reason="another way")
    words = words_of(plan_paper(packet_of(draft)))
    for part in (
        "No step is written yet.",
        "No hazard is written yet.",
        "Lacking: Write the steps",
    ):
        assert part in words
