"""What the commands that answer a question share: finding the lot, and saying it."""

from __future__ import annotations

import dataclasses
import datetime as dt
import difflib
import json
import sys
from argparse import ArgumentParser
from typing import IO, Any, cast

from django.core.management.base import BaseCommand, CommandError, OutputWrapper
from rich.console import Console

from brewlog.models import Brewery, Lot
from brewlog.units import CANONICAL_UNIT, Dimension
from brewlog.when import When, WhenError, parse_when

FOUND, _UNKNOWN = 0, 1
_WIDTH_IN_A_FILE = 160


def console_on(stream: OutputWrapper) -> Console:
    """A console on a command's stream: as wide as the terminal, plain and wide in a file."""
    width = None if stream.isatty() else _WIDTH_IN_A_FILE
    return Console(file=cast("IO[str]", stream), highlight=False, width=width)


def brewery_zone() -> dt.tzinfo:
    """The brewery's time zone; UTC before it is set up."""
    brewery = Brewery.objects.first()
    return brewery.zone if brewery else dt.UTC


def lot_asked_for(command: BaseCommand, code: str) -> Lot:
    """The lot of that code. Where there is none the command says so and ends (exit code 1)."""
    lot = Lot.objects.coded(code)
    if lot is None:
        command.stderr.write(_unknown_code(code))
        sys.exit(_UNKNOWN)
    return lot


def add_since(parser: ArgumentParser) -> None:
    """`--since`, read by `suspect_since`."""
    parser.add_argument(
        "--since", default="", help="suspect only from then on: its last good check"
    )


def _unknown_code(code: str) -> str:
    """What to say of a lot code that is not there, with the nearest that are."""
    codes = {each.upper(): each for each in Lot.objects.live().values_list("code", flat=True)}
    near = difflib.get_close_matches(code.strip().upper(), codes, n=5, cutoff=0.5)
    if not near:
        return f"No lot has the code {code}."
    return f"No lot has the code {code}. Near it: {', '.join(codes[each] for each in near)}."


def as_json(**answers: Any) -> str:
    """Named dataclasses, or tuples of them, as one JSON object.

    Times are ISO with their precision, amounts canonical units, named beside them.
    """
    plain = {name: _as_plain(answer) for name, answer in answers.items()}
    return json.dumps(plain, indent=2, default=str)


def _as_plain(answer: Any) -> Any:
    if isinstance(answer, tuple):
        return [_as_plain(each) for each in answer]
    return dataclasses.asdict(answer, dict_factory=_plain)


def _plain(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    plain = dict(pairs)
    if plain.keys() == {"at", "precision"}:
        return {"at": plain["at"].isoformat(), "precision": str(plain["precision"])}
    if "dimension" in plain:
        plain["unit"] = CANONICAL_UNIT[Dimension(plain["dimension"])] or "pieces"
    return plain


def suspect_since(text: str) -> When | None:
    """The `--since` of a command. Raises `CommandError` (exit code 2) for what is no time."""
    if not text:
        return None
    brewery = Brewery.objects.first()
    try:
        return parse_when(text, day_first=brewery.day_first if brewery else True)
    except WhenError as error:
        raise CommandError(str(error), returncode=2) from None


def when_text(when: When | None) -> str:
    """A time as the brewery reads it; nothing for none."""
    return str(when) if when else ""
