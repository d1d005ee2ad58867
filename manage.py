#!/usr/bin/env python3
"""Run brewlog's commands: `python manage.py demo` is the place to start."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "brewlog.settings")
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as error:
        sys.exit(f"brewlog cannot start. {error}")


if __name__ == "__main__":
    main()
