"""Every verb a person can carry out in the browser: its form, its function, who may.

An entry's form fields are named as the arguments of its verb, so that one view
carries out all of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from brewlog.forms.base import EntryForm

RECORD = "brewlog.record_production"
REVIEW = "brewlog.review_lots"
MANAGE = "brewlog.manage_brewery"


@dataclass(frozen=True)
class Lines:
    """Rows below an entry's form: `name` is the argument they are passed as, a list.

    `build` turns one row's cleaned data into what the verb takes for it.
    """

    name: str
    title: str
    form: type[EntryForm]
    build: Callable[..., Any]
    least: int = 0
    blank_rows: int = 3


@dataclass(frozen=True)
class Entry:
    """One verb in the browser.

    `verb(actor=..., **cleaned)` writes and returns the record (or a list of records).
    `about` names the form field that is prefilled when the entry is opened from a
    record's page. `caution` stands above the form, where the work can hurt someone.
    `leads_to` names the page shown afterwards, where that is not the record's own.
    """

    slug: str
    title: str
    form: type[EntryForm]
    verb: Callable[..., Any]
    permission: str = RECORD
    lines: tuple[Lines, ...] = field(default=())
    about: str = ""
    button: str = "Record"
    caution: str = ""
    noun: str = ""
    leads_to: str = ""
