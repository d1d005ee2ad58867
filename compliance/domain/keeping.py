"""What is found about the lots, kept for the lists over thousands of them.

Filled after a verb and by `manage.py watch`, inside `recording()` like every write; never by a
page. Up to a few hundred lots are looked at again at once. Where more may be found otherwise,
as when other rules bind, the watch does it, and the lists say as of when.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.utils import timezone

from brewlog.ledger import ids_in, on_hand
from brewlog.models import Lot, LotKind
from compliance.assessment import Assessment, assess
from compliance.assessment.kept import packed
from compliance.assessment.touched import Newest, newest, touched_between
from compliance.domain.rulesets import rules
from compliance.models import KeptFinding, KeptUpTo, LookAgain

# As many lots as are looked at again in one verb, or for one page.
MOST_AT_ONCE = 500
# All lots are looked at anew this often, whatever was written: the program may be a new one.
WHOLE_AFTER = dt.timedelta(hours=24)


@dataclass(frozen=True)
class Waiting:
    """The lots that may be found otherwise by now than is kept of them.

    `everything` where any lot may be: its lots are those known to be besides.
    """

    lots: set[int]
    everything: bool


def kept_up_to() -> KeptUpTo | None:
    """How far what is kept goes; None where nothing ever was."""
    return KeptUpTo.objects.first()


def waiting(kept: KeptUpTo, until: Newest) -> Waiting:
    """What was written about since, up to those history keys, and what time has changed."""
    touched = touched_between(kept.newest, until)
    other_rules = touched.rules and rules().digest() != kept.rules
    due = LookAgain.objects.filter(due__lte=timezone.now()).values_list("lot", flat=True)
    return Waiting(touched.lots | set(due), kept.is_behind or touched.everything or other_rules)


def are_few() -> bool:
    """Whether all lots there are can be looked at in one go."""
    return Lot.objects.live().count() <= MOST_AT_ONCE


# Filling -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Look:
    """Some lots as they were found, or all of them, and how far the records went then."""

    lots: Collection[int] | None
    newest: Newest
    at: dt.datetime
    rows: list[KeptFinding]
    again: list[LookAgain]


def look_at_all(found: Iterable[Assessment], until: Newest) -> Look:
    """All lots, from their assessments taken in some pieces."""
    return _look(list(found), until, None)


def _look(found: list[Assessment], until: Newest, lots: Collection[int] | None) -> Look:
    rows, again = [], []
    for piece in found:
        open_ones = _open_among({each.lot.pk: each.lot for each in piece.findings})
        rows += [packed(each, each.lot.pk in open_ones) for each in piece.findings]
        again += [LookAgain(lot_id=lot, due=due) for lot, due in piece.next_changes().items()]
    at = min((piece.at for piece in found), default=timezone.now())
    return Look(lots, until, at, rows, again)


def _open_among(lots: dict[int, Lot]) -> set[int]:
    """Those there is still something of: what `open_lots` lists."""
    there = on_hand(lots)
    return {
        pk for pk, lot in lots.items() if lot.kind != LotKind.INGREDIENT and there.get(pk, 0) > 0
    }


def keep_all(look: Look) -> None:
    """Keep all lots as they were found. Call it inside `recording()`."""
    _store(look)
    KeptUpTo(pk=1, newest=look.newest, rules=rules().digest(), at=look.at, whole_at=look.at).save()


def catch_up() -> None:
    """Look again at what was written about since, as far as it is a few hundred lots.

    Call it inside `recording()`, after what was written.
    """
    until, kept = newest(), kept_up_to()
    since = waiting(kept, until) if kept else None
    if (since is None or since.everything) and are_few():
        keep_all(look_at_all([assess(list(Lot.objects.live()))], until))
        return
    if kept is None or since is None:
        return
    if len(since.lots) <= MOST_AT_ONCE:
        lots = Lot.objects.filter(pk__in=ids_in(since.lots))
        _store(_look([assess(list(lots))], until, since.lots))
    kept.newest = until
    kept.is_behind = since.everything or len(since.lots) > MOST_AT_ONCE
    if not kept.is_behind:
        kept.at = timezone.now()
    kept.save()


def _store(look: Look) -> None:
    """Write what differs from what is kept."""
    kept, again = KeptFinding.objects.all(), LookAgain.objects.all()
    if look.lots is not None:
        kept = kept.filter(lot__in=ids_in(look.lots))
        again = again.filter(lot__in=ids_in(look.lots))
    old = {_key(row): row for row in kept}
    same = {_key(row) for row in look.rows if _key(row) in old and _says(row, old[_key(row)])}
    gone = [row.pk for key, row in old.items() if key not in same]
    KeptFinding.objects.filter(pk__in=ids_in(gone)).delete()
    KeptFinding.objects.bulk_create([row for row in look.rows if _key(row) not in same])
    again.delete()
    LookAgain.objects.bulk_create(look.again)


def _key(row: KeptFinding) -> tuple[int, int]:
    return row.lot_id, row.limit_id


def _says(row: KeptFinding, other: KeptFinding) -> bool:
    """Whether both say the same."""
    told = ("of_open_lot", "urgency", "since", "contents")
    return all(getattr(row, name) == getattr(other, name) for name in told)
