"""Write the first migrations anew: `python .ci/first_migrations.py`, before a release only.

`makemigrations` writes the operations, this puts them into one (brewlog/first_tables.py).
"""

import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
APPS = ("brewlog", "compliance")


def main() -> None:
    from django.core.management import call_command
    from django.db.migrations.loader import MigrationLoader
    from django.db.migrations.writer import MigrationWriter

    from brewlog.first_tables import MakeTables

    for app in APPS:
        (ROOT / app / "migrations" / "0001_initial.py").unlink(missing_ok=True)
    call_command("makemigrations", *APPS, verbosity=0)
    for app in APPS:
        migration = MigrationLoader(None).get_migration(app, "0001_initial")
        migration.operations = [MakeTables(migration.operations)]
        writer = MigrationWriter(migration)
        Path(writer.path).write_text(writer.as_string())


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "brewlog.settings")
    import django

    django.setup()
    main()
