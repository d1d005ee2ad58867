"""Which lots went into a lot and came from it, what of it is where, and who has it.

    closure     ancestor_ids, descendant_ids, reaches, steps_below: one recursive query
    scope       scope, backward: the same with facts, distances and times
    generation  generation, generations: transfers since bought
    account     composition, where_it_went: amounts, well mixed and in time
    recall      recall, shipped_to: bottles and customers

Voided uses do not count. Everything here reads only.
"""

from brewlog.trace.account import Composition, Part, Share, WhereItWent, composition, where_it_went
from brewlog.trace.closure import (
    ancestor_ids,
    descendant_ids,
    descendant_ids_short_of,
    reaches,
    steps_below,
)
from brewlog.trace.generation import generation, generations
from brewlog.trace.order import CircleInRecords
from brewlog.trace.recall import (
    Recall,
    RecallCustomer,
    RecallLine,
    RecallLot,
    RecallTotals,
    SentLot,
    recall,
    shipped_to,
)
from brewlog.trace.scope import (
    AncestorLot,
    Ancestry,
    EarlierDraw,
    LotFacts,
    Scope,
    ScopeLot,
    backward,
    lot_facts,
    scope,
)

__all__ = [
    "AncestorLot",
    "Ancestry",
    "CircleInRecords",
    "Composition",
    "EarlierDraw",
    "LotFacts",
    "Part",
    "Recall",
    "RecallCustomer",
    "RecallLine",
    "RecallLot",
    "RecallTotals",
    "Scope",
    "ScopeLot",
    "SentLot",
    "Share",
    "WhereItWent",
    "ancestor_ids",
    "backward",
    "composition",
    "descendant_ids",
    "descendant_ids_short_of",
    "generation",
    "generations",
    "lot_facts",
    "reaches",
    "recall",
    "scope",
    "shipped_to",
    "steps_below",
    "where_it_went",
]
