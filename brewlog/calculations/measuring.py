"""Readings put right: temperature corrections, scales of density and sugar, the pH meter."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError

from brewlog.calculations.base import (
    Answer,
    Calculation,
    CalculationForm,
    DegreesField,
    Table,
    keep_reading,
    known_lot,
)
from brewlog.forms.fields import ChoiceField, LotField, NoteField, NumberField
from brewlog.models import Lot, LotKind, Measurand
from brewlog.science import instruments, ph_meter, sugar
from brewlog.science.sugar import GravityScale
from brewlog.units import UnitError, parse_number

GROUP = "Readings"


class HydrometerForm(CalculationForm):
    for_lot = LotField(label="Lot", required=False, help_text="To keep it there as a reading.")
    reading = NumberField(
        label="Hydrometer reading", least=Decimal("0.99"), most=Decimal("1.13"), places=5
    )
    temperature = DegreesField(label="Temperature of the sample", least=0, most=40)
    calibrated = DegreesField(
        label="Hydrometer made for",
        required=False,
        least=15,
        most=25,
        help_text="See its stem; 20 °C (68 °F) where left empty.",
    )


def hydrometer(
    *, for_lot: Lot | None, reading: Decimal, temperature: Decimal, calibrated: Decimal | None
) -> Answer:
    """The gravity the sample would show at 20 °C."""
    made_for = float(calibrated if calibrated is not None else 20)
    found = float(
        instruments.hydrometer_gravity_at_20c(float(reading), float(temperature), made_for)
    )
    brix = sugar.brix_from_specific_gravity(found)
    rows = [
        ("specific gravity 20/20", f"{found:.4f}"),
        ("as sugar alone", f"{brix:.2f} °Bx"),
        ("correction", f"{found - float(reading):+.4f}"),
    ]
    return Answer(
        headline=f"{found:.4f} at 20 °C.",
        tables=(Table("At 20 °C", ("what", "value"), rows),),
        warnings=("Drive the gas out first: bubbles lift the hydrometer.",),
        sources=(
            f"{instruments.SOURCE_HYDROMETER}.",
            "The correction is good to 0.0001; how well the stem was read stays as it was.",
        ),
        keep=keep_reading(
            for_lot,
            Measurand.SPECIFIC_GRAVITY,
            f"{found:.4f}",
            f"Hydrometer read {reading} at {temperature:f} °C, made for {made_for:g} °C; "
            f"brought to 20 °C, calculation {instruments.CALCULATION_VERSION}.",
        ),
    )


class RefractometerForm(CalculationForm):
    for_lot = LotField(label="Lot", required=False, help_text="To keep it there as a reading.")
    reading = NumberField(label="Brix read", least=0, most=30)
    temperature = DegreesField(label="Temperature of the instrument", least=10, most=30)


def refractometer(*, for_lot: Lot | None, reading: Decimal, temperature: Decimal) -> Answer:
    """The Brix at 20 °C of a refractometer without automatic compensation."""
    correction = float(
        instruments.refractometer_correction_brix(float(reading), float(temperature))
    )
    corrected = float(reading) + correction
    return Answer(
        headline=f"{corrected:.2f} °Bx at 20 °C (correction {correction:+.2f}).",
        warnings=(
            "Only for instruments without automatic temperature compensation.",
            (
                "Once alcohol and acid are in it, a refractometer no longer shows sugar alone: use "
                "it together with a hydrometer."
            ),
        ),
        sources=(
            f"{instruments.SOURCE_REFRACTOMETER}.",
            "The correction is good to 0.011 °Bx; how well the scale was read stays as it was.",
        ),
        keep=keep_reading(
            for_lot,
            Measurand.BRIX,
            f"{max(corrected, 0):.2f}",
            f"Refractometer read {reading} °Bx at {temperature:f} °C; brought to 20 °C, "
            f"calculation {instruments.CALCULATION_VERSION}.",
        ),
    )


class ScalesForm(CalculationForm):
    value = NumberField(label="Value", least=0, most=300, places=5)
    scale = ChoiceField(
        label="On the scale of",
        choices=[
            ("brix", "Brix or Plato, % by mass"),
            *((each.value, each.value) for each in GravityScale),
            ("index", "refractive index at 20 °C"),
        ],
        initial="brix",
    )


def scales(*, value: Decimal, scale: str) -> Answer:
    """One sugar solution on every scale."""
    if scale == "brix":
        brix = float(value)
    elif scale == "index":
        brix = float(instruments.brix_from_refractive_index(float(value)))
    else:
        brix = float(sugar.brix_from_specific_gravity(float(value), GravityScale(scale)))
    rows = [
        ("Brix, Plato", f"{brix:.3f} %"),
        *(
            (each.value, f"{float(sugar.specific_gravity_from_brix(brix, each)):.5f}")
            for each in GravityScale
        ),
        ("sugar at 20 °C", f"{float(sugar.sugar_g_per_l_from_brix(brix)):.1f} g/L"),
        ("density at 20 °C", f"{float(sugar.solution_density(brix, 20.0)):.2f} kg/m³"),
    ]
    if 0 <= brix <= 30:
        index = float(instruments.refractive_index_from_brix(brix))
        rows.append(("refractive index", f"{index:.5f}"))
    return Answer(
        headline=f"{brix:.2f} °Bx.",
        tables=(Table("The same sugar solution", ("scale", "value"), rows),),
        warnings=("Sugar and water only; alcohol and acid change each scale differently.",),
        sources=(
            f"{sugar.SOURCE_DENSITY}.",
            f"{instruments.SOURCE_REFRACTION}.",
            "Exact between the scales to the figures shown; a refractive index to 6e-6.",
        ),
    )


_POINT = re.compile(r"^\s*([^\s;:]+)\s*(?:pH)?\s*[;:\s]\s*([^\s;:]+)\s*(?:mV)?\s*$", re.IGNORECASE)


class MeterForm(CalculationForm):
    points = NoteField(
        label="Buffers and what the meter showed",
        help_text="One a line: the buffer's pH, then millivolts, such as 4.01 172.1",
    )
    temperature = DegreesField(label="Temperature of the buffers", least=0, most=50)

    def clean_points(self) -> list[tuple[float, float]]:
        lines = [line for line in self.cleaned_data["points"].splitlines() if line.strip()]
        return [_point(line) for line in lines]


def _point(line: str) -> tuple[float, float]:
    match = _POINT.match(line)
    if not match:
        raise ValidationError(
            f"'{line.strip()}' is not a buffer and millivolts, such as 4.01 172.1"
        )
    try:
        return float(parse_number(match[1])), float(parse_number(match[2]))
    except UnitError as error:
        raise ValidationError(str(error)) from None


def meter(*, points: list[tuple[float, float]], temperature: Decimal) -> Answer:
    """Slope and offset of the meter, and what is usually thought of them."""
    found = ph_meter.calibrate(points, float(temperature))
    rows: list[tuple[str, Any]] = [
        ("slope", f"{found.slope_percent:.1f} %"),
        ("offset at pH 7", f"{found.offset_mv:.1f} mV"),
        ("slope in millivolts", f"{found.slope_mv_per_ph:.2f} mV/pH"),
    ]
    return Answer(
        headline=f"Slope {found.slope_percent:.1f} %, offset {found.offset_mv:.1f} mV.",
        verdict=str(found.acceptance),
        tables=(
            Table("The meter", ("what", "value"), rows),
            Table("Buffers at this temperature", ("buffer", "pH"), _buffers(float(temperature))),
        ),
        warnings=(
            *found.reasons,
            "Ranges of acceptance are common practice; the meter's manual comes first.",
            "Finished drinks lie below pH 4.01: check a low buffer too, else the meter guesses.",
        ),
        sources=(
            f"{ph_meter.SOURCE_ELECTRODE}. Acceptance: {ph_meter.SOURCE_ACCEPTANCE}.",
            "Buffers to 0.01 by their tables; millivolts and temperature as typed.",
        ),
    )


def _buffers(temperature_c: float) -> list[tuple[str, str]]:
    return [
        (buffer.value, f"{ph_meter.buffer_ph(buffer, temperature_c):.2f}")
        for buffer in ph_meter.Buffer
    ]


_MEASURED = (LotKind.BREW, LotKind.BATCH, LotKind.BOTTLING)

CALCULATIONS = (
    Calculation(
        slug="hydrometer",
        title="Hydrometer at another temperature",
        group=GROUP,
        question="What would the hydrometer show at 20 °C?",
        formula="The liquid expands as a sugar solution does, the glass by 25 millionths a degree.",
        form=HydrometerForm,
        work=hydrometer,
        about=_MEASURED,
        known=known_lot,
        see_also=("sugar-scales",),
    ),
    Calculation(
        slug="refractometer",
        title="Refractometer at another temperature",
        group=GROUP,
        question="What would the refractometer show at 20 °C?",
        formula="The correction tables of OIV and AOAC for sugar solutions, 10 to 30 °C.",
        form=RefractometerForm,
        work=refractometer,
        about=_MEASURED,
        known=known_lot,
        see_also=("sugar-scales",),
    ),
    Calculation(
        slug="sugar-scales",
        title="Brix, gravity, index, grams",
        group=GROUP,
        question="What is this reading on the other scales?",
        formula="Density of sugar solutions after ICUMSA, over that of water; refractive index by "
        "the ICUMSA scale.",
        form=ScalesForm,
        work=scales,
    ),
    Calculation(
        slug="ph-meter",
        title="Slope and offset of the pH meter",
        group=GROUP,
        question="Is the electrode still good?",
        formula="A straight line through millivolts and buffers, as a share of the slope that "
        "theory gives at this temperature.",
        form=MeterForm,
        work=meter,
    ),
)
