"""Filters that show calculated values with as many figures as their uncertainty allows."""

from __future__ import annotations

import math

from django import template

from brewlog.science.results import Result

register = template.Library()


@register.filter
def opening(text: str) -> str:
    """With a capital at the front, as far as the word has one: pH stays pH."""
    return text if text.startswith("pH") else text[:1].upper() + text[1:]


@register.filter
def signed(text: str) -> str:
    """A figure with a minus as wide as its plus."""
    return f"\u2212{text[1:]}" if text[:1] == "-" and text[1:2].isdigit() else text


@register.filter
def figures(value: float) -> str:
    """A number to four significant figures, without an exponent where that can be helped."""
    if value == 0:
        return "0"
    places = 3 - math.floor(math.log10(abs(value)))
    if places > 8 or abs(value) >= 1e9:
        return f"{value:.3e}"
    rounded = round(value, places)
    text = f"{rounded:.{max(places, 0)}f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text).replace("-", "\u2212")


@register.filter
def value_and_uncertainty(result: Result) -> str:
    """`3.41 ± 0.12 pH (95 %)`; without an uncertainty, the value to four figures.

    The uncertainty shown is expanded to 95 % with the result's own coverage factor, to two
    figures as JCGM 100:2008 7.2 asks (from memory); the value is rounded to the same place.
    """
    unit = f" {result.unit}" if result.unit else ""
    u = result.standard_uncertainty
    if not u:
        return f"{figures(result.value)}{unit}"
    expanded = result.coverage_factor * u
    places = max(0, 1 - math.floor(math.log10(expanded)))
    shown = f"{result.value:.{places}f}".replace("-", "\u2212")
    return f"{shown} ± {expanded:.{places}f}{unit} (95 %)"
