"""What the tests ask of an answer."""

from __future__ import annotations


def table_rows(answer, title):
    """The rows of the answer's table of that title; none where it has no such table."""
    return [row for table in answer.tables if table.title == title for row in table.rows]
