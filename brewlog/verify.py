"""Whether the records are as the verbs wrote them: what a constraint cannot say.

The door (`recording`) and the database's constraints keep the records sound while they
are written through the program. This looks at them afterwards: for what was changed
past the door, by hand or by a damaged disk, and for times and links that cannot be.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any, ClassVar

from django.apps import apps
from django.db import connection, models
from django.db.models import F, Q
from django.utils import timezone

from brewlog.kept_files import digest_of
from brewlog.models import (
    Brewery,
    ConditionCheck,
    Lot,
    LotKind,
    LotUse,
    ShipmentLine,
    StockAdjustment,
)
from brewlog.models.base import Guarded
from brewlog.recording import reading
from brewlog.units import Dimension
from brewlog.when import When

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Finding:
    """Something no verb can have written. `kind` is a word for scripts."""

    kind: ClassVar[str]


@dataclass(frozen=True)
class UseBeforeSource(Finding):
    """An amount was taken from a lot before it came to exist."""

    kind = "use-before-source"
    use_id: int
    source: str
    into: str
    used: When
    began: When

    def __str__(self) -> str:
        return (
            f"Use {self.use_id}: {self.source} went into {self.into} on {self.used}, "
            f"before it came to exist on {self.began}."
        )


@dataclass(frozen=True)
class Circle(Finding):
    """Lots that were made from themselves."""

    kind = "circle"
    codes: tuple[str, ...]

    def __str__(self) -> str:
        return f"Lots made from themselves: {', '.join(self.codes)}."


@dataclass(frozen=True)
class Altered(Finding):
    """The record is not what its newest version in the history says."""

    kind = "altered"
    record: str
    fields: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.record} was altered past its history: {', '.join(self.fields)}."


@dataclass(frozen=True)
class NoHistory(Finding):
    """The record is there and nothing says who wrote it."""

    kind = "no-history"
    record: str

    def __str__(self) -> str:
        return f"{self.record} has no history."


@dataclass(frozen=True)
class Vanished(Finding):
    """The history tells of a record that is gone."""

    kind = "vanished"
    record: str

    def __str__(self) -> str:
        return f"{self.record} is in the history and gone from the records."


@dataclass(frozen=True)
class Unsigned(Finding):
    """A version in the history without the person who wrote it."""

    kind = "unsigned"
    record: str

    def __str__(self) -> str:
        return f"{self.record} has a version that nobody signed."


@dataclass(frozen=True)
class PhotoChanged(Finding):
    """A photograph is gone, or is not the one that was kept with the check."""

    kind = "photo-changed"
    record: str
    name: str

    def __str__(self) -> str:
        return f"{self.record}: its photo {self.name} is gone or was changed."


@dataclass(frozen=True)
class WrongChild(Finding):
    """A lot and the row that says what it is do not fit together."""

    kind = "wrong-child"
    code: str
    text: str

    def __str__(self) -> str:
        return f"Lot {self.code}: {self.text}."


@dataclass(frozen=True)
class VoidedInUse(Finding):
    """A lot was voided and is still used, shipped or adjusted."""

    kind = "voided-in-use"
    code: str
    record: str

    def __str__(self) -> str:
        return f"Lot {self.code} is voided, yet {self.record} is not."


@dataclass(frozen=True)
class DanglingLink(Finding):
    """A row points at one that is not there."""

    kind = "dangling-link"
    table: str
    row: int
    target: str

    def __str__(self) -> str:
        return f"Row {self.row} of {self.table} points at a row of {self.target} that is gone."


def verify(progress: Progress = lambda step: None) -> list[Finding]:
    """Everything that is wrong with the records, from one picture of them.

    `progress` is told each step as it begins. An empty list is a clean bill.
    """
    brewery = Brewery.objects.first()
    found: list[Finding] = []
    with reading(), timezone.override(brewery.zone if brewery else "UTC"):
        for step, check in _steps():
            progress(step)
            found += check()
    return found


def _steps() -> list[tuple[str, Callable[[], Iterable[Finding]]]]:
    steps: list[tuple[str, Callable[[], Iterable[Finding]]]] = [
        ("links", _dangling_links),
        ("lots", _wrong_children),
        ("voids", _voided_in_use),
        ("times of uses", _uses_before_source),
        ("circles", _circles),
        ("photos", _photos),
    ]
    for model in recorded_models():
        steps.append((f"history of {model._meta.verbose_name_plural}", _History(model).findings))
    return steps


def recorded_models() -> list[type[models.Model]]:
    """Every model with a history of its own."""
    return [
        model
        for model in apps.get_models()
        if issubclass(model, Guarded) and hasattr(model._meta, "simple_history_manager_attribute")
    ]


# Links and lots --------------------------------------------------------------------------


def _dangling_links() -> Iterator[Finding]:
    """SQLite lets a link dangle where foreign keys were off; PostgreSQL never does."""
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA foreign_key_check")
        for table, row, target, _ in cursor.fetchall():
            yield DanglingLink(table, row, target)


_MEASURED_BY = {
    LotKind.PREPARATION: {Dimension.MASS, Dimension.VOLUME},
    LotKind.CULTURE: {Dimension.VOLUME},
    LotKind.BREW: {Dimension.VOLUME},
    LotKind.BATCH: {Dimension.VOLUME},
    LotKind.BOTTLING: {Dimension.COUNT},
}


def _wrong_children() -> Iterator[Finding]:
    for kind in LotKind:
        child = f"as_{kind.value}"
        for code in _codes(Lot.objects.filter(kind=kind, **{f"{child}__isnull": True})):
            yield WrongChild(code, f"is a {kind.label}, but there is no such row")
        for code in _codes(Lot.objects.exclude(kind=kind).filter(**{f"{child}__isnull": False})):
            yield WrongChild(code, f"is a {kind.label} besides what it says it is")
    for kind, dimensions in _MEASURED_BY.items():
        for code in _codes(Lot.objects.filter(kind=kind).exclude(dimension__in=dimensions)):
            yield WrongChild(code, f"is a {kind.label}, which is not measured so")
    of_ingredients = Lot.objects.filter(as_ingredient__isnull=False)
    for code in _codes(of_ingredients.exclude(dimension=F("as_ingredient__ingredient__dimension"))):
        yield WrongChild(code, "is not measured as its ingredient is")


def _codes(lots: models.QuerySet[Lot]) -> Iterator[str]:
    return lots.order_by("pk").values_list("code", flat=True).iterator()


def _voided_in_use() -> Iterator[Finding]:
    for model, link in (
        (LotUse, "source"),
        (LotUse, "into"),
        (ShipmentLine, "lot"),
        (StockAdjustment, "lot"),
    ):
        rows = model._default_manager.filter(
            voided_at__isnull=True, **{f"{link}__voided_at__isnull": False}
        )
        for pk, code in rows.order_by("pk").values_list("pk", f"{link}__code"):
            yield VoidedInUse(code, _named(model, pk))


def _named(model: type[models.Model], pk: int) -> str:
    return f"{model._meta.verbose_name} {pk}"


def _photos() -> Iterator[Finding]:
    for check in ConditionCheck.objects.exclude(photo_digest="").order_by("pk"):
        if not _is_as_kept(check):
            yield PhotoChanged(_named(ConditionCheck, check.pk), str(check.photo))


def _is_as_kept(check: ConditionCheck) -> bool:
    try:
        with check.photo.open("rb") as file:
            return digest_of(file) == check.photo_digest
    except OSError:
        return False


# Uses ------------------------------------------------------------------------------------


def _uses_before_source() -> Iterator[Finding]:
    # Only an earlier start can be provably earlier; the precision is looked at here.
    earlier = LotUse.objects.live().filter(happened_at__lt=F("source__happened_at"))
    for use in earlier.select_related("source", "into").order_by("pk"):
        if use.when.provably_before(use.source.when):
            yield UseBeforeSource(use.pk, use.source.code, use.into.code, use.when, use.source.when)


def _circles() -> Iterator[Finding]:
    edges = LotUse.objects.live().order_by().values_list("source", "into")
    for lots in circles(edges.iterator()):
        yield Circle(tuple(_codes(Lot.objects.filter(pk__in=lots))))


def circles(edges: Iterable[tuple[int, int]]) -> list[set[int]]:
    """The sets of lots that were made from themselves, from (source, into) pairs.

    Lots nothing is made from and lots made from nothing are peeled off until only
    circles, and what lies between two of them, are left.
    """
    down: dict[int, set[int]] = defaultdict(set)
    up: dict[int, set[int]] = defaultdict(set)
    for source, into in edges:
        down[source].add(into)
        up[into].add(source)
    _peel(down, up)
    _peel(up, down)
    found = []
    left = set(down) | set(up)
    while left:
        joined, waiting = set(), [left.pop()]
        while waiting:
            lot = waiting.pop()
            joined.add(lot)
            near = (down.get(lot, set()) | up.get(lot, set())) & left
            left -= near
            waiting += near
        found.append(joined)
    return found


def _peel(along: dict[int, set[int]], against: dict[int, set[int]]) -> None:
    """Take out, one after the other, the lots that have no way in."""
    free = [lot for lot in along if lot not in against]
    while free:
        lot = free.pop()
        for following in along.pop(lot, set()):
            against[following].discard(lot)
            if not against[following]:
                del against[following]
                free.append(following)


# History ---------------------------------------------------------------------------------


class _History:
    """One model's records beside the newest versions in its history, compared in SQL."""

    def __init__(self, model: type[models.Model]) -> None:
        self.model = model
        self.versions: Any = model.history.model  # type: ignore[attr-defined]
        self.key: str = _key(model)

    def findings(self) -> Iterator[Finding]:
        yield from self._against_newest()
        yield from self._vanished()
        unsigned = self.versions.objects.filter(Q(history_user__isnull=True))
        for pk in unsigned.order_by("history_id").values_list(
            self.model._meta.pk.attname, flat=True
        ):
            yield Unsigned(_named(self.model, pk))

    def _against_newest(self) -> Iterator[Finding]:
        fields = [f for f in self.versions.tracked_fields if f.column != self.key]
        differs = "IS NOT" if connection.vendor == "sqlite" else "IS DISTINCT FROM"
        columns = [
            (self._live_column(field.name), _quoted("newest", field.column)) for field in fields
        ]
        flags = [f"({live} {differs} {kept})" for live, kept in columns]
        key, history_id = _quoted("live", self.key), _quoted("newest", "history_id")
        with connection.cursor() as cursor:
            cursor.execute(
                f"SELECT {key}, {history_id} IS NULL, {', '.join(flags)} "
                f"FROM {self._live_tables()} LEFT JOIN ({self._newest()}) newest "
                f"ON {_quoted('newest', self.key)} = {key} "
                f"WHERE {history_id} IS NULL OR {' OR '.join(flags)} ORDER BY {key}"
            )
            for pk, has_none, *altered in cursor.fetchall():
                if has_none:
                    yield NoHistory(_named(self.model, pk))
                    continue
                names = [
                    f.name for f, is_altered in zip(fields, altered, strict=True) if is_altered
                ]
                yield Altered(_named(self.model, pk), tuple(names))

    def _vanished(self) -> Iterator[Finding]:
        key = _quoted("kept", self.key)
        with connection.cursor() as cursor:
            cursor.execute(
                f"SELECT DISTINCT {key} FROM {_quoted(self.versions._meta.db_table)} kept "
                f"LEFT JOIN {_quoted(self.model._meta.db_table)} live "
                f"ON {_quoted('live', self.key)} = {key} "
                f"WHERE {_quoted('live', self.key)} IS NULL ORDER BY {key}"
            )
            for (pk,) in cursor.fetchall():
                yield Vanished(_named(self.model, pk))

    def _newest(self) -> str:
        table, key = _quoted(self.versions._meta.db_table), _quoted(self.key)
        return (
            f"SELECT versions.* FROM {table} versions JOIN "
            f"(SELECT MAX(history_id) AS history_id FROM {table} GROUP BY {key}) last "
            "ON last.history_id = versions.history_id"
        )

    def _live_tables(self) -> str:
        """The model's table, with its parent's where a lot has one."""
        tables = f"{_quoted(self.model._meta.db_table)} live"
        parents: dict[Any, Any] = self.model._meta.parents
        for parent, link in parents.items():
            tables += (
                f" JOIN {_quoted(parent._meta.db_table)} parent "
                f"ON {_quoted('parent', _key(parent))} = {_quoted('live', link.column)}"
            )
        return tables

    def _live_column(self, name: str) -> str:
        field: Any = self.model._meta.get_field(name)
        return _quoted("live" if field.model is self.model else "parent", field.column)


def _key(model: Any) -> str:
    return model._meta.pk.column


def _quoted(*names: str) -> str:
    return ".".join(connection.ops.quote_name(name) for name in names)
