"""What was read from spreadsheets, so that reading a sheet twice changes nothing."""

from __future__ import annotations

from django.db import models

from brewlog.models.base import Record


class ImportedRow(Record):
    """A sheet's row, by its natural key, and what it said: its cells as JSON, by field name."""

    sheet = models.CharField(max_length=40)
    key = models.CharField(max_length=300)
    said = models.TextField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["sheet", "key"], name="imported_row_once")]

    def __str__(self) -> str:
        return f"{self.sheet}: {self.key}"
