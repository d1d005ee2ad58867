"""Filters and tags of the pages."""

from django import template

register = template.Library()
