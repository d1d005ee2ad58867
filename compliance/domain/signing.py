"""Signing: the password entered again, and an exact list of what was signed.

The list holds the records as they stood, so that a later change of any of them shows as
"changed after signature", and an entry made since shows as added. Canonical JSON after the
rules of RFC 8785 (from memory) as far as strings, whole numbers and lists need them.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from brewlog.domain.lots import save_new
from brewlog.models import (
    AlcoholEstimate,
    Calibration,
    Checkpoint,
    ConditionCheck,
    LabResult,
    Lot,
    LotUse,
    ProcessStep,
    StockAdjustment,
    User,
)
from brewlog.models.base import Guarded
from brewlog.models.lots import DESCRIBED
from brewlog.recording import Refused, recording
from brewlog.trace import ancestor_ids
from compliance.models import Limit, Signature

Contents = dict[str, dict[str, str]]

# What is bookkeeping of the record, not what it says; and when a limit ended for later lots.
_NOT_SIGNED = {"recorded_at", "recorded_by_id", "effective_until"}
# The facts of a lot that someone who signs for it leans on.
_FACTS: tuple[type[Any], ...] = (
    Checkpoint,
    ConditionCheck,
    LabResult,
    AlcoholEstimate,
    ProcessStep,
    StockAdjustment,
)


def canonical(contents: Mapping[str, Any]) -> str:
    """The one way to write these contents down."""
    return json.dumps(
        contents, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )


def digest_of(text: str) -> str:
    """SHA-256 of a text, in hexadecimal."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


@dataclass(frozen=True)
class Confirmed:
    """That a person entered their own password just now: it signs for several lots together."""

    person_id: int


def confirm(person: User, password: str) -> Confirmed:
    """Check the password, once for all that is signed with it. Raises `Refused` for a wrong one.

    It is made hard to guess by taking long: call it before the write lock is held.
    """
    if not person.check_password(password):
        raise Refused({"password": "That is not your password. Nothing was signed."})
    return Confirmed(person.pk)


def sign(
    *,
    actor: User,
    password: str | Confirmed,
    meaning: str,
    contents: Contents,
    statement: str = "",
) -> Signature:
    """Sign the contents, under a meaning, with the password entered again.

    Raises `Refused` for a wrong password, or one that somebody else entered: nothing is signed
    then.
    """
    confirmed = password if isinstance(password, Confirmed) else confirm(actor, password)
    if confirmed.person_id != actor.pk:
        raise Refused({"password": "Somebody else entered that password. Nothing was signed."})
    text = canonical(contents)
    with recording(actor, statement):
        signature = Signature(
            person=actor,
            printed_name=str(actor),
            meaning=meaning,
            statement=statement,
            signed_at=timezone.now(),
            contents=text,
            digest=digest_of(text),
        )
        save_new(signature)
        return signature


def as_signed(record: Guarded) -> dict[str, str]:
    """What a record says, field by field, as text."""
    return {
        field.attname: "" if (value := getattr(record, field.attname)) is None else str(value)
        for field in record._meta.concrete_fields
        if field.attname not in _NOT_SIGNED
    }


def _key(record: Guarded) -> str:
    return f"{record._meta.model_name}:{record.pk}"


def contents_about(lot: Lot, limits: Iterable[Limit] = ()) -> Contents:
    """Everything someone leans on who signs for a lot, as it stands.

    The lot and the lots it was made from, how they went into one another, their readings,
    steps, checks, results and losses, the calibrations of the instruments used, and the
    limits they were held against. Voided entries are left out.
    """
    ids = {lot.pk} | set(ancestor_ids([lot.pk]))
    lots = Lot.objects.filter(pk__in=ids).select_related(*DESCRIBED).order_by("pk")
    records: list[Guarded] = [lot.detail for lot in lots]
    records += LotUse.objects.live().filter(into__in=ids).order_by("pk")
    instruments: set[int] = set()
    for model in _FACTS:
        rows = list(model.objects.live().filter(lot__in=ids).order_by("pk"))
        records += rows
        instruments |= {row.instrument_id for row in rows if getattr(row, "instrument_id", None)}
    records += Calibration.objects.live().filter(instrument__in=instruments).order_by("pk")
    records += list(limits)
    return {_key(record): as_signed(record) for record in records}


@dataclass(frozen=True)
class Change:
    """One difference between what was signed and what stands now."""

    record: str  # "checkpoint:17"
    what: str  # "changed", "gone", "added"
    fields: tuple[str, ...] = ()


def changes_since(signature: Signature, now: Contents) -> list[Change]:
    """What differs between what was signed and what stands now, in the order of records."""
    signed: Contents = json.loads(signature.contents)
    found = []
    for record in sorted(signed.keys() | now.keys()):
        if record not in now:
            found.append(Change(record, "gone"))
        elif record not in signed:
            found.append(Change(record, "added"))
        elif signed[record] != now[record]:
            names = signed[record].keys() | now[record].keys()
            differing = [n for n in names if signed[record].get(n) != now[record].get(n)]
            found.append(Change(record, "changed", tuple(sorted(differing))))
    return found


def is_intact(signature: Signature) -> bool:
    """Whether the contents still are what was digested when they were signed."""
    return digest_of(signature.contents) == signature.digest
