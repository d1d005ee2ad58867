from __future__ import annotations

import hashlib
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from brewlog.ledger import on_hand
from brewlog.models import Batch, BottlingLot, CultureLot, Lot, LotUse, ShipmentLine, User
from brewlog.trace import descendant_ids, generations
from tests.trace.plants import Plant

pytestmark = pytest.mark.django_db


def generate(batches: int, seed: int = 7) -> str:
    out = StringIO()
    call_command("generate_plant", batches=batches, seed=seed, stdout=out)
    return out.getvalue()


def digest() -> str:
    rows = LotUse.objects.order_by("pk").values_list(
        "source__code", "into__code", "quantity", "happened_at"
    )
    return hashlib.sha256(repr(list(rows)).encode()).hexdigest()


def test_it_writes_the_batches_asked_for_and_says_what_else():
    said = generate(55)

    assert Batch.objects.count() == 55
    assert BottlingLot.objects.count() == 330
    assert CultureLot.objects.count() == 56
    assert f"{LotUse.objects.count()} LotUse" in said


def test_every_row_has_its_history():
    generate(30)

    for model in (Batch, BottlingLot, CultureLot, LotUse, ShipmentLine):
        assert model.history.count() == model.objects.count() > 0
    writers = set(LotUse.history.values_list("history_user", flat=True))
    assert writers == {User.objects.get(username="generator").pk}


def test_nothing_is_drawn_that_is_not_there_or_before_it_is_there():
    generate(55)

    assert min(on_hand(Lot.objects.values_list("pk", flat=True)).values()) >= 0
    early = [
        use
        for use in LotUse.objects.select_related("source")
        if use.when.provably_before(use.source.when)
    ]
    assert early == []


def test_everything_but_what_was_bought_comes_from_the_founding_culture():
    generate(55)

    founder = CultureLot.objects.get(origin="bought")
    made = Lot.objects.exclude(kind="ingredient")
    assert descendant_ids([founder.pk]) == set(made.values_list("pk", flat=True))
    newest = Batch.objects.order_by("-pk").first()
    assert generations([newest.pk]) == {newest.pk: 2}


def test_the_same_seed_gives_the_same_plant(django_db_blocker):
    from django.db import transaction

    digests = []
    for seed in (7, 7, 8):
        with transaction.atomic():
            generate(30, seed)
            digests.append(digest())
            transaction.set_rollback(True)

    assert digests[0] == digests[1] != digests[2]


def test_it_refuses_a_database_that_holds_lots(operator):
    Plant(operator).batch(10)

    with pytest.raises(CommandError, match="empty one only"):
        generate(30)
    assert Lot.objects.count() == 1


def test_it_refuses_a_plant_of_nothing():
    with pytest.raises(CommandError, match="at least one batch"):
        generate(0)
