"""The people who record, and the brewery they record for."""

from __future__ import annotations

import zoneinfo

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.db import models

from brewlog.models.base import Record


class Role(models.TextChoices):
    """What someone may do. A role is a group of permissions."""

    OPERATOR = "operator", "Operator: records the work"
    REVIEWER = "reviewer", "Reviewer: verifies and decides"
    MANAGER = "manager", "Manager: sets recipes, limits and people"
    INSPECTOR = "inspector", "Inspector: reads everything, changes nothing"


class DateOrder(models.TextChoices):
    """How a date in figures is read, and in which order one is shown."""

    DAY_FIRST = "day", "day/month/year"
    MONTH_FIRST = "month", "month/day/year"


class User(AbstractUser):
    """Someone who records or reads. Deactivated when they leave, never deleted."""

    class UnitSystem(models.TextChoices):
        METRIC = "metric", "Metric (kg, L, °C)"
        US = "us", "US customary (lb, gal, °F)"

    units = models.CharField(
        max_length=6, choices=UnitSystem.choices, default=UnitSystem.METRIC, verbose_name="units"
    )

    date_order = models.CharField(
        "dates",
        max_length=5,
        blank=True,
        default="",
        choices=[("", "as the brewery writes them"), *DateOrder.choices],
    )
    must_change_password = models.BooleanField(
        "password to be changed at the next log-in", default=False, editable=False
    )

    # Hashed like the password. It changes who is at work on a shared device, nothing else.
    pin = models.CharField("PIN", max_length=128, blank=True, default="", editable=False)

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    @property
    def role(self) -> str:
        """The one role held, or '' (a system account)."""
        group = self.groups.first()
        return group.name if group else ""

    @property
    def password_standing(self) -> str:
        """Whether someone can log in, and by a password of their own."""
        if not self.has_usable_password():
            return "none yet"
        return "given, to be changed" if self.must_change_password else "their own"


class RoleChange(Record):
    """A person was given a role, or lost the one held."""

    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="role_changes")
    role_before = models.CharField(max_length=10, blank=True, default="")
    role_after = models.CharField(max_length=10, blank=True, default="", choices=Role.choices)

    def __str__(self) -> str:
        return f"{self.person}: {self.role_before or 'none'} to {self.role_after or 'none'}"


def _check_time_zone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise ValidationError(f"'{name}' is not a time zone. Write one like Europe/Lisbon.")


class Brewery(Record):
    """The one brewery: its name and place on papers, its clock and its habits."""

    DateOrder = DateOrder

    name = models.CharField(max_length=120)
    address = models.TextField(blank=True, default="")
    country = models.CharField(max_length=60, blank=True, default="")
    phone = models.CharField(max_length=40, blank=True, default="")
    email = models.EmailField(blank=True, default="")
    registration_number = models.CharField(
        "registration or licence number", max_length=60, blank=True, default=""
    )
    time_zone = models.CharField(max_length=60, default="UTC", validators=[_check_time_zone])
    date_order = models.CharField(
        max_length=5, choices=DateOrder.choices, default=DateOrder.DAY_FIRST
    )
    lot_code_pattern = models.CharField(
        max_length=60,
        default="{kind}{yy}{day}{run}",
        help_text="{kind} letter, {yy} year, {day} day of the year, {run} A, B, C of the day",
    )
    # As `brewlog.logo.as_logo` makes it.
    logo = models.ImageField(upload_to="logo/", blank=True, default="", editable=False)

    class Meta:
        verbose_name_plural = "breweries"
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="brewery_is_the_only_one")
        ]
        # Roles carry these; pages and verbs ask for them by name.
        permissions = [
            ("record_production", "Can record the work of the brewery"),
            ("review_lots", "Can verify, hold and decide"),
            ("manage_brewery", "Can set recipes, limits, people and registers"),
            ("read_records", "Can read every record"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.time_zone)

    @property
    def day_first(self) -> bool:
        return self.date_order == self.DateOrder.DAY_FIRST


def day_first_for(person: object, brewery: Brewery | None) -> bool:
    """The order of a date in figures: the person's own, else the brewery's, else day first."""
    own = getattr(person, "date_order", "")
    if own:
        return bool(own == DateOrder.DAY_FIRST)
    return brewery is None or brewery.day_first
