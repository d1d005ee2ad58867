"""Two flavours, a bottle, and a batch that was filled of them."""

from __future__ import annotations

import pytest

from brewlog.domain.bottling import Drawn, Output, bottle
from tests import factories as make
from tests.factories import at, quantity


@pytest.fixture
def plain(manager):
    return make.flavour(manager, "Plain")


@pytest.fixture
def ginger(manager):
    return make.flavour(manager, "Ginger")


@pytest.fixture
def small(manager):
    return make.bottle_format(manager, "Bottle 330 mL", rating="rated", rated_bar=6)


@pytest.fixture
def filled(manager, plain, ginger, small):
    """A batch bottled as two flavours, with juice, bottles, caps and labels by lot."""
    batch = make.batch(manager, "60 L", code="B7", recipe=make.recipe_version(manager, "Base"))
    juice = make.ingredient(manager, "Ginger juice", kind="flavouring", dimension="volume")
    packaging = [
        make.ingredient_lot(
            manager, "500", of=make.ingredient(manager, name, kind="packaging", dimension="count")
        )
        for name in ("Bottle 330 mL, brown", "Crown cap 26 mm", "Label, front")
    ]
    bottle(
        actor=manager,
        when=at(20),
        draws=[Drawn(batch, quantity("34 L"))],
        additions=[
            Drawn(
                make.ingredient_lot(manager, "5 L", of=juice), quantity("660 mL"), flavour=ginger
            ),
            *(Drawn(lot, quantity("102")) for lot in packaging),
        ],
        outputs=[
            Output(plain, small, 61, rejects=1, planned_count=60),
            Output(ginger, small, 40, planned_count=42),
        ],
    )
    return batch
