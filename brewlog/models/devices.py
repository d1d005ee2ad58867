"""Devices on the floor that several people record with."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from brewlog.models.base import Register


class SharedDevice(Register):
    """A tablet or phone on which the person at work changes by a tap and a PIN.

    The device itself holds a signed cookie with this record's key.
    """

    idle_minutes = models.PositiveSmallIntegerField(
        "minutes until it asks who is at work",
        default=10,
        validators=[MinValueValidator(1), MaxValueValidator(720)],
    )

    class Meta(Register.Meta):
        abstract = False
