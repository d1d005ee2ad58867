"""Ways of looking at a list that people keep. A preference, not a record: deleted freely."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models.functions import Lower


class SavedView(models.Model):
    """A search, filters and an order of one list under a name; `query` is as in its address."""

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="saved_views"
    )
    noun = models.CharField(max_length=40)
    name = models.CharField(max_length=60)
    query = models.CharField(max_length=500, blank=True, default="")
    is_shared = models.BooleanField("offered to everyone", default=False)

    class Meta:
        ordering = ["noun", "name", "id"]
        constraints = [
            models.UniqueConstraint(
                "owner",
                "noun",
                Lower("name"),
                name="saved_view_name_once",
                violation_error_message="You have a view of that name for this list already.",
            )
        ]

    def __str__(self) -> str:
        return self.name
