"""Forms that were sent, so that sending one twice records once."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class SubmittedForm(models.Model):
    """A rendered form that was recorded. Not a record itself: it only keeps the door.

    `token` stands hidden in the form; `digest` is of what was typed, so that the same
    form sent again with other contents is not taken for a repetition.
    """

    token = models.CharField(max_length=40, primary_key=True)
    digest = models.CharField(max_length=64)
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", db_index=False
    )
    sent_at = models.DateTimeField(auto_now_add=True)
    result_url = models.CharField(max_length=300)

    def __str__(self) -> str:
        return self.token
