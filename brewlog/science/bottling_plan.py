"""How many bottles of each flavour and format a batch fills, and what is missing for it.

Whole numbers are found by mixed-integer programming to a gap of zero, one objective after the
other, each kept at its best while the next is improved:

1. as few bottles as possible missing from the flavours' minimum counts;
2. as little drink as possible left over, counted in whole steps of `leftover_step_ml`: less
   than one step counts as none;
3. flavours as near as possible to their shares of the drink bottled, each distance counted in
   whole bottles of the largest format: less than one bottle counts as none;
4. as few bottles as possible.

No plan uses more drink, bottles, caps, labels or flavouring than there is.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, milp

from brewlog.science.errors import Array, OutOfRange, check_range
from brewlog.science.results import Result, Step
from brewlog.science.uncertainty import combined

CALCULATION_VERSION = "1"

SOURCE = "mixed-integer linear programming (HiGHS through scipy), gap zero"

# Volumes are counted in tenths of a millilitre, so that sums are exact.
Counts = npt.NDArray[np.int64]
_UNITS_PER_ML = 10
_SECONDS_PER_STAGE = 2.0
# In litres: half of the smallest step that volumes are counted in.
_JUST_UNDER = 0.5e-4


@dataclass(frozen=True)
class Flavour:
    """A flavour, its share of the drink, and what each bottle of it takes.

    Shares are relative to one another. An addition displaces drink: mL per litre of finished
    drink, mL per bottle, or both. Stocks of None are not limited. Flavours that name the same
    `label` share its stock, written on any of them.
    """

    name: str
    share: float = 1.0
    minimum_bottles: int = 0
    addition_ml_per_l: float = 0.0
    addition_ml_per_bottle: float = 0.0
    addition_in_stock_ml: float | None = None
    labels_in_stock: int | None = None
    label: str = ""

    @property
    def takes_label(self) -> str:
        """What its labels are called."""
        return self.label or f"{self.name} labels"


@dataclass(frozen=True)
class BottleFormat:
    """A bottle, what it is filled with, which caps it takes and how many there are."""

    name: str
    fill_ml: float
    in_stock: int | None = None
    cap: str = "cap"


@dataclass(frozen=True)
class Need:
    """Something the plan uses: how much, and of how much."""

    what: str
    quantity: float
    in_stock: float | None
    unit: str


@dataclass(frozen=True)
class Shortage:
    """What was missing to bottle all the drink and reach the minimum counts."""

    what: str
    short_by: float
    unit: str


@dataclass(frozen=True)
class BottlingPlan:
    """Bottles by (flavour, format), and what follows from them. Volumes in mL."""

    counts: dict[tuple[str, str], int]
    drink_available_ml: float
    drink_bottled_ml: float
    leftover_ml: float
    missing_from_minimum: dict[str, int]
    needs: tuple[Need, ...]
    shortages: tuple[Shortage, ...]
    proven_best: bool
    source: str = SOURCE
    calculation_version: str = CALCULATION_VERSION

    def bottles(self) -> int:
        """Bottles in all."""
        return sum(self.counts.values())


@dataclass(frozen=True)
class PlanAgainstActual:
    """Planned and actual counts, and the drink that neither bottles nor losses explain, in L."""

    difference: dict[tuple[str, str], int]
    drink_bottled_l: float
    unexplained_l: float
    standard_uncertainty_l: float
    calculation_version: str = CALCULATION_VERSION


def drink_available(
    vessel_l: tuple[float, float],
    starter_reserve_l: tuple[float, float] = (0.0, 0.0),
    sediment_l: tuple[float, float] = (0.0, 0.0),
    samples_l: tuple[float, float] = (0.0, 0.0),
    loss_share: tuple[float, float] = (0.0, 0.0),
) -> Result:
    """Litres left to bottle: vessel less starter kept back, sediment, samples and filling loss.

    Each as (value, standard uncertainty); volumes >= 0, the loss 0 to 0.5 of what is left. Not
    below zero. Raises OutOfRange. Exact subtraction.
    """
    check_range("volume in the vessel", vessel_l[0], 0.0, math.inf, "L")
    taken = (starter_reserve_l, sediment_l, samples_l)
    for name, (litres, _) in zip(("starter kept back", "sediment", "samples"), taken, strict=True):
        check_range(name, litres, 0.0, math.inf, "L")
    check_range("filling loss", loss_share[0], 0.0, 0.5)
    before_loss = max(vessel_l[0] - sum(litres for litres, _ in taken), 0.0)
    kept = 1.0 - loss_share[0]
    u = combined(
        *(kept * uncertainty for _, uncertainty in (vessel_l, *taken)),
        before_loss * loss_share[1],
    )
    return Result(
        quantity="drink available to bottle",
        value=before_loss * kept,
        unit="L",
        standard_uncertainty=u,
        method="volume in the vessel less what is kept back, left behind, sampled and lost",
        source="mass balance",
        steps=(
            Step("in the vessel", vessel_l[0], "L"),
            Step("starter kept back", starter_reserve_l[0], "L"),
            Step("sediment", sediment_l[0], "L"),
            Step("samples", samples_l[0], "L"),
            Step("lost in filling", before_loss * loss_share[0], "L"),
        ),
        supports="planning bottles",
        cannot_support="the count of bottles filled",
        calculation_version=CALCULATION_VERSION,
        lowest=0.0,
    )


def plan_bottling(
    drink_l: float,
    flavours: Sequence[Flavour],
    formats: Sequence[BottleFormat],
    caps_in_stock: Mapping[str, int] | None = None,
    leftover_step_ml: float = 100.0,
    only: Collection[tuple[str, str]] = (),
) -> BottlingPlan:
    """Whole numbers of bottles by flavour and format, by the module's order of objectives.

    Drink 0 to 100 000 L, counted to 0.1 mL; leftover step 1 mL or more. A cap kind not in
    `caps_in_stock` is not limited. `only` names the pairs of flavour and format to fill, all
    where it is empty. `proven_best` is false where two seconds did not suffice for a proof.
    Raises OutOfRange for a negative quantity or an addition that leaves no room for drink;
    ValueError without flavours or formats, or for a flavour without a format.
    """
    check_range("drink", drink_l, 0.0, 1e5, "L")
    check_range("leftover step", leftover_step_ml, 1.0, math.inf, "mL")
    _check(flavours, formats)
    kinds = [
        (flavour, bottle)
        for flavour in flavours
        for bottle in formats
        if not only or (flavour.name, bottle.name) in only
    ]
    if any(flavour not in [wanted for wanted, _ in kinds] for flavour in flavours):
        raise ValueError("Each flavour of a bottling plan needs a bottle format.")
    model = _Model(drink_l, kinds, flavours, formats, caps_in_stock or {}, leftover_step_ml)
    counts, proven = model.solve()
    leftover = model.drink - int(model.drink_per_bottle @ counts)
    missing = {
        flavour.name: max(flavour.minimum_bottles - int(counts[model.of_flavour[f]].sum()), 0)
        for f, flavour in enumerate(flavours)
    }
    short = leftover >= model.drink_per_bottle.min() or any(missing.values())
    return BottlingPlan(
        counts={pair: int(n) for pair, n in zip(model.pairs, counts, strict=True)},
        drink_available_ml=model.drink / _UNITS_PER_ML,
        drink_bottled_ml=(model.drink - leftover) / _UNITS_PER_ML,
        leftover_ml=leftover / _UNITS_PER_ML,
        missing_from_minimum={name: n for name, n in missing.items() if n},
        needs=model.needs(counts),
        shortages=model.shortages() if short else (),
        proven_best=proven,
    )


def compare_with_actual(
    plan: BottlingPlan,
    actual_counts: Mapping[tuple[str, str], int],
    flavours: Sequence[Flavour],
    formats: Sequence[BottleFormat],
    drink_l: tuple[float, float],
    measured_losses_l: tuple[float, float] = (0.0, 0.0),
) -> PlanAgainstActual:
    """Actual counts less planned, and the litres left unexplained.

    `drink_l` what there was to bottle and `measured_losses_l` what was measured as left or
    lost, each (value, standard uncertainty). Counts >= 0 of known pairs; KeyError for others.
    """
    drink = {
        (flavour.name, bottle.name): _drink_units(flavour, bottle)
        for flavour in flavours
        for bottle in formats
    }
    for count in actual_counts.values():
        check_range("bottles", count, 0, math.inf)
    bottled_l = sum(drink[pair] * n for pair, n in actual_counts.items()) / _UNITS_PER_ML / 1000.0
    pairs = {**plan.counts, **actual_counts}
    return PlanAgainstActual(
        difference={pair: actual_counts.get(pair, 0) - plan.counts.get(pair, 0) for pair in pairs},
        drink_bottled_l=bottled_l,
        unexplained_l=drink_l[0] - bottled_l - measured_losses_l[0],
        standard_uncertainty_l=combined(drink_l[1], measured_losses_l[1]),
    )


@dataclass(frozen=True)
class _Resource:
    """Something limited: how much each kind of bottle takes of it, and how much there is."""

    what: str
    unit: str
    per_bottle: Array
    in_stock: float | None


class _Model:
    """The integer programme: one variable per (flavour, format), the rest in support.

    Columns, all whole numbers: bottles, then bottles missing per flavour, then steps of
    leftover, then distance from the share per flavour. Counting the goals coarsely is what
    makes them provable: to the millilitre this is a puzzle of number theory.
    """

    def __init__(
        self,
        drink_l: float,
        kinds: Sequence[tuple[Flavour, BottleFormat]],
        flavours: Sequence[Flavour],
        formats: Sequence[BottleFormat],
        caps_in_stock: Mapping[str, int],
        leftover_step_ml: float,
    ) -> None:
        self.flavours = flavours
        self.pairs = [(flavour.name, bottle.name) for flavour, bottle in kinds]
        self.of_flavour = [
            np.array([flavour is wanted for flavour, _ in kinds]) for wanted in flavours
        ]
        self.drink = math.floor(drink_l * 1000.0 * _UNITS_PER_ML + 1e-6)
        self.step = leftover_step_ml * _UNITS_PER_ML
        self.drink_per_bottle = np.array([_drink_units(*kind) for kind in kinds])
        self.resources = _resources(kinds, flavours, formats, caps_in_stock)
        self.limited = [r for r in self.resources if r.in_stock is not None]
        self.most = np.full(len(kinds), self.drink) // self.drink_per_bottle

    def solve(self) -> tuple[Counts, bool]:
        """Best counts by the stated order, and whether each stage was proven best."""
        n, f = len(self.pairs), len(self.flavours)
        columns = n + f + 1 + f
        rows, lows, highs = self._rows(columns)
        goals = np.zeros((4, columns))
        goals[0, n : n + f] = 1.0
        goals[1, n + f] = 1.0
        goals[2, n + f + 1 :] = 1.0
        goals[3, :n] = 1.0
        upper = np.full(columns, np.inf)
        upper[:n] = self.most
        best: Array | None = None
        proven = True
        for goal in goals:
            if best is None or goal @ best > 0.0:
                answer = milp(
                    goal,
                    constraints=LinearConstraint(np.array(rows), np.array(lows), np.array(highs)),
                    bounds=Bounds(np.zeros(columns), upper),
                    integrality=np.ones(columns),
                    options={"mip_rel_gap": 0.0, "time_limit": _SECONDS_PER_STAGE},
                )
                proven = proven and answer.status == 0
                if answer.x is None:
                    break
                best = np.rint(answer.x)
            rows.append(goal)
            lows.append(-np.inf)
            highs.append(float(goal @ best) + 0.5)
        counts = np.zeros(n, dtype=np.int64) if best is None else best[:n].astype(np.int64)
        self._check_within(counts)
        return counts, proven

    def needs(self, counts: Counts) -> tuple[Need, ...]:
        """What the counts use of everything."""
        return tuple(
            Need(r.what, float(r.per_bottle @ counts), r.in_stock, r.unit) for r in self.resources
        )

    def shortages(self) -> tuple[Shortage, ...]:
        """The smallest purchase that lets all drink be bottled and all minimums be reached."""
        least_drink = sum(
            flavour.minimum_bottles * int(self.drink_per_bottle[mine].min())
            for flavour, mine in zip(self.flavours, self.of_flavour, strict=True)
        )
        found = []
        minimums = [flavour.minimum_bottles for flavour in self.flavours]
        if least_drink > self.drink:
            short_ml = (least_drink - self.drink) / _UNITS_PER_ML
            found.append(Shortage("drink for the minimum counts", short_ml, "mL"))
            minimums = [0] * len(minimums)
        return (*found, *self._purchase(minimums))

    def _rows(self, columns: int) -> tuple[list[Array], list[float], list[float]]:
        n, f = len(self.pairs), len(self.flavours)
        rows, lows, highs = [], [], []

        def add(bottles: Array, column: int | None, size: float, low: float, high: float) -> None:
            row = np.zeros(columns)
            row[:n] = bottles
            if column is not None:
                row[column] = size
            rows.append(row)
            lows.append(low)
            highs.append(high)

        litres = self.drink_per_bottle / 1e4
        room, step, one_bottle = self.drink / 1e4, self.step / 1e4, float(litres.max())
        add(litres, None, 0.0, 0.0, room)
        # Just under one step, or one bottle, still counts as none.
        add(litres, n + f, step, room - step + _JUST_UNDER, np.inf)
        for resource in self.limited:
            add(resource.per_bottle, None, 0.0, 0.0, float(resource.in_stock or 0))
        shares = np.array([flavour.share for flavour in self.flavours])
        shares = shares / shares.sum()
        for i, (flavour, mine) in enumerate(zip(self.flavours, self.of_flavour, strict=True)):
            add(mine.astype(float), n + i, 1.0, flavour.minimum_bottles, np.inf)
            distance, column = litres * mine - shares[i] * litres, n + f + 1 + i
            add(distance, column, one_bottle, -one_bottle + _JUST_UNDER, np.inf)
            add(-distance, column, one_bottle, -one_bottle + _JUST_UNDER, np.inf)
        return rows, lows, highs

    def _purchase(self, minimums: Sequence[int]) -> list[Shortage]:
        n, extra = len(self.pairs), len(self.limited)
        rows, lows, highs = [], [], []
        row = np.zeros(n + extra)
        row[:n] = self.drink_per_bottle / 1e4
        rows.append(row)
        lows.append(max(self.drink - int(self.drink_per_bottle.min()), 0) / 1e4 + _JUST_UNDER)
        highs.append(self.drink / 1e4)
        cost = np.zeros(n + extra)
        for i, resource in enumerate(self.limited):
            row = np.zeros(n + extra)
            row[:n] = resource.per_bottle
            # Bought in what one bottle takes, so that caps and flavouring weigh alike.
            size = float(resource.per_bottle.max()) or 1.0
            row[n + i] = -size
            rows.append(row)
            lows.append(-np.inf)
            highs.append(float(resource.in_stock or 0))
            cost[n + i] = 1.0
        for minimum, mine in zip(minimums, self.of_flavour, strict=True):
            row = np.zeros(n + extra)
            row[:n] = mine
            rows.append(row)
            lows.append(minimum)
            highs.append(np.inf)
        answer = milp(
            cost,
            constraints=LinearConstraint(np.array(rows), np.array(lows), np.array(highs)),
            integrality=np.concatenate([np.ones(n), np.zeros(extra)]),
            options={"mip_rel_gap": 0.0, "time_limit": _SECONDS_PER_STAGE},
        )
        if answer.x is None:
            return []
        counts = np.rint(answer.x[:n])
        found = []
        for resource in self.limited:
            short = float(resource.per_bottle @ counts) - float(resource.in_stock or 0)
            if short > 1e-6:
                found.append(Shortage(resource.what, round(short, 3), resource.unit))
        return found

    def _check_within(self, counts: Counts) -> None:
        """Exact arithmetic on the rounded counts: a solver's tolerance must not overdraw."""
        used: list[tuple[float, float]] = [(int(self.drink_per_bottle @ counts), self.drink)]
        used += [(float(r.per_bottle @ counts) - 1e-6, r.in_stock or 0) for r in self.limited]
        if (counts < 0).any() or any(quantity > stock for quantity, stock in used):
            raise ArithmeticError("The solver returned a plan that uses more than there is.")


