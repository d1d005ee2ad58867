"""Which records of this app belong to a lot, for the page of everything written of it."""

from __future__ import annotations

from django.db.models import Q

from brewlog.models import Hold
from brewlog.views.lot_history import Kept, by
from compliance import models


def _deviations(pk: int) -> Q:
    return Q(id__in=models.DeviationLot.objects.filter(lot=pk).values("deviation"))


def _corrections(pk: int) -> Q:
    return Q(deviation__in=models.DeviationLot.objects.filter(lot=pk).values("deviation"))


def _market(pk: int) -> Q:
    return Q(hold__in=Hold.objects.filter(lot=pk).values("pk"))


def _responses(pk: int) -> Q:
    return Q(run__in=models.RecallRun.objects.filter(lot=pk).values("pk"))


OF_LOTS = (
    Kept(models.Deviation, (_deviations,)),
    Kept(models.CorrectiveAction, (_corrections,)),
    Kept(models.MarketDecision, (_market,)),
    Kept(models.RecallResponse, (_responses,)),
    *(
        Kept(each, by("lot"))
        for each in (
            models.DeviationLot,
            models.Disposition,
            models.Review,
            models.Release,
            models.LabelRun,
            models.LabelCount,
            models.Complaint,
            models.RecallRun,
        )
    ),
)
