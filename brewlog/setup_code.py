"""The one-time code by which the first manager of a new brewery shows who started the server.

`manage.py serve` prints it while nobody can log in. It lives in that server only.
"""

from __future__ import annotations

import secrets

from django.utils.crypto import constant_time_compare

# No letter or figure that is taken for another.
_LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
_MOST_GUESSES = 10


class _Code:
    """The code of this server; an empty one opens nothing."""

    def __init__(self) -> None:
        self.text = ""
        self.guesses_left = 0


_ours = _Code()


def new_code() -> str:
    """A new code in place of any before, like K7MQ-2RTX-9BDA."""
    _ours.text = "-".join("".join(secrets.choice(_LETTERS) for _ in range(4)) for _ in range(3))
    _ours.guesses_left = _MOST_GUESSES
    return _ours.text


def is_open() -> bool:
    """Whether there is a code that may still be typed."""
    return bool(_ours.text) and _ours.guesses_left > 0


def is_right(typed: str) -> bool:
    """Whether that is the code, however it is spaced. After ten wrong ones none is."""
    if not is_open():
        return False
    right = constant_time_compare(_plain(typed), _plain(_ours.text))
    if not right:
        _ours.guesses_left -= 1
    return right


def use_up() -> None:
    """The code has done its work."""
    _ours.text = ""


def _plain(text: str) -> str:
    return "".join(text.upper().split()).replace("-", "")
