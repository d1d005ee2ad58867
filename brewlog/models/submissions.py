"""Forms that were sent, so that sending one twice records once; and forms put aside."""

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


class PutAside(models.Model):
    """A form as it was left, until it is recorded. Not a record: nothing of it has happened.

    `key` is the form with the page it leads back to, whoever typed it: a day's work is
    shared. A form that leads nowhere is its person's own. Each leaving is a row, so that what
    two people wrote meanwhile can be told apart; the newest is the form as it stands.
    """

    key = models.CharField(max_length=400, db_index=True)
    typed = models.TextField()
    left_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", db_index=False
    )
    left_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return self.key
