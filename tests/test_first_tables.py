"""A database made by the migrations is the one the models describe."""

from __future__ import annotations

import os
import re
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from django.db import connection

ROOT = Path(__file__).resolve().parent.parent
OBJECTS = "SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL AND name != %s"


def parts_of(sql: str) -> list[str]:
    """A statement's columns and constraints, in whatever order they were written."""
    depth, parts = 0, [""]
    for character in re.sub(r"\s+", " ", sql):
        depth += {"(": 1, ")": -1}.get(character, 0)
        if depth == 1 and character in "(,":
            parts.append("")
        else:
            parts[-1] += character
    return sorted(part.strip(" )") for part in parts)


def schema(rows: list[tuple[str, str, str]]) -> dict[tuple[str, str], list[str]]:
    return {(kind, name): parts_of(sql) for kind, name, sql in rows}


@pytest.mark.sqlite
def test_the_migrations_make_the_tables_of_the_models(db, tmp_path):
    kept = {k: v for k, v in os.environ.items() if k in {"PATH", "HOME", "LANG"}}
    subprocess.run(
        [sys.executable, "manage.py", "migrate", "-v0"],
        cwd=ROOT,
        env={**kept, "BREWLOG_DATA": str(tmp_path)},
        check=True,
        timeout=300,
    )
    with closing(sqlite3.connect(tmp_path / "brewlog.sqlite3")) as migrated:
        made = schema(migrated.execute(OBJECTS.replace("%s", "'django_migrations'")).fetchall())
    with connection.cursor() as cursor:
        cursor.execute(OBJECTS, ["django_migrations"])
        described = schema(cursor.fetchall())
    assert made.keys() == described.keys()
    assert {each for each in made if made[each] != described[each]} == set()
