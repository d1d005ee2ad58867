"""The rule sets that come with the program can be read in, and say what their sources say."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest
from django.conf import settings

from compliance.assessment.assess import JUDGES
from compliance.domain.rulesets import read_rulesets
from compliance.models import Limit, RuleSet

FOLDER = settings.BASE_DIR / "fixtures" / "rulesets"


@pytest.fixture(scope="module")
def files() -> dict[str, dict]:
    return {file.stem: json.loads(file.read_text("utf-8")) for file in FOLDER.glob("*.json")}


def test_each_file_is_named_as_its_key(files):
    assert {stem: data["key"] for stem, data in files.items()} == {stem: stem for stem in files}


@pytest.mark.django_db
def test_all_are_read_in_with_every_limit(manager, files):
    read_rulesets(actor=manager, folder=FOLDER)

    assert RuleSet.objects.count() == len(files)
    assert Limit.objects.count() == sum(len(data["limits"]) for data in files.values())


def test_every_kind_of_limit_used_has_a_judge(files):
    used = {limit["kind"] for data in files.values() for limit in data["limits"]}

    assert used - set(JUDGES) == set()


# Lines as their sources write them: the sign matters on the line itself.
@pytest.mark.parametrize(
    ("key", "limit", "sign", "value"),
    [
        # TTB G 2010-3A: alcohol beverage at 0.5 % or more, at any time (read).
        ("us-federal-alcohol", "alcohol-batch", "<", "0.5"),
        # Food Code 2022 table B: non-TCS only below 4.2 (read in state adoptions).
        ("us-food-code", "ph-below", "<", "4.2"),
        # Nummer 2013 and after it: never above 4.2, not below 2.5 (read in Niagara Region).
        ("kombucha-guidance", "ph-finished", "<=", "4.2"),
        ("kombucha-guidance", "ph-floor", ">=", "2.5"),
        # CFIA notice 2020-06-11: declared from 1.1 % on (read).
        ("ca-federal", "abv-declared", "<", "1.1"),
        # BC and Ontario: over 1 % is liquor (read).
        ("ca-british-columbia", "alcohol-bottling", "<=", "1"),
        # Licensing Act 2003 s. 191: over 0.5 % (read in restatements).
        ("uk", "alcohol-bottling", "<=", "0.5"),
        # Regulation (EU) 1169/2011 Art. 28: over 1.2 % (read).
        ("eu", "abv-label", "<=", "1.2"),
        # Standard 2.6.2 and 2.7.1: at most 1.15 %, statement from 0.5 % (read).
        ("au-nz", "alcohol-bottling", "<=", "1.15"),
        ("au-nz", "statement", "<", "0.5"),
    ],
)
def test_a_line_is_written_as_its_source_writes_it(files, key, limit, sign, value):
    (found,) = [each for each in files[key]["limits"] if each["key"] == limit]

    assert (found["operator"], Decimal(found["value"])) == (sign, Decimal(value))


def test_what_is_from_memory_or_practice_says_so(files):
    (in_time,) = [
        each for each in files["kombucha-guidance"]["limits"] if each["key"] == "ph-in-time"
    ]

    assert in_time["reading"] == "memory"
    assert {each["reading"] for each in files["house-template"]["limits"]} == {"practice"}
    assert files["house-template"]["status"] == "practice"
