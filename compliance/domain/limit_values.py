"""In which unit a limit's value stands, and how what a manager types becomes that value.

Values are compared as they are kept, so each kind of limit has one unit for each measurand;
another that is typed (70 °F, 30 psi) is converted once and kept beside it as typed.
"""

from __future__ import annotations

from decimal import Decimal

from brewlog.domain.readings import Reading, read_value
from brewlog.models import Measurand
from brewlog.recording import Refused
from brewlog.units import UnitError, parse_number
from compliance.models import Limit, LimitKind, Unit

_OF_MEASURANDS: dict[str, str] = {
    Measurand.PH: Unit.PH,
    Measurand.TEMPERATURE: Unit.CELSIUS,
    Measurand.SPECIFIC_GRAVITY: "",
    Measurand.BRIX: Unit.BRIX,
    Measurand.TOTAL_ACIDITY: Unit.ACIDITY,
    Measurand.PRESSURE: Unit.BAR,
    Measurand.FILL: Unit.MILLILITRES,
    Measurand.ALCOHOL: Unit.ALCOHOL,
}
# Those that are about something else than their measurand's own value.
_COUNTED: dict[str, str] = {
    LimitKind.LAB_AGE: Unit.DAYS,
    LimitKind.CULTURE_AGE: Unit.DAYS,
    LimitKind.GENERATION: Unit.TRANSFERS,
    LimitKind.BALANCE: Unit.UNEXPLAINED,
    LimitKind.STARTER_SHARE: Unit.OF_THE_VOLUME,
}
_TEMPERATURES = {
    LimitKind.SAMPLE_TEMPERATURE,
    LimitKind.STEP_TEMPERATURE,
    LimitKind.PLACE_TEMPERATURE,
}


def compared_with(limit: Limit) -> str:
    """The measurand whose values are compared with the limit's; '' where something is counted."""
    if limit.kind in _COUNTED:
        return ""
    return Measurand.TEMPERATURE if limit.kind in _TEMPERATURES else limit.measurand


def is_difference(limit: Limit) -> bool:
    """Whether the value is how far two values lie apart: a rise, or a spread."""
    rises = limit.kind == LimitKind.TREND and not limit.within_hours
    return rises or limit.kind == LimitKind.INSTRUMENT


def unit_of(limit: Limit) -> str:
    """The unit the limit's value stands in; '' where it has no value, or no unit."""
    if limit.value is None:
        return ""
    return _COUNTED.get(limit.kind) or _OF_MEASURANDS.get(compared_with(limit), "")


def refuse_other_unit(limit: Limit) -> None:
    """Raises `Refused` for a limit that stands in another unit than its value is compared in."""
    wanted = unit_of(limit)
    if limit.unit != wanted:
        told = f"'{wanted}'" if wanted else "no unit"
        raise Refused({"unit": f"{limit.title} is compared in {told}, not in '{limit.unit}'."})


def read_limit_value(limit: Limit, text: str, temperature_unit: str = "C") -> Reading:
    """The value typed for a limit, in the unit it is compared in. Raises `Refused` on `value`."""
    measurand = compared_with(limit)
    if measurand and not is_difference(limit):
        return read_value(measurand, text, temperature_unit=temperature_unit)
    unit = _COUNTED.get(limit.kind) or _OF_MEASURANDS.get(measurand, "")
    tidy = " ".join(text.split())
    bare = tidy.removesuffix(unit).removesuffix("%").strip() if unit else tidy
    try:
        value = parse_number(bare)
    except UnitError as error:
        in_unit = f" Write it in {unit}." if unit else ""
        raise Refused({"value": f"{error}{in_unit}"}) from None
    if value < Decimal(0):
        raise Refused({"value": "It cannot be less than nothing."})
    return Reading(value, tidy)
