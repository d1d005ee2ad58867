"""The days on which the brewery does not work."""

from __future__ import annotations

from django.db import models

from brewlog.models.base import Record


class Holiday(Record):
    """A day that is no working day: a public holiday, or the brewery's own closing day."""

    day = models.DateField()
    name = models.CharField(max_length=120)

    class Meta:
        ordering = ["day", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["day"],
                condition=models.Q(voided_at__isnull=True),
                name="holiday_once_a_day",
                violation_error_message="That day is a holiday already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.day}: {self.name}"
