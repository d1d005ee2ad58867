"""The pages of what the brewery has and whom it deals with, assembled from the kit."""

from __future__ import annotations

from brewlog.views.details import Detail
from brewlog.views.registers import bottled, bought, fermenting, going_out, measuring

DETAILS: tuple[Detail, ...] = (
    bought.INGREDIENT,
    bought.SUPPLIER,
    fermenting.RECIPE,
    fermenting.VESSEL,
    measuring.INSTRUMENT,
    measuring.BUFFER_BOTTLE,
    going_out.CUSTOMER,
    going_out.SHIPMENT,
    going_out.LOCATION,
    going_out.KEG,
    fermenting.CULTURE_LINE,
    bottled.FLAVOUR,
    bottled.FORMAT,
)