def _drink_units(flavour: Flavour, bottle: BottleFormat) -> int:
    """Tenths of a millilitre of drink in one bottle: fill less addition, rounded up."""
    drink_ml = bottle.fill_ml - _addition_ml(flavour, bottle)
    if drink_ml <= 0.0:
        raise OutOfRange("addition", _addition_ml(flavour, bottle), 0.0, bottle.fill_ml, "mL")
    return math.ceil(drink_ml * _UNITS_PER_ML - 1e-6)


def _addition_ml(flavour: Flavour, bottle: BottleFormat) -> float:
    return flavour.addition_ml_per_bottle + flavour.addition_ml_per_l * bottle.fill_ml / 1000.0


def _resources(
    kinds: Sequence[tuple[Flavour, BottleFormat]],
    flavours: Sequence[Flavour],
    formats: Sequence[BottleFormat],
    caps_in_stock: Mapping[str, int],
) -> list[_Resource]:
    def taken(chosen: Sequence[float | bool]) -> Array:
        return np.array(chosen, dtype=float)

    resources = [
        _Resource(
            f"{wanted.name} bottles",
            "pieces",
            taken([bottle is wanted for _, bottle in kinds]),
            wanted.in_stock,
        )
        for wanted in formats
    ]
    for cap in dict.fromkeys(bottle.cap for bottle in formats):
        takes = taken([bottle.cap == cap for _, bottle in kinds])
        resources.append(_Resource(cap, "pieces", takes, caps_in_stock.get(cap)))
    for wanted in flavours:
        if wanted.takes_label not in {resource.what for resource in resources}:
            resources.append(_labels(wanted.takes_label, kinds, flavours))
        added = taken([_addition_ml(f, b) if f is wanted else 0.0 for f, b in kinds])
        if added.any():
            what = f"{wanted.name} flavouring"
            resources.append(_Resource(what, "mL", added, wanted.addition_in_stock_ml))
    return resources


