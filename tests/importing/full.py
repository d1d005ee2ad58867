"""Sheets in which every column is filled somewhere, each with more than its default. Invented."""

from __future__ import annotations

from tests.importing import full_charts, full_work, small

_WHO = {"By": "Boss", "Note": "written with a wet hand"}


def sheets(person: str) -> small.Sheets:
    """The small brewery and a bottling run, every column filled. `person` is a user name."""
    content = small.sheets()
    for more in (_more(), full_charts.sheets(_WHO)):
        for name, rows in more.items():
            if name in content and name not in _INSTEAD:
                content[name] = content[name] + rows
            else:
                content[name] = rows
    for rows in content.values():
        for row in rows:
            if "By" in row:
                row["By"] = person
    return content


_INSTEAD = {"Suppliers", "Starters retired"}


def _more() -> small.Sheets:
    return {
        "Brewery": [
            {
                "Name": "Saltmarsh Ferments",
                "Address": "9 Quay Road",
                "Country": "Portugal",
                "Phone": "555-0100",
                "E-mail": "hello@example.com",
                "Registration or licence number": "LIC-1",
                "Time zone": "Europe/Lisbon",
                "Dates are written": "month/day/year",
                "Lot codes": "{kind}-{yy}{day}{run}",
            }
        ],
        "People": [
            {
                "User name": "rita",
                "Name": "Rita of the Jars",
                "Role": "operator",
                "E-mail": "rita@example.com",
                "Units": "us",
                "Dates": "month/day/year",
                "Still here": "no",
            }
        ],
        "Suppliers": [
            {
                "Name": "Hill & Leaf Teas",
                "Contact person": "Ana of the counter",
                "Address": "1 Terrace Lane",
                "Country": "Portugal",
                "Phone": "555-0101",
                "E-mail": "orders@example.com",
                "Approved on": "2026-01-02",
                "Organic certificate": "ORG-7",
                "Certificate valid until": "2027-01-02",
                "Note": "rings before delivery",
                "In use": "yes",
            },
            {"Name": "Jar Exchange", "In use": "no"},
        ],
        "Ingredients": [
            {
                "Name": "Cloudy apple",
                "Kind": "fruit or flavouring",
                "Measured by": "volume",
                "Name on the label": "apple juice",
                "Allergens": "sulphites",
                "Organic": "organic",
                "Form as received": "fresh",
                "Listed for extra trace records": "yes",
                "Country of origin": "Portugal",
                "Density, kg/L": "1.05",
                "Note": "presses on Mondays",
                "In use": "no",
            },
        ],
        "Vessels": [
            {
                "Name": "Old crock",
                "Material": "glazed ceramic",
                "Holds": "20 L",
                "Stands in": "Warm room",
                "Note": "for flowers",
                "In use": "no",
            }
        ],
        "Culture lines": [
            {
                "Name": "Breakwater",
                "Feed every, days": "10",
                "Note": "from a friend",
                "In use": "no",
            }
        ],
        "Instruments": [
            {
                "Name": "Meter 1",
                "Kind": "pH meter",
                "Serial number": "M-100",
                "Smallest step shown": "0.01",
                "Stated accuracy, ±": "0.02",
                "Unit": "pH",
                "Calibrate every, days": "7",
                "Note": "in the blue box",
                "In use": "no",
            },
            {"Name": "Probe 1", "Kind": "thermometer"},
            {"Name": "Gauge 1", "Kind": "pressure gauge"},
        ],
        "Buffer bottles": [
            {
                "Name": "Bottle A",
                "Nominal pH (25 °C)": "4.01",
                "Good until": "2026-12-31",
                "Its maker's lot": "BF-1",
                "Supplier": "Hill & Leaf Teas",
                "Opened": "2026-02-01",
                "Note": "blue cap",
                "In use": "no",
            }
        ],
        "Locations": [
            {
                "Name": "Cooler 1",
                "Kind": "cooler",
                "Kept cold": "yes",
                "Address": "behind the press",
                "Note": "hums",
                "In use": "no",
            },
            {"Name": "Warm room", "Kind": "warm room"},
        ],
        "Flavours": [
            {
                "Name": "Ginger",
                "Name on the label": "Ginger kombucha",
                "Best before, days": "120",
                "Storage on the label": "Keep cold",
                "GTIN": "4006381333931",
                "Further text on the label": "May hold sediment",
                "Note": "goes well at the stall",
                "In use": "no",
            }
        ],
        "Formats": [
            {
                "Name": "Swing top 330",
                "Container": "bottle",
                "Material": "brown glass",
                "Net contents": "330 mL",
                "Pressure rating": "rated by its maker",
                "Rated gauge pressure, bar": "8.5",
                "Comes back and is used again": "yes",
                "Note": "new gaskets each spring",
                "In use": "no",
            },
            {
                "Name": "Keg 20",
                "Container": "keg",
                "Net contents": "20 L",
                "Pressure rating": "not known",
            },
        ],
        "Customers": [
            {
                "Name": "Corner Larder",
                "Kind": "shop",
                "Contact person": "Rui at the till",
                "Address": "2 Ferry Street",
                "Country": "Portugal",
                "Phone": "555-0102",
                "E-mail": "larder@example.com",
                "Note": "closed on Sundays",
                "In use": "no",
            }
        ],
        "Kegs": [
            {"Serial number": "K-001", "Holds": "20 L", "Note": "dented", "In use": "no"},
        ],
        "Recipes": [{"Name": "Green tea base", "Note": "lighter", "In use": "no"}],
        "Recipe versions": [
            {
                "Recipe": "Green tea base",
                "Version": "1",
                "Steep at": "80 °C",
                "Steep, minutes": "8",
                "Cool to before adding starter": "30 °C",
                "Ferment at": "26 °C",
                "Usual days to ferment": "9",
                "Bottle at about pH": "3.2",
                "Instructions": "Do not stew the leaves.",
            }
        ],
        "Recipe lines": [
            {
                "Recipe version": "Green tea base v1",
                "Role": "sugar",
                "Ingredient": "Cane sugar",
                "Per litre": "55 g",
                "No.": "1",
            }
        ],
        "Recipe approvals": [
            {
                "Recipe version": "Green tea base v1",
                "When": "2026-03-01",
                "By": "",
                "Remark": "good",
            }
        ],
        "Calibrations": [
            {
                "When": "2026-03-02 08:00",
                "Instrument": "Meter 1",
                "Outcome": "adjusted, in tolerance as left",
                "Slope, %": "97.5",
                "Offset, mV": "-4",
                "Buffers or references": "4.01 lot 7, 7.00 lot 8",
                "Next due": "2026-03-10",
                **_WHO,
            }
        ],
        "Calibration points": [
            {
                "Instrument": "Meter 1",
                "When": "2026-03-02",
                "Reference value": "4.01",
                "As found": "4.08",
                "As left": "4.02",
                "Buffer bottle": "bottle a",
            }
        ],
        **full_work.sheets(_WHO),
    }
