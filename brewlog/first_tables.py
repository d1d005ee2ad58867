"""The first migration's tables, made at once.

Django draws every model anew after each operation of a migration; with a hundred models
that point at each other a new database took half a minute, made so it takes two seconds.
"""

from __future__ import annotations

from typing import Any

from django.db.migrations.operations.base import Operation
from django.db.migrations.operations.models import CreateModel


class MakeTables(Operation):
    """Carry out operations that make tables, fields, indexes and constraints, as one."""

    serialization_expand_args = ["operations"]
    reduces_to_sql = True
    reversible = False

    def __init__(self, operations: list[Operation]) -> None:
        self.operations = operations

    def deconstruct(self) -> tuple[str, list[Any], dict[str, Any]]:
        return (type(self).__name__, [self.operations], {})

    def state_forwards(self, app_label: str, state: Any) -> None:
        # The models are drawn when they are asked for: once, when all are there.
        state.__dict__.pop("apps", None)
        for operation in self.operations:
            operation.state_forwards(app_label, state)

    def database_forwards(
        self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any
    ) -> None:
        for operation in self.operations:
            if isinstance(operation, CreateModel):
                model = to_state.apps.get_model(app_label, operation.name)
                if self.allow_migrate_model(schema_editor.connection.alias, model):
                    schema_editor.create_model(model)

    def describe(self) -> str:
        return f"Make {sum(isinstance(each, CreateModel) for each in self.operations)} tables"
