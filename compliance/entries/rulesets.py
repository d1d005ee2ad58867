"""Entries of choosing rules and of the brewery's policy."""

from __future__ import annotations

from typing import Any

from django.utils.text import slugify

from brewlog.entries.base import MANAGE, Entry
from brewlog.forms.base import EntryForm
from brewlog.models import User
from compliance.domain import policies, rulesets
from compliance.domain.holidays import keep_holidays
from compliance.forms import rulesets as forms
from compliance.models import Limit


def add_house_limit(*, actor: User, title: str, **fields: Any) -> Limit:
    """The house's own limit, with a key made from its title."""
    base = slugify(title)[:50] or "limit"
    key, number = base, 1
    while Limit.objects.live().filter(ruleset__key=rulesets.HOUSE_KEY, key=key).exists():
        number += 1
        key = f"{base}-{number}"
    return rulesets.add_house_limit(actor=actor, title=title, key=key, **fields)


ENTRIES = (
    Entry(
        slug="read-rules",
        title="Read in the rule sets there are",
        form=EntryForm,
        verb=rulesets.read_shipped,
        permission=MANAGE,
        button="Read them in",
        caution="None of them binds you by that: you choose which do, one by one.",
    ),
    Entry(
        slug="bind-rules",
        title="Switch a rule set on",
        form=forms.BindForm,
        verb=rulesets.bind,
        permission=MANAGE,
        about="ruleset",
        button="Hold us to it",
        caution="Not legal advice: what stands here was written down from a source. The "
        "authority's own text comes first.",
    ),
    Entry(
        slug="end-rules",
        title="Switch a rule set off",
        form=forms.EndBindingForm,
        verb=rulesets.release_binding,
        permission=MANAGE,
        about="binding",
        button="End it",
    ),
    Entry(
        slug="waive",
        title="Declare a limit not applicable here",
        form=forms.WaiverForm,
        verb=rulesets.waive,
        permission=MANAGE,
        about="limit",
        button="Sign the declaration",
        caution="A law is not loosened: it applies, or someone signs why it does not.",
    ),
    Entry(
        slug="house-limit",
        title="Add a limit of our own",
        form=forms.HouseLimitForm,
        verb=add_house_limit,
        permission=MANAGE,
        button="Add the limit",
        caution="It may be tighter than a law that binds, never looser.",
    ),
    Entry(
        slug="policy",
        title="Set the policy of review and release",
        form=forms.PolicyForm,
        verb=policies.set_policy,
        permission=MANAGE,
        button="Set it",
    ),
    Entry(
        slug="holidays",
        title="Write down holidays",
        form=forms.HolidaysForm,
        verb=keep_holidays,
        permission=MANAGE,
        button="Keep them",
    ),
)
