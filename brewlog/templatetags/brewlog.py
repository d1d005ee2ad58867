"""Tags of the pages: values in the reader's units and words, and form controls."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django import template
from django.forms import (
    BoundField,
    CheckboxInput,
    FileInput,
    RadioSelect,
    Select,
    Textarea,
    TextInput,
)
from django.utils import timezone
from django.utils.html import escape, format_html
from django.utils.safestring import SafeString, mark_safe

from brewlog.forms.fields import NamedField
from brewlog.scripts import has_right, is_from_right, set_apart, tagged
from brewlog.views.adding import adding
from brewlog.views.chosen import Chosen, chosen_for
from brewlog.views.panels import NAV_LINKS, NavLink
from brewlog.views.reader import Reader, reader_of

register = template.Library()


def _reader(context: template.Context) -> Reader:
    return reader_of(context["request"]) if "request" in context else Reader()


@register.filter
def apart(value: Any) -> Any:
    """Words that may be written from right to left, as they are read: a date or a code beside a
    name keeps its own order. Others are as they were."""
    text = str(value)
    if isinstance(value, SafeString) or not has_right(text):
        return value
    marked = set_apart(_MARKS_TYPED.sub("", text), is_from_right(text))
    return mark_safe(tagged(escape(marked)))  # noqa: S308  escaped just now


# Marks of order that were typed or pasted in: each would open or close a tag here.
_MARKS_TYPED = re.compile("[\u2066-\u2069]")


@register.simple_tag(takes_context=True)
def amount(context: template.Context, canonical: int | None, dimension: str) -> str:
    """A canonical quantity in the reader's units."""
    return _reader(context).amount(canonical, dimension)


@register.simple_tag(takes_context=True)
def temperature(context: template.Context, celsius: Decimal | None) -> str:
    """Degrees in the reader's units."""
    return _reader(context).temperature(celsius)


@register.simple_tag(takes_context=True)
def words(context: template.Context, text: Any) -> str:
    """A sentence, its dates and temperatures as the reader's own; markup stays as it is."""
    return text if isinstance(text, SafeString) else apart(_reader(context).words(text))


@register.simple_tag(takes_context=True)
def show_now(context: template.Context) -> str:
    """This moment, for the foot of what is printed."""
    return _reader(context).moment(timezone.now())


@register.simple_tag(takes_context=True)
def show(context: template.Context, value: Any) -> str:
    """Any value as words: amounts, times, days, yes and no; a dash for nothing."""
    return apart(_reader(context).show(value))


@register.inclusion_tag("brewlog/_when.html", takes_context=True)
def when(context: template.Context, event: Any) -> dict[str, Any]:
    """When an event happened, as closely as known, and whether it was written late."""
    reader = _reader(context)
    return {
        "shown": reader.when(event.when),
        "machine": event.when.at.isoformat(),
        "late": event.is_late,
        "written": reader.moment(event.recorded_at),
    }


@register.filter
def control_kind(field: BoundField) -> str:
    """How the field is laid out: `check`, `area`, `radio`, `select`, `file` or `line`."""
    widget = field.field.widget
    kinds = (
        (CheckboxInput, "check"),
        (Textarea, "area"),
        (RadioSelect, "radio"),
        (Select, "select"),
        (FileInput, "file"),
    )
    return next((kind for widget_type, kind in kinds if isinstance(widget, widget_type)), "line")


@register.filter
def chosen(field: BoundField) -> Chosen | None:
    """The file kept for the field of a form that is shown again."""
    return chosen_for(field)


@register.simple_tag(takes_context=True)
def control(context: template.Context, field: BoundField, datalist: str = "") -> SafeString:
    """The field's control; `datalist` is the id of the list of likely answers.

    Beside a register that is still empty stands the way to put something into it.
    """
    attrs: dict[str, Any] = {}
    if datalist:
        attrs["list"] = datalist
    if field.field.required and control_kind(field) != "check":
        attrs["aria-required"] = "true"
    if isinstance(field.field.widget, Textarea) or type(field.field.widget) is TextInput:
        attrs["dir"] = "auto"  # A name may be written from right to left.
    drawn = field.as_widget(attrs=attrs)
    if isinstance(field.field, NamedField) and drawn.count("<option") == 1:
        return drawn + _nothing_to_choose(context, field.field)
    return drawn


def _nothing_to_choose(context: template.Context, field: NamedField) -> SafeString:
    link = adding(context["request"], field.model) if "request" in context else None
    if link is None:
        return mark_safe("")
    title, address = link
    words = '<p class="help">There is none yet. <a href="{}">{}</a>, and come back here.</p>'
    return format_html(words, address, title)


@register.simple_tag
def further_nav() -> list[NavLink]:
    """Links that other apps put at the head of every page."""
    return NAV_LINKS


@register.filter
def at(mapping: Any, key: Any) -> Any:
    """`mapping[key]`, or '' where it is not there."""
    return mapping.get(key, "")
