"""Sending forms as a sheet does."""

from __future__ import annotations


def sent(form, actor, data, **options):
    return form(data, actor=actor, from_sheet=True, **options)
