"""What every record has: a guarded save, a history, a time it happened, a void."""

from __future__ import annotations

import datetime as dt
from typing import Any, NoReturn, Self

from django.conf import settings
from django.contrib.auth import get_user_model
from django.db import models
from django.db.models.signals import pre_delete
from django.dispatch import receiver
from django.utils import timezone
from simple_history.models import HistoricalChanges, HistoricalRecords

from brewlog.recording import RecordingError, Refused, current_recording, open_door
from brewlog.when import Precision, When

# Written later than a shift after it happened, an entry is marked late.
LATE_AFTER = dt.timedelta(hours=12)


class RecordHistory(HistoricalRecords):
    """History rows that take the person and the reason from the open recording."""

    def __init__(self, **options: Any) -> None:
        super().__init__(history_id_field=models.BigAutoField(), **options)

    def get_history_user(self, instance: models.Model) -> Any:
        return current_recording().actor

    def get_change_reason_for_object(self, instance: Any, history_type: str, using: Any) -> str:
        return current_recording().reason


class RecordQuerySet(models.QuerySet):
    """Refuses the writes that would leave no history row."""

    def _refuse(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise RecordingError(
            f"{self.model.__name__} rows are saved one by one, so that each has its history."
        )

    update = delete = bulk_create = bulk_update = update_or_create = _refuse

    def live(self) -> Self:
        """Without the voided ones."""
        return self.filter(voided_at__isnull=True)


class Guarded(models.Model):
    """A record: saved inside `recording()` only, never deleted, voided with a reason."""

    recorded_at = models.DateTimeField("written at", editable=False)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        related_name="+",
        editable=False,
        db_index=False,
        verbose_name="written by",
    )
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)
    voided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        editable=False,
        db_index=False,
    )
    void_reason = models.TextField(blank=True, default="", editable=False)

    objects = RecordQuerySet.as_manager()

    # The recording under whose lock it was read or written last.
    _read_behind: object | None = None

    class Meta:
        abstract = True

    def save(self, *, update_fields: Any = None, **kwargs: Any) -> None:
        now_recording = current_recording()
        if update_fields is not None:
            # The history row would hold the unsaved values of the other fields too.
            raise RecordingError("Records are saved whole: update_fields is refused.")
        if self._state.adding:
            self.recorded_at = timezone.now()
            self.recorded_by = now_recording.actor
            # A new record is never written over an old one that has its key.
            kwargs["force_insert"] = (models.Model,)
        elif self._read_behind is not now_recording.door:
            # Saved as it was read before the lock, it would undo what others wrote since.
            raise RecordingError("Read it again inside the recording, then change it: reread().")
        super().save(**kwargs)
        self._read_behind = now_recording.door

    @classmethod
    def from_db(cls, *args: Any, **kwargs: Any) -> Self:
        found = super().from_db(*args, **kwargs)
        found._read_behind = open_door()
        return found

    def reread(self) -> None:
        """Take it as it stands now that one holds the write lock, before judging and changing
        it: somebody may have been quicker since it was read. Raises `Refused` for a voided one.
        """
        self._read_behind = current_recording().door
        self.refresh_from_db()
        if self.is_void:
            raise Refused(f"{self} is voided: {self.void_reason}. It is not changed any more.")

    @property
    def is_void(self) -> bool:
        return self.voided_at is not None


@receiver(pre_delete)
def refuse_deletion(sender: type[models.Model], **signal: Any) -> None:
    """Records, their history and people stay, whatever asks for the deletion."""
    if issubclass(sender, Guarded):
        raise RecordingError("Records are never deleted. Void the entry, with a reason.")
    if issubclass(sender, HistoricalChanges):
        raise RecordingError("What was written stays: history is never deleted.")
    if issubclass(sender, get_user_model()):
        raise RecordingError("People are never deleted. Make the account inactive instead.")


class Record(Guarded):
    """A guarded record with its own history table."""

    history = RecordHistory(inherit=True)

    class Meta:
        abstract = True


class HappenedMixin(models.Model):
    """When something happened, who did it, and whether it was written late."""

    recorded_at: dt.datetime  # of the record it is mixed into
    happened_at = models.DateTimeField("when")
    happened_precision = models.CharField(
        max_length=6,
        choices=[(p.value, p.value) for p in Precision],
        default=Precision.MINUTE.value,
        editable=False,
    )
    done_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        related_name="+",
        db_index=False,
        verbose_name="done by",
    )
    note = models.TextField(blank=True, default="")

    class Meta:
        abstract = True

    @property
    def when(self) -> When:
        return When(self.happened_at, Precision(self.happened_precision))

    @when.setter
    def when(self, value: When) -> None:
        self.happened_at = value.at
        self.happened_precision = value.precision.value

    @property
    def is_late(self) -> bool:
        """Whether it was written more than a shift after it happened."""
        return self.recorded_at - self.when.ends > LATE_AFTER


class Event(HappenedMixin, Record):
    """Something that happened at a time, done by somebody."""

    class Meta:
        abstract = True


class Register(Record):
    """A named thing the brewery has or deals with: a vessel, a supplier, a flavour."""

    name = models.CharField(max_length=120)
    note = models.TextField(blank=True, default="")
    in_use = models.BooleanField("in use", default=True)

    class Meta:
        abstract = True
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                models.functions.Lower("name"),
                condition=models.Q(voided_at__isnull=True),
                name="%(class)s_name_once",
                violation_error_message="That name is taken. Choose another, or use the one there.",
            )
        ]

    def __str__(self) -> str:
        return self.name


def positive(field: str, name: str) -> models.CheckConstraint:
    """A constraint that the field is more than nothing."""
    return models.CheckConstraint(
        condition=models.Q(**{f"{field}__gt": 0}),
        name=name,
        violation_error_message="The amount must be more than nothing.",
    )
