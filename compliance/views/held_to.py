"""What an entry will be held against, with the reason behind each limit, beside its form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils import timezone

from brewlog.models import Lot, LotKind, Measurand, ProcessStep, Stage
from brewlog.views.judged import HeldTo
from compliance.domain.rulesets import rules
from compliance.models import Limit, LimitKind
from compliance.views.wording import asks, deadline, reading_word, ruleset_url, sentence


@dataclass(frozen=True)
class _About:
    """The limits of some kinds, narrowed by each name that is not ''."""

    kinds: tuple[LimitKind, ...]
    measurand: str = ""
    lot_kind: str = ""
    stage: str = ""
    step: str = ""

    def takes(self, limit: Limit) -> bool:
        names = ("measurand", "lot_kind", "stage", "step")
        return limit.kind in self.kinds and all(
            getattr(self, name) in ("", getattr(limit, name)) for name in names
        )


_OF_RESULTS = (
    LimitKind.VALUE,
    LimitKind.PEAK,
    LimitKind.SHELF_LIFE,
    LimitKind.LAB_AGE,
    LimitKind.LABEL,
)
_OF_READINGS = (
    LimitKind.VALUE,
    LimitKind.BY_DEADLINE,
    LimitKind.PRESENCE,
    LimitKind.TREND,
    LimitKind.SAMPLE_TEMPERATURE,
    LimitKind.CALIBRATION,
    LimitKind.INSTRUMENT,
)
_PLACE = _About((LimitKind.PLACE_TEMPERATURE,))
_BALANCE = _About((LimitKind.BALANCE,))
_STARTER = (
    _About((LimitKind.GENERATION, LimitKind.CULTURE_AGE)),
    _About((LimitKind.CONDITION,), lot_kind=LotKind.CULTURE),
)
_BOTTLING = (
    _About((LimitKind.PRESSURE,)),
    _About((LimitKind.VALUE,), stage=Stage.BOTTLING),
    _About((LimitKind.PEAK,), Measurand.ALCOHOL, lot_kind=LotKind.BOTTLING),
    _BALANCE,
)
_LABEL = _About((LimitKind.LABEL,))

# By the slug of the entry. What a reading, a result or a step is about is in its form.
_OF_ENTRIES: dict[str, tuple[_About, ...]] = {
    "brew": (_About((LimitKind.STEP_TEMPERATURE,), step=ProcessStep.Kind.STEEP),),
    "pitch": (
        _About((LimitKind.STARTER_SHARE,)),
        _About((LimitKind.STEP_TEMPERATURE,), step=ProcessStep.Kind.PITCH),
        _About((LimitKind.VALUE,), stage=Stage.PITCH),
        *_STARTER,
    ),
    "feed": _STARTER,
    "pool": _STARTER,
    "keep-back": _STARTER,
    "split-backup": _STARTER,
    "condition": (_About((LimitKind.CONDITION,)),),
    "alcohol-estimate": (_About((LimitKind.PEAK, LimitKind.SHELF_LIFE), Measurand.ALCOHOL),),
    "bottle": _BOTTLING,
    "bottle-one": _BOTTLING,
    "format": (_About((LimitKind.PRESSURE,)),),
    "move": (_PLACE,),
    "location": (_PLACE,),
    "flavour": (_LABEL,),
    "print-labels": (_LABEL,),
    "labels-elsewhere": (_LABEL,),
    "calibrate": (_About((LimitKind.CALIBRATION, LimitKind.INSTRUMENT)),),
    "calibration-point": (_About((LimitKind.CALIBRATION, LimitKind.INSTRUMENT)),),
    "adjust": (_BALANCE,),
    "count": (_BALANCE,),
    "transfer": (_BALANCE,),
}


def held_to(slug: str, typed: Mapping[str, str], lots: Sequence[Lot]) -> list[HeldTo]:
    """The limits in force on the days the lots began, today where none is named."""
    wanted = _wanted(slug, typed, lots)
    if not wanted:
        return []
    bound = rules()
    found = {
        limit.pk: limit
        for lot in lots or (None,)
        for limit in bound.on(timezone.localdate(lot.happened_at if lot else None))
        if any(about.takes(limit) for about in wanted) and _fits(slug, limit, lot)
    }
    return [_shown(limit) for limit in found.values()]


def _wanted(slug: str, typed: Mapping[str, str], lots: Sequence[Lot]) -> tuple[_About, ...]:
    if slug == "reading":
        measurand = typed.get("measurand", "")
        if lots:
            return (_About(_OF_READINGS, measurand),)
        return (_About(_PLACE.kinds, measurand),) if typed.get("location") else ()
    if slug == "lab-result":
        return (_About(_OF_RESULTS, typed.get("measurand", "")),)
    if slug == "step":
        return (_About((LimitKind.STEP_TEMPERATURE,), step=typed.get("kind", "")),)
    return _OF_ENTRIES.get(slug, ())


# Where the lot of the form is what is looked at; elsewhere it is what another is made from.
_OF_ITS_LOT = {"reading", "lab-result", "alcohol-estimate", "condition", "step"}


def _fits(slug: str, limit: Limit, lot: Lot | None) -> bool:
    return lot is None or slug not in _OF_ITS_LOT or limit.lot_kind in ("", lot.kind)


def _shown(limit: Limit) -> HeldTo:
    sure = reading_word(limit)
    # Of a habit of the trade there is no more to cite than that it is one.
    cited = [] if limit.citation == sure.text else [limit.citation]
    return HeldTo(
        text=f"{sentence(limit.title)}: {asks(limit)} {deadline(limit)}".strip(),
        because=limit.because,
        source=": ".join([str(limit.ruleset), *cited]),
        sure=sure,
        url=f"{ruleset_url(limit.ruleset)}#limit-{limit.pk}",
    )
