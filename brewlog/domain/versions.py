"""What others wrote into an entry while somebody was looking at it."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.utils import timezone

from brewlog.models.base import Guarded
from brewlog.recording import Refused

_NOT_TOLD = {"recorded_at", "recorded_by", "id", "lot_ptr"}


class Overtaken(Refused):
    """Somebody changed, meanwhile, what was about to be changed here.

    `version` is the one that stands, and that is told of; `names` are the fields that were
    about to be changed.
    """

    def __init__(self, message: Any, version: int, names: Collection[str]) -> None:
        super().__init__(message)
        self.version = version
        self.names = names


def newest_version(record: Any) -> int | None:
    """The number of the version that stands; None where no history was written."""
    return record.history.order_by("-history_id").values_list("history_id", flat=True).first()


def refuse_overtaken(record: Any, seen: int | None, names: Collection[str] = ()) -> None:
    """Refuse to write over what others wrote since version `seen`, and tell what that was.

    `names` are the fields about to be changed; without them, any field counts. Call it under
    the write lock. Raises `Overtaken`, by field where there are names.
    """
    if seen is None:
        return
    rows = list(
        record.history.filter(history_id__gte=seen)
        .select_related("history_user")
        .order_by("history_id")
    )
    told: dict[str, str] = {}
    for before, after in zip(rows, rows[1:], strict=False):
        for name in names or _told(type(record)):
            if getattr(before.instance, name) != getattr(after.instance, name):
                told[name] = _words(after, name)
    if not told:
        return
    if names:
        kept = "What you wrote is kept here: send it again to put it in place of that."
        message = {name: f"{words} {kept}" for name, words in told.items()}
        raise Overtaken(message, rows[-1].history_id, names)
    listed = " ".join(f"{_label(record, name)}: {words}" for name, words in told.items())
    again = "Look at it again as it stands now; then send this again."
    raise Overtaken(f"{listed} {again}", rows[-1].history_id, names)


def write_over(record: Any, seen: int | None, fields: dict[str, Any]) -> None:
    """Set those of the fields that differ from version `seen`, without saving.

    Call it under the write lock. Raises `Refused` where nothing differs, `Overtaken` where
    somebody else wrote the same fields since.
    """
    changes = _written_over(record, seen, fields)
    if not changes:
        raise Refused("Nothing is different from what was written. Change it here.")
    refuse_overtaken(record, seen, changes)
    for name, value in changes.items():
        setattr(record, name, value)


def _written_over(record: Any, seen: int | None, fields: dict[str, Any]) -> dict[str, Any]:
    """Those of the fields that differ from version `seen`; all of them where none was shown.

    What somebody only looked at is not written back over what others wrote meanwhile.
    """
    version = record.history.filter(history_id=seen).first()
    if version is None:
        return fields
    shown = version.instance
    return {name: value for name, value in fields.items() if differs(getattr(shown, name), value)}


def differs(before: Any, after: Any) -> bool:
    """Whether a value was changed. Browsers end lines otherwise than sheets: no change."""
    return _lines(before) != _lines(after)


def _lines(value: Any) -> Any:
    return value.replace("\r\n", "\n").strip() if isinstance(value, str) else value


def _told(model: type[Guarded]) -> list[str]:
    return [field.name for field in model._meta.concrete_fields if field.name not in _NOT_TOLD]


def _label(record: Any, name: str) -> str:
    label = str(record._meta.get_field(name).verbose_name)
    return label[:1].upper() + label[1:]


def _words(row: Any, name: str) -> str:
    """Who wrote what there, and when."""
    value = getattr(row.instance, name)
    if isinstance(value, bool):
        value = "yes" if value else "no"
    else:
        value = getattr(row.instance, f"get_{name}_display", lambda: value)()
    wrote = "left it empty" if value in (None, "") else f"wrote “{value}”"
    reason = f" ({row.history_change_reason})" if row.history_change_reason else ""
    at = timezone.localtime(row.history_date)
    return f"{row.history_user} {wrote} here at {at:%H:%M} on {at:%Y-%m-%d}{reason}."
