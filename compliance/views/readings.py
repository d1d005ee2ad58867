"""What the limits say of a reading, in the words of the floor: clear, too close, outside."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils import timezone

from brewlog.models import Checkpoint, Lot
from brewlog.views.judged import Said
from brewlog.views.lists import Word
from brewlog.when import When
from compliance.assessment.hearing import Heard, hear, holds_values
from compliance.decision import PLAIN, Verdict
from compliance.domain.rulesets import rules
from compliance.models import Limit, LimitKind
from compliance.views.wording import deadline, finding_url, sentence, tidy

_AGAIN = "Rinse the probe, take a fresh sample and measure again."
_OUTSIDE = (
    "Measure a second sample now. If the number was mistyped, void it and say why; if it is "
    "right, the lot stays apart until a reviewer decides."
)
_MET_BEFORE = "It was inside before. " + _AGAIN


def judge(readings: Sequence[Checkpoint]) -> dict[int, list[Said]]:
    """What the limits say of each reading, by its key."""
    if not readings:
        return {}
    return {
        # What is said of the value itself stands before what is said of how it was measured.
        key: [_said(each) for each in sorted(heard, key=lambda each: each.judged is None)]
        for key, heard in hear(readings).items()
    }


def _said(heard: Heard) -> Said:
    url = finding_url(heard.finding) if heard.finding else ""
    if heard.judged is None:
        assert heard.finding is not None
        text = f"{heard.limit.title}: {heard.finding.text}"
        return Said(Word("needs a look", "look"), tidy(text), heard.limit.clears, url)
    word, step = _word_and_step(heard)
    doubt = f"; {heard.judged.doubt}" if heard.judged.doubt else ""
    text = (
        f"{heard.judged.shown}{doubt}. Limit {heard.limit.comparison} "
        f"{deadline(heard.limit)} ({heard.limit.title})"
    )
    return Said(word, " ".join(tidy(text).split()), step, url)


def _word_and_step(heard: Heard) -> tuple[Word, str]:
    judged, limit = heard.judged, heard.limit
    assert judged is not None
    if judged.conforms:
        return Word(PLAIN[Verdict.CONFORMS], "good"), ""
    if heard.due is not None:
        return Word("not there yet"), f"Read it again by {When(heard.due)}."
    if limit.kind == LimitKind.BY_DEADLINE and heard.finding is None:
        return Word("measure again", "look"), _MET_BEFORE
    if judged.verdict is Verdict.NEEDS_REVIEW:
        return Word(PLAIN[Verdict.NEEDS_REVIEW], "look"), _AGAIN
    if limit.consequence == Limit.Consequence.CRITICAL:
        return Word(PLAIN[Verdict.FAILS], "stop"), _OUTSIDE
    return Word(PLAIN[Verdict.FAILS], "look"), limit.clears


def limits_of(lots: Sequence[Lot], measurand: str) -> dict[int, list[str]]:
    """What a reading of each lot is held against, by the lot's key."""
    bound = rules()
    return {
        lot.pk: [
            _beside(limit)
            for limit in bound.on(timezone.localtime(lot.happened_at).date())
            if holds_values(limit, lot, measurand)
        ]
        for lot in lots
    }


def _beside(limit: Limit) -> str:
    return " ".join(f"{sentence(limit.title)}: {tidy(limit.comparison)} {deadline(limit)}".split())
