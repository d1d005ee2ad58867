"""How strictly review and release are handled: the manager's choice."""

from __future__ import annotations

import datetime as dt

from brewlog.domain.lots import save_changed, save_new
from brewlog.domain.versions import write_over
from brewlog.models import User
from brewlog.recording import Refused, recording
from compliance.models import Policy, policy


def set_policy(
    *,
    actor: User,
    review_within_days: int,
    reason: str,
    seen: int | None = None,
    release_needed_since: dt.date | None = None,
    one_person: bool = False,
) -> Policy:
    """Write the policy; the one before stays in its history.

    With `seen`, the version that was shown, only what differs from that is written. Raises
    `Refused` without a reason, `Overtaken` where somebody else wrote the same since.
    """
    if not reason.strip():
        raise Refused({"reason": "Say why it is so from now on."})
    with recording(actor, reason.strip()):
        found = policy()
        is_new = found._state.adding
        fields = {
            "release_needed_since": release_needed_since,
            "review_within_days": review_within_days,
            "one_person": one_person,
        }
        write_over(found, seen, fields)
        if is_new:
            save_new(found)
        else:
            save_changed(found)
        return found
