"""Labels: stock, printing, counting what became of them, and whether it adds up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Sum
from django.utils import timezone

from brewlog.domain.lots import flag, refuse_future, save_new
from brewlog.domain.refusals import bottles_of, refuse_before
from brewlog.gs1 import Gs1Error, gtin14
from brewlog.models import BottlingLot, Lot, ReviewFlag, User
from brewlog.recording import Refused, recording
from brewlog.when import When
from compliance.documents.barcodes import BarcodeError
from compliance.documents.label_run import as_printed
from compliance.domain.labelling import refuse_unlabelled
from compliance.label_stock import MOST_LABELS, SHEETS, LabelError
from compliance.models import LabelCount, Labelled, LabelRun, LabelSheet

# Labels beyond the bottles that nobody need explain, for spoiling: so many, or a tenth
# (common practice).
_SPARE = 8


# Stock ---------------------------------------------------------------------------------------


def add_sheet(*, actor: User, reason: str = "", **fields: Any) -> LabelSheet:
    """Write down the brewery's own label stock. Raises `Refused` for measures that cannot be."""
    with recording(actor, reason):
        sheet = LabelSheet(**{name: value for name, value in fields.items() if value is not None})
        try:
            sheet.geometry  # noqa: B018 measured for what it raises
        except LabelError as error:
            raise Refused(f"{error} Measure again, from edge to edge, in millimetres.") from None
        save_new(sheet)
        return sheet


def next_free(sheet: LabelSheet | None, stock: str, per_page: int) -> int:
    """The first free place of the sheet that was printed on last; 1 where it was used up."""
    runs = LabelRun.objects.live().filter(sheet=sheet, stock="" if sheet else stock)
    last = runs.order_by("-id").first()
    return 1 if last is None else (last.start - 1 + last.count) % per_page + 1


# Printing ------------------------------------------------------------------------------------


