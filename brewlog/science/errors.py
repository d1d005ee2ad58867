"""The one error of the calculations: a value outside the range a formula holds for."""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Number = TypeVar("Number", float, Array)


class OutOfRange(ValueError):
    """A quantity lies outside the range in which the calculation holds.

    The message is one sentence naming the quantity, the value and the range, fit to be
    shown to whoever typed the value.
    """

    def __init__(
        self, quantity: str, value: float, low: float, high: float, unit: str = ""
    ) -> None:
        self.quantity = quantity
        self.value = value
        self.low = low
        self.high = high
        self.unit = unit
        tail = f" {unit}" if unit else ""
        if math.isinf(high):
            reach = f"{low:.6g}{tail} and more"
        else:
            reach = f"{low:.6g} to {high:.6g}{tail}"
        super().__init__(
            f"{quantity[:1].upper()}{quantity[1:]} of {value:.6g}{tail} is outside the range "
            f"{reach} for which this calculation holds."
        )


def check_range(
    quantity: str, value: float | Array, low: float, high: float, unit: str = ""
) -> None:
    """Raise `OutOfRange` unless every value lies in [low, high]; not-a-number never does."""
    if isinstance(value, np.ndarray):
        outside = value[~((value >= low) & (value <= high))]
        if outside.size:
            raise OutOfRange(quantity, float(outside.flat[0]), low, high, unit)
    elif not low <= value <= high:
        raise OutOfRange(quantity, value, low, high, unit)
