"""Entries of choosing rules and of the brewery's policy."""

from __future__ import annotations

from brewlog.entries.base import MANAGE, Entry
from brewlog.forms.base import EntryForm
from compliance.domain import house_limits, policies, rulesets
from compliance.domain.holidays import keep_holidays
from compliance.forms import rulesets as forms

ENTRIES = (
    Entry(
        slug="read-rules",
        title="Read in the rule sets there are",
        form=EntryForm,
        verb=rulesets.read_shipped,
        permission=MANAGE,
        button="Read them in",
        leads_to="rules",
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
        verb=house_limits.add_house_limit,
        permission=MANAGE,
        button="Add the limit",
        caution="It may be tighter than a law that binds, never looser.",
    ),
    Entry(
        slug="replace-house-limit",
        title="Replace a limit of our own",
        form=forms.ReplaceHouseLimitForm,
        verb=house_limits.replace_house_limit,
        permission=MANAGE,
        about="limit",
        button="Replace it",
        caution="It may be tighter than a law that binds, never looser. Lots begun before that "
        "day stay judged by the limit they were made under.",
    ),
    Entry(
        slug="end-house-limit",
        title="End a limit of our own",
        form=forms.EndHouseLimitForm,
        verb=house_limits.end_house_limit,
        permission=MANAGE,
        about="limit",
        button="End it",
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
