"""The full sheets of what happened: receiving, brewing, measuring, bottling, sending out."""

from __future__ import annotations

from tests.importing import small


def sheets(who: dict[str, str]) -> small.Sheets:
    """One row or more of every sheet of work; `who` is put where nothing else is said."""
    return {
        "Receiving": [
            {
                "When": "2026-03-02 07:00",
                "Ingredient": "Cloudy apple",
                "Amount": "20 L",
                "Lot code": "A1",
                "Supplier": "Hill & Leaf Teas",
                "Supplier's lot code": "HL-9",
                "Brand and variety": "Russet",
                "Packed as": "two churns",
                "Best before": "2026-03-20",
                "Temperature on arrival": "4 °C",
                "Condition on arrival": "sound",
                "Accepted": "yes",
                "Reference document": "invoice",
                "Document number": "I-77",
                "Transporter": "own van",
                "Country of origin": "Portugal",
                "Who gave the trace code": "the press, on the churn",
                "Organic": "organic",
                "Certificate number": "ORG-7",
                "Certificate valid from": "2026-01-02",
                "Certificate valid until": "2027-01-02",
                "Picked at": "Lower orchard",
                "Picked by": "Rita",
                "Picked on": "2026-03-01",
                "What is known of spraying": "none since autumn",
                **who,
            }
        ],
        "Decisions": [
            {
                "Lot": "A1",
                "Decision": "rejected",
                "When": "2026-03-03",
                "By": "",
                "Reason": "smelled of vinegar",
            }
        ],
        "Preparations": [
            {
                "When": "2026-03-02 16:00",
                "Name": "Ginger syrup",
                "Kind": "syrup",
                "Amount made": "1 L",
                "Lot code": "P2",
                "Treatment": "heated to 82 °C for 30 s",
                "Storage": "in the cooler",
                "Use by": "2026-04-02",
                **who,
            }
        ],
        "Cultures": [
            {
                "When": "2026-03-13 10:00",
                "Starter liquid": "2 L",
                "Pellicles": "3",
                "Vessel": "Jar 2",
                "Lot code": "C3",
                "Culture line": "Harbour",
                "Origin": "split off as a backup",
                "Backup": "yes",
                "Supplier": "Jar Exchange",
                "Supplier's lot code": "J-1",
                "Document number": "D-1",
                "From": "C2",
                "Amount taken": "2 L",
                **who,
            }
        ],
        "Brews": [
            {
                "When": "2026-03-20 09:00",
                "Recipe version": "Green tea base v1",
                "Kettle": "Kettle",
                "Planned volume": "60 L",
                "Volume made": "58 L",
                "Water source and treatment": "town water, stood overnight",
                "Lot code": "K2",
                **who,
            }
        ],
        "Batches": [
            {
                "When": "2026-03-20 14:00",
                "Recipe version": "Green tea base v1",
                "Vessel": "Jar 2",
                "Planned volume": "50 L",
                "Water source and treatment": "town water, stood overnight",
                "Lot code": "B3",
                **who,
            }
        ],
        "Uses": [
            {
                "When": "2026-03-05 09:00",
                "Lot used": "P2",
                "Into": "B1",
                "Amount": "500 mL",
                "As": "flavouring",
                "Volume it added": "450 mL",
                "No.": "1",
                **who,
            },
            {
                "When": "2026-03-05 09:00",
                "Lot used": "P2",
                "Into": "B1",
                "Amount": "100 mL",
                "As": "flavouring",
                "No.": "2",
            },
        ],
        "Steps": [
            {
                "When": "2026-03-03 10:00",
                "Lot": "K1",
                "Step": "cooled",
                "Temperature": "86 °F",
                "Volume": "98 L",
                "Minutes": "40",
                "Measured with": "Probe 1",
                "No.": "1",
                **who,
            }
        ],
        "Starter added": [
            {
                "When": "2026-03-20 15:00",
                "Batch": "B3",
                "Temperature of the tea": "27 °C",
                "Measured with": "Probe 1",
                "Volume afterwards": "44 L",
                "Starter": "C2",
                "Amount of starter": "3 L",
                **who,
            }
        ],
        "Bottling": [
            {
                "When": "2026-03-14 09:00",
                "Batch": "B1",
                "Amount drawn": "34 L",
                "Flavour": "Ginger",
                "Format": "Swing top 330",
                "Filled": "96",
                "Lot code": "L1",
                "Rejected on the line": "4",
                "Planned": "100",
                "Fill per bottle": "325 mL",
                "Carbonation": "both",
                "Warm from": "2026-03-14 11:00",
                "Warm at": "24 °C",
                "Best before": "2026-07-01",
                "Label version": "G-3",
                **who,
            },
            {
                "When": "2026-03-14 13:00",
                "Flavour": "Ginger",
                "Format": "Keg 20",
                "Filled": "1",
                "Lot code": "L2",
            },
        ],
        "Line clearance": [
            {
                "When": "2026-03-14 12:50",
                "Bottling lot": "L2",
                "What ran before": "L1",
                "First label kept": "yes",
                "Last label kept": "yes",
                **who,
            }
        ],
        "Holidays": [{"Day": "2026-04-25", "Name": "Freedom Day"}],
        "Label stock": [
            {
                "Name": "Rolls from the printer's",
                "Paper": "A4",
                "Label width, mm": "63.5",
                "Label height, mm": "38.1",
                "Labels across": "3",
                "Labels down": "7",
                "Left margin, mm": "7.2",
                "Top margin, mm": "15.1",
                "From one label to the next across, mm": "66",
                "From one label to the next down, mm": "38.1",
                "Note": "matt, for wet bottles",
                "In use": "no",
            }
        ],
        "Labels printed": [
            {
                "When": "2026-03-14 14:00",
                "Bottling lot": "L1",
                "How many": "11",
                "For": "cases",
                "Bottles in a case": "10",
                "No.": "1",
                **who,
            }
        ],
        "Label counts": [
            {
                "When": "2026-03-14 15:00",
                "Bottling lot": "L1",
                "For": "cases",
                "Put on": "8",
                "Spoiled": "2",
                "Left over and destroyed": "1",
                "No.": "1",
                **who,
            }
        ],
        "Bottle washing": [
            {
                "When": "2026-03-14 08:00",
                "Bottling lot": "L1",
                "Washed": "110",
                "Put aside for chips or cracks": "3",
                "Gaskets checked": "yes",
                "How they were washed": "hot caustic, rinsed twice",
                "No.": "1",
                **who,
            }
        ],
        "Breakage": [
            {
                "When": "2026-03-14 10:00",
                "Bottling lot": "L1",
                "Broken": "1",
                "Broke before they were counted": "yes",
                "Set apart": "5",
                "Last good check": "2026-03-14 09:40",
                "What was cleaned and checked": "the table, the filler, the floor",
                "No.": "1",
                **who,
            }
        ],
        "Bottles kept back": [
            {
                "When": "2026-03-14 16:00",
                "Bottling lot": "L1",
                "Bottles kept back": "4",
                "Kept": "at room temperature",
                "Open on": "2026-04-14",
                "No.": "1",
                **who,
            }
        ],
        "Bottles opened": [
            {
                "When": "2026-04-14 09:00",
                "Bottling lot": "L1",
                "Kept": "at room temperature",
                "Pressure on the gauge": "2.1 bar",
                "Gauge": "Gauge 1",
                "What was found": "lively, clean",
                "Something is wrong": "no",
                "No.": "1",
                **who,
            }
        ],
        "Readings": [
            {
                "When": "2026-03-04 09:00",
                "Lot": "B1",
                "Place": "",
                "Measured": "pH",
                "Reading": "3.9",
                "Sample temperature": "24 °C",
                "Instrument": "Meter 1",
                "Replicate": "2",
                "Stage": "fermenting",
                **who,
            },
            {
                "When": "2026-03-04 09:05",
                "Place": "Cooler 1",
                "Measured": "temperature, °C",
                "Reading": "4.5 °C",
                "Instrument": "Probe 1",
            },
        ],
        "Condition checks": [
            {
                "When": "2026-03-12 09:00",
                "Lot": "B2",
                "Mould": "not sure: keep apart, look again",
                "Kahm yeast": "yes",
                "Vinegar eels": "yes",
                "Flies or larvae": "yes",
                "Smell": "sharp",
                "Colour and film": "amber, thin film",
                "Taste": "not tasted",
                "Verdict": "suspect",
                **who,
            }
        ],
        "Lab results": [
            {
                "Sample taken": "2026-03-21",
                "Lot": "L1",
                "Measured": "alcohol, % vol",
                "Result": "0.42",
                "Standard uncertainty": "0.03",
                "Laboratory": "Riverside Analysts",
                "Method": "distillation",
                "Reported on": "2026-03-25",
                "Report number": "R-12",
                "No.": "1",
                **who,
            },
            {
                "Sample taken": "2026-03-21",
                "Lot": "L1",
                "Measured": "total acidity, g/L as acetic",
                "Result": "6.1",
                "Laboratory": "Riverside Analysts",
            },
        ],
        "Alcohol estimates": [
            {
                "When": "2026-03-13",
                "Lot": "B1",
                "Alcohol, % vol": "0.6",
                "Standard uncertainty, % vol": "0.3",
                "Method": "mean of our results",
                "What went into it": "six laboratory results",
                "Version of the calculation": "house 2",
                **who,
            }
        ],
        "Moves": [
            {
                "When": "2026-03-14 17:00",
                "Lot": "L1",
                "Amount": "90",
                "From": "",
                "To": "Warm room",
                "No.": "1",
            },
            {
                "When": "2026-03-18 17:00",
                "Lot": "L1",
                "Amount": "60",
                "From": "Warm room",
                "To": "Cooler 1",
                **who,
            },
        ],
        "Shipments": [
            {
                "When": "2026-03-22 08:00",
                "Customer": "Corner Larder",
                "Shipment number": "2001",
                "Kind": "sample or gift",
                "Sent from": "Cooler 1",
                "Reference document": "delivery note",
                "Document number": "N-1",
                "Transporter": "own van",
                "Temperature at loading": "5 °C",
                **who,
            }
        ],
        "Shipment lines": [
            {
                "Shipment number": "2001.0",
                "Lot": "L1",
                "Amount": "24",
                "Note": "two crates",
                "No.": "1",
            }
        ],
        "Keg log": [
            {"When": "2026-03-14 08:00", "Keg": "K-001", "What happened": "cleaned"},
            {
                "When": "2026-03-14 13:00",
                "Keg": "K-001",
                "What happened": "filled",
                "Lot": "L2",
                **who,
            },
            {
                "When": "2026-03-22 08:00",
                "Keg": "K-001",
                "What happened": "sent out",
                "Customer": "Corner Larder",
            },
        ],
        "Returns": [
            {
                "When": "2026-03-29",
                "Lot": "L1",
                "Amount brought back": "2",
                "Customer": "Corner Larder",
                "Reference document": "credit 4",
                "No.": "1",
                **who,
            }
        ],
        "Adjustments": [
            {
                "When": "2026-03-30",
                "Lot": "L1",
                "Amount gone": "2",
                "What became of it": "destroyed",
                "Witness": "Rita",
                "Reference document": "sheet 9",
                "No.": "1",
                **who,
            }
        ],
        "Stock counts": [
            {
                "When": "2026-04-20",
                "Lot": "L1",
                "Counted": "65",
                "Witness": "Rita",
                "Reference document": "count 2",
                **who,
            }
        ],
        "Holds": [
            {
                "When": "2026-03-23",
                "Lot": "L1",
                "Cause": "pressure",
                "What is wrong": "two bottles gushed",
                **who,
            },
            {
                "When": "2026-03-24",
                "Lot": "C3",
                "Cause": "mould or foreign growth",
                "What is wrong": "a white spot",
            },
        ],
        "Holds ended at a lot": [
            {
                "Held lot": "C3",
                "Cause": "mould or foreign growth",
                "Lot that goes on": "C3",
                "When": "2026-03-26",
                "By": "",
                "What was found, and why it may go on": "it was yeast after all",
            }
        ],
        "Holds lifted": [
            {
                "Lot": "L1",
                "Cause": "pressure",
                "When": "2026-03-25",
                "By": "",
                "What was found, and why it may go on": "the two were warm; ten cold ones sound",
                "Which authority was asked, and what it said": "none needed",
            }
        ],
        "Starters retired": [
            {"Starter": "C1", "When": "2026-03-03", "Reason": "the rest was poured away", "By": ""}
        ],
    }