def _labels(
    label: str, kinds: Sequence[tuple[Flavour, BottleFormat]], flavours: Sequence[Flavour]
) -> _Resource:
    takes = np.array([flavour.takes_label == label for flavour, _ in kinds], dtype=float)
    stocks = [flavour.labels_in_stock for flavour in flavours if flavour.takes_label == label]
    known = [stock for stock in stocks if stock is not None]
    return _Resource(label, "pieces", takes, min(known) if known else None)


def _check(flavours: Sequence[Flavour], formats: Sequence[BottleFormat]) -> None:
    if not flavours or not formats:
        raise ValueError("A bottling plan needs at least one flavour and one bottle format.")
    for flavour in flavours:
        check_range(f"share of {flavour.name}", flavour.share, 0.0, math.inf)
        check_range(f"minimum of {flavour.name}", flavour.minimum_bottles, 0, math.inf, "bottles")
        check_range(f"addition to {flavour.name}", flavour.addition_ml_per_l, 0.0, 1000.0, "mL/L")
        check_range(
            f"addition to {flavour.name}", flavour.addition_ml_per_bottle, 0.0, math.inf, "mL"
        )
        stocks = (flavour.labels_in_stock, flavour.addition_in_stock_ml)
        for stock in stocks:
            check_range(f"stock for {flavour.name}", stock or 0, 0.0, math.inf)
    check_range("sum of the shares", sum(flavour.share for flavour in flavours), 1e-9, math.inf)
    for bottle in formats:
        check_range(f"fill of {bottle.name}", bottle.fill_ml, 1.0, 1e5, "mL")
        check_range(f"stock of {bottle.name}", bottle.in_stock or 0, 0, math.inf, "bottles")
