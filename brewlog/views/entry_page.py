"""One entry's form and its rows on a page: filled from a link, from what was typed, checked.

Works without scripts: "add a row" sends the whole form and shows it again, longer. A
calculation's form and rows come in the address instead of being posted.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Generic, Protocol, TypeVar

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.http import QueryDict

from brewlog.entries.base import Lines
from brewlog.forms.base import EntryForm
from brewlog.middleware import BreweryRequest
from brewlog.views.chosen import chosen_for

MOST_ROWS = 200
# Fields a row shows before the rest is folded away; a form says so itself.
SHOWN_IN_A_ROW = 4
# Of what is folded away so much is named.
_NAMED = 4
ALWAYS_LAST = ("already_done", "done_by", "note", "reason", "password")


class Asked(Protocol):
    """What a page asks for: an entry, or a calculation."""

    @property
    def form(self) -> type[EntryForm]: ...

    @property
    def lines(self) -> tuple[Lines, ...]: ...


A = TypeVar("A", bound=Asked)


@dataclass(frozen=True)
class Problem:
    """Something to mend: the id of its control ('' for the whole form), its label, why."""

    target: str
    label: str
    text: str


@dataclass(frozen=True)
class Split:
    """The fields of a form: those shown, and those folded away until they are wanted."""

    shown: list[forms.BoundField]
    folded: list[forms.BoundField]

    @property
    def is_open(self) -> bool:
        """Nothing that is wrong or filled in is hidden."""
        return any(bound.errors or _is_filled_in(bound) for bound in self.folded)

    @property
    def named(self) -> str:
        """What is folded away, by the first of it."""
        first = ", ".join(str(bound.label) for bound in self.folded[:_NAMED])
        return f"{first}…" if len(self.folded) > _NAMED else first


def _is_filled_in(bound: forms.BoundField) -> bool:
    """Whether it holds more than the form itself puts there."""
    if chosen_for(bound):
        return True
    by_itself = not bound.form.is_bound and bound.name not in bound.form.initial
    return not by_itself and bound.value() not in (None, "", False)


def split(fields: list[forms.BoundField], at_first: int) -> Split:
    """The fields in their order; of a long form the later optional ones are folded."""
    if len(fields) <= at_first + 2:
        return Split(fields, [])
    shown = [
        bound for place, bound in enumerate(fields) if place < at_first or bound.field.required
    ]
    return Split(shown, [bound for bound in fields if bound not in shown])


@dataclass(frozen=True)
class RowForm:
    """One row: its form, and how its fields are laid out."""

    form: EntryForm
    fields: Split


@dataclass
class Rows:
    """The rows of one `Lines` on the page."""

    lines: Lines
    forms: list[EntryForm]

    @property
    def laid_out(self) -> list[RowForm]:
        return [RowForm(form, split(list(form), SHOWN_IN_A_ROW)) for form in self.forms]

    @property
    def count_name(self) -> str:
        return f"{self.lines.name}-rows"

    @property
    def filled(self) -> list[EntryForm]:
        return [form for form in self.forms if form.has_changed()]


@dataclass
class EntryPage(Generic[A]):
    """The form, its rows and what is wrong with them."""

    entry: A
    form: EntryForm
    rows: list[Rows]
    problems: list[Problem] = field(default_factory=list)

    @property
    def all_forms(self) -> list[EntryForm]:
        return [self.form, *(form for rows in self.rows for form in rows.forms)]

    @property
    def fields(self) -> Split:
        if self.form.quick:
            fields, at_first = list(self.form), self.form.shown_at_first
            return Split(fields[:at_first], fields[at_first:])
        fields = [bound for bound in self.form if bound.name not in ALWAYS_LAST]
        return split(fields, self.form.shown_at_first)

    @property
    def last(self) -> list[forms.BoundField]:
        """What is filled in last; a quick form has it among what is folded."""
        if self.form.quick:
            return []
        return [self.form[name] for name in ALWAYS_LAST if name in self.form.fields]

    def is_multipart(self) -> bool:
        return any(form.is_multipart() for form in self.all_forms)

    def is_valid(self) -> bool:
        """Check everything and list what is wrong. Blank rows are left out."""
        valid = [form.is_valid() for form in self.all_forms]
        for rows in self.rows:
            short = rows.lines.least - len(rows.filled)
            if short > 0:
                self._too_few(rows)
                valid.append(False)
        self.list_problems()
        return all(valid)

    def miss_files(self, lost: Mapping[str, str]) -> bool:
        """Say at their fields which files are not there any more; whether any is not."""
        missed = [bound for form in self.all_forms for bound in form if bound.html_name in lost]
        for bound in missed:
            bound.form.add_error(bound.name, lost[bound.html_name])
        self.list_problems()
        return bool(missed)

    def _too_few(self, rows: Rows) -> None:
        least = rows.lines.least
        words = "at least one row" if least == 1 else f"at least {least} rows"
        self.form.add_error(None, f"{rows.lines.title}: fill in {words}.")

    def list_problems(self) -> None:
        """Gather what is wrong for the list on top."""
        self.problems = form_problems(self.form)
        for rows in self.rows:
            for number, form in enumerate(rows.forms, start=1):
                prefix = f"{rows.lines.title}, row {number}"
                self.problems += form_problems(form, prefix)

    def say_at(self, told: Mapping[str, str]) -> None:
        """List on top what is told of fields, by the names they are sent by."""
        self.problems = [
            Problem(_target(bound), f"{prefix}{bound.label}", told[bound.html_name])
            for prefix, form in self._named_forms()
            for bound in form
            if bound.html_name in told
        ]

    def _named_forms(self) -> Iterator[tuple[str, EntryForm]]:
        """The form, and each row's with what its fields are called by."""
        yield "", self.form
        for rows in self.rows:
            for number, form in enumerate(rows.forms, start=1):
                yield f"{rows.lines.title}, row {number}: ", form

    def arguments(self) -> dict[str, Any]:
        """What the verb takes, once the page is valid."""
        found = dict(self.form.cleaned_data)
        for rows in self.rows:
            found[rows.lines.name] = [rows.lines.build(**form.cleaned_data) for form in rows.filled]
        return found

    def refuse(self, error: ValidationError) -> None:
        """Put a verb's refusal where it belongs: on its field, on a row, or on top."""
        if not hasattr(error, "error_dict"):
            self.form.add_error(None, error)
        else:
            for name, errors in error.error_dict.items():
                for each in errors:
                    self._place(name, each)
        self.list_problems()

    def _place(self, name: str, error: ValidationError) -> None:
        text = " ".join(error.messages)
        if name in self.form.fields:
            self.form.add_error(name, text)
            return
        row = self._row_about(name, text)
        if row is not None:
            row.add_error(name, text)
        elif name == NON_FIELD_ERRORS or self._is_row_field(name):
            self.form.add_error(None, text)
        else:
            self.form.add_error(None, f"{name.replace('_', ' ').capitalize()}: {text}")

    def _is_row_field(self, name: str) -> bool:
        return any(name in rows.lines.form.base_fields for rows in self.rows)

    def _row_about(self, name: str, text: str) -> EntryForm | None:
        """The one row whose lot the refusal names. None where that cannot be told."""
        about = [
            form
            for rows in self.rows
            for form in rows.filled
            if name in form.fields
            and any(
                str(value) in text
                for key, value in form.cleaned_data.items()
                if key in {"source", "lot"} and value is not None
            )
        ]
        return about[0] if len(about) == 1 else None