def print_labels(
    *,
    actor: User,
    lot: Lot,
    when: When,
    count: int,
    what: str = Labelled.BOTTLE,
    sheet: LabelSheet | None = None,
    stock: str = "a4",
    start: int | None = None,
    per_case: int | None = None,
    case_gtin: str = "",
    symbol: str = "data_matrix",
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> LabelRun:
    """Record that labels of a lot are printed, and what they say; the PDF is drawn from this
    record.

    `stock` is a usual one, for where no `sheet` of the brewery's own is named. Raises `Refused` for
    a lot that must not be labelled, and for more labels than there are bottles to put them on
    where the note does not say why; and for a label that has no room for what it must say.
    """
    refuse_future(when)
    refuse_unlabelled(lot)
    bottles = bottles_of(lot)
    refuse_before(bottles, when)
    geometry = sheet.geometry if sheet is not None else SHEETS[stock]
    if not 1 <= count <= MOST_LABELS:
        raise Refused({"count": f"Print 1 to {MOST_LABELS} labels at a time."})
    in_case = _in_case(what, per_case)
    place = start or next_free(sheet, stock, geometry.per_page)
    if place > geometry.per_page:
        raise Refused({"start": f"A sheet of {geometry.name} has places 1 to {geometry.per_page}."})
    with recording(actor, reason):
        beyond = _beyond_need(bottles, what, in_case, count)
        if beyond and not note.strip():
            raise Refused({"note": f"{beyond}. Write in the note why so many are printed."})
        run = LabelRun(
            lot_id=bottles.pk,
            what=what,
            per_case=in_case,
            case_gtin=_gtin(case_gtin),
            sheet=sheet,
            stock="" if sheet else stock,
            symbol=symbol,
            count=count,
            start=place,
            done_by=done_by or actor,
            note=note,
        )
        run.when = when
        run.printed = _as_printed(run, actor)
        save_new(run)
        return run


def printed_elsewhere(
    *,
    actor: User,
    lot: Lot,
    when: When,
    count: int,
    what: str = Labelled.BOTTLE,
    per_case: int | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> LabelRun:
    """Write down labels of a lot that were printed elsewhere: by a printing house, or before this
    record was kept. What they said is not kept, so they cannot be printed again from here.

    It has happened, so nothing of it is refused: more of them than there are bottles to put them
    on, where the note does not say why, are put before a reviewer.
    """
    refuse_future(when)
    bottles = bottles_of(lot)
    in_case = _in_case(what, per_case)
    with recording(actor, reason):
        beyond = _beyond_need(bottles, what, in_case, count)
        run = LabelRun(
            lot_id=bottles.pk,
            what=what,
            per_case=in_case,
            count=count,
            done_by=done_by or actor,
            note=note,
        )
        run.when = when
        save_new(run)
        if beyond and not note.strip():
            flag(bottles, ReviewFlag.Kind.OTHER, f"{count} labels printed elsewhere: {beyond}")
        return run


def _in_case(what: str, per_case: int | None) -> int:
    """How many bottles are in a case; 0 for the labels of bottles."""
    if what != Labelled.CASE:
        return 0
    if not per_case:
        raise Refused({"per_case": "Write how many bottles are in a case."})
    return per_case


def _as_printed(run: LabelRun, by: User) -> str:
    try:
        return as_printed(run, printed_by=by, printed_at=timezone.now()).to_json()
    except (LabelError, BarcodeError) as error:
        raise Refused(str(error)) from None


def _gtin(typed: str) -> str:
    if not typed:
        return ""
    try:
        return gtin14(typed)
    except Gs1Error as error:
        raise Refused({"case_gtin": str(error)}) from None


def _beyond_need(bottles: BottlingLot, what: str, per_case: int, count: int) -> str:
    """More labels than there are bottles or cases to put them on, in words; '' for fewer."""
    wanted = bottles.made or 0
    if what == Labelled.CASE:
        wanted = -(-wanted // per_case)
    before = tally(bottles, what).printed
    if before + count <= wanted + max(_SPARE, wanted // 10):
        return ""
    printed = f"; {before} are printed already, and this makes {before + count}" if before else ""
    return f"{wanted} are needed{printed}"


# What became of them -------------------------------------------------------------------------


def count_labels(
    *,
    actor: User,
    lot: Lot,
    when: When,
    put_on: int,
    what: str = Labelled.BOTTLE,
    spoiled: int | None = None,
    destroyed: int | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> LabelCount:
    """Write down what became of printed labels. What does not add up is put before a
    reviewer: labels of another lot may have been among them."""
    refuse_future(when)
    bottles = bottles_of(lot)
    refuse_before(bottles, when)
    with recording(actor, reason):
        found = LabelCount(
            lot_id=bottles.pk,
            what=what,
            put_on=put_on,
            spoiled=spoiled or 0,
            destroyed=destroyed or 0,
            done_by=done_by or actor,
            note=note,
        )
        found.when = when
        save_new(found)
        wrong = tally(bottles, what).too_many
        if wrong:
            flag(bottles, ReviewFlag.Kind.OTHER, wrong)
        return found


@dataclass(frozen=True)
class Tally:
    """A lot's labels of one sort: what was printed, what became of them, what was filled.

    `filled` is None for cases: how many there were nobody counts.
    """

    filled: int | None
    printed: int
    put_on: int
    spoiled: int
    destroyed: int

    @property
    def told(self) -> int:
        return self.put_on + self.spoiled + self.destroyed

    @property
    def open(self) -> int:
        """How many are printed of which nothing is told yet."""
        return self.printed - self.told

    @property
    def too_many(self) -> str:
        """More than there can be, in words; '' where nothing is wrong."""
        if self.told > self.printed:
            return (
                f"{self.told} labels put on, spoiled or destroyed, and {self.printed} were "
                "printed: labels of another lot may be among them"
            )
        if self.filled is not None and self.put_on > self.filled:
            return f"{self.put_on} labels put on, and {self.filled} bottles were filled"
        return ""

    @property
    def in_words(self) -> str:
        """Whether it adds up."""
        if self.too_many:
            return self.too_many
        if self.open:
            return f"{self.open} printed labels are not accounted for yet"
        if self.filled is not None and self.put_on < self.filled:
            return f"{self.filled - self.put_on} bottles have no label"
        return "it adds up"


def tally(bottles: BottlingLot, what: str) -> Tally:
    """What was printed for a lot and what became of it."""
    runs = LabelRun.objects.live().filter(lot=bottles.pk, what=what)
    counts = LabelCount.objects.live().filter(lot=bottles.pk, what=what)
    told = counts.aggregate(
        on=Sum("put_on", default=0), bad=Sum("spoiled", default=0), left=Sum("destroyed", default=0)
    )
    return Tally(
        filled=bottles.made if what == Labelled.BOTTLE else None,
        printed=runs.aggregate(sum=Sum("count", default=0))["sum"],
        put_on=told["on"],
        spoiled=told["bad"],
        destroyed=told["left"],
    )