def form_problems(form: forms.Form, prefix: str = "") -> list[Problem]:
    """What is wrong with one form, whole-form matters first, then in the order of fields."""
    found = [Problem("", "", str(text)) for text in form.non_field_errors()]
    if prefix:
        found = [Problem("", "", f"{prefix}: {problem.text}") for problem in found]
    for bound in form:
        label = f"{prefix}: {bound.label}" if prefix else str(bound.label)
        found += [Problem(_target(bound), label, str(text)) for text in bound.errors]
    return found


def _target(bound: forms.BoundField) -> str:
    """The control to go to; of answers to be tapped, the first."""
    return bound.id_for_label or f"{bound.auto_id}_0"


def refuse_form(form: forms.Form, error: ValidationError) -> None:
    """Put a refusal on its field, or on top."""
    if not hasattr(error, "error_dict"):
        form.add_error(None, error)
        return
    for name, errors in error.error_dict.items():
        form.add_error(name if name in form.fields else None, errors)


# Making pages ----------------------------------------------------------------------------


def blank_page(
    request: BreweryRequest, entry: A, about: str = "", known: Mapping[str, str] | None = None
) -> EntryPage[A]:
    """The entry as opened: fields named in the address are filled in, else what is `known`.

    `?lot=` stands for the field called `about`, in the form or in its first row. Rows are
    named as they are sent, with `<lines>-rows`, or their fields by themselves for the first.
    """
    given = dict(known or {}) | {name: value for name, value in request.GET.items() if value}
    if "lot" in given and about:
        given.setdefault(about, given["lot"])
    form = _form(request, entry.form, initial=_only(given, entry.form))
    for name in form.initial:
        given.pop(name)
    rows = []
    for lines in entry.lines:
        count = max(lines.blank_rows, lines.least)
        if f"{lines.name}-rows" in given:
            rows.append(_unbound_rows(request, lines, _typed_rows(_sent(request), lines), count))
            continue
        first = _only(given, lines.form)
        for name in first:
            # What the first rows take is not offered to the rows below them again.
            given.pop(name)
        rows.append(_unbound_rows(request, lines, [first] if first else [], count))
    return EntryPage(entry, form, rows)


def prefilled_page(
    request: BreweryRequest,
    entry: A,
    initial: dict[str, str],
    initial_rows: dict[str, list[dict[str, str]]],
) -> EntryPage[A]:
    """The form and its rows, filled in from what is known."""
    form = _form(request, entry.form, initial=initial)
    rows = [
        _unbound_rows(request, lines, initial_rows.get(lines.name, []), lines.blank_rows)
        for lines in entry.lines
    ]
    return EntryPage(entry, form, rows)


def longer_page(request: BreweryRequest, entry: A, name: str) -> EntryPage[A]:
    """What was typed, unchecked, with more rows for the lines called `name`."""
    return typed_page(request, entry, _sent(request), name)


def typed_page(
    request: BreweryRequest, entry: A, typed: QueryDict, longer: str = ""
) -> EntryPage[A]:
    """The form and its rows as typed, now or earlier, unchecked."""
    form = _form(request, entry.form, initial=_typed(typed, entry.form))
    rows = []
    for lines in entry.lines:
        initials = _typed_rows(typed, lines)
        more = lines.blank_rows if lines.name == longer else 0
        rows.append(_unbound_rows(request, lines, initials, min(len(initials) + more, MOST_ROWS)))
    return EntryPage(entry, form, rows)


def sent_page(request: BreweryRequest, entry: A) -> EntryPage[A]:
    """What was sent, ready to be checked."""
    sent = _sent(request)
    form = _form(request, entry.form, sent, request.FILES)
    rows = [
        Rows(
            lines,
            [
                _form(
                    request,
                    lines.form,
                    sent,
                    request.FILES,
                    prefix=f"{lines.name}-{number}",
                    empty_permitted=True,
                    use_required_attribute=False,
                )
                for number in range(_count(sent, lines))
            ],
        )
        for lines in entry.lines
    ]
    return EntryPage(entry, form, rows)


def _form(
    request: BreweryRequest, form_class: type[EntryForm], *data: Any, **options: Any
) -> EntryForm:
    return form_class(*data, actor=request.user, brewery=request.brewery, **options)


def _unbound_rows(
    request: BreweryRequest, lines: Lines, initials: list[dict[str, Any]], count: int
) -> Rows:
    return Rows(
        lines,
        [
            _form(
                request,
                lines.form,
                prefix=f"{lines.name}-{number}",
                initial=initials[number] if number < len(initials) else None,
            )
            for number in range(max(count, len(initials)))
        ],
    )


def _sent(request: BreweryRequest) -> QueryDict:
    return request.POST if request.method == "POST" else request.GET


def _typed_rows(sent: QueryDict, lines: Lines) -> list[dict[str, Any]]:
    """The rows as they were sent, unread."""
    return [
        _typed(sent, lines.form, f"{lines.name}-{number}") for number in range(_count(sent, lines))
    ]


def _count(data: QueryDict, lines: Lines) -> int:
    """How many rows were sent; as many as an empty form has where that cannot be read."""
    sent = data.get(f"{lines.name}-rows", "")
    count = int(sent) if sent.isascii() and sent.isdigit() else lines.blank_rows
    return min(count, MOST_ROWS)


def _only(given: dict[str, Any], form_class: type[EntryForm]) -> dict[str, Any]:
    return {name: value for name, value in given.items() if name in form_class.base_fields}


def _typed(sent: QueryDict, form_class: type[EntryForm], prefix: str = "") -> dict[str, Any]:
    """The form's fields as they were sent, unread."""
    return {
        name: sent.get(f"{prefix}-{name}" if prefix else name, "")
        for name in form_class.base_fields
    }
