"""The records, by noun."""

from brewlog.models.batches import Batch, Brew, ProcessStep, Vessel
from brewlog.models.bottling import (
    BottleWash,
    BottlingLot,
    Breakage,
    Flavour,
    Format,
    LineClearance,
    RetainedBottles,
)
from brewlog.models.charts import BatchFigure, UsualRun
from brewlog.models.checkpoints import (
    AlcoholEstimate,
    Checkpoint,
    LabResult,
    Measurand,
    Stage,
)
from brewlog.models.cultures import ConditionCheck, CultureLine, CultureLot
from brewlog.models.devices import SharedDevice
from brewlog.models.imports import ImportedRow
from brewlog.models.ingredients import Ingredient, IngredientLot, PreparationLot, Supplier
from brewlog.models.instruments import (
    BufferBottle,
    Calibration,
    CalibrationPoint,
    Instrument,
)
from brewlog.models.lots import (
    CODE_LETTER,
    Hold,
    HoldEnd,
    Lot,
    LotKind,
    LotUse,
    ReviewFlag,
    StockAdjustment,
)
from brewlog.models.people import Brewery, DateOrder, Role, RoleChange, User, day_first_for
from brewlog.models.recipes import Recipe, RecipeLine, RecipeVersion
from brewlog.models.saved_views import SavedView
from brewlog.models.shipping import (
    Customer,
    Keg,
    KegEvent,
    Location,
    Move,
    Shipment,
    ShipmentLine,
)
from brewlog.models.submissions import PutAside, SubmittedForm

__all__ = [
    "CODE_LETTER",
    "AlcoholEstimate",
    "Batch",
    "BatchFigure",
    "BottleWash",
    "BottlingLot",
    "Breakage",
    "Brew",
    "Brewery",
    "BufferBottle",
    "Calibration",
    "CalibrationPoint",
    "Checkpoint",
    "ConditionCheck",
    "CultureLine",
    "CultureLot",
    "Customer",
    "DateOrder",
    "Flavour",
    "Format",
    "Hold",
    "HoldEnd",
    "ImportedRow",
    "Ingredient",
    "IngredientLot",
    "Instrument",
    "Keg",
    "KegEvent",
    "LabResult",
    "LineClearance",
    "Location",
    "Lot",
    "LotKind",
    "LotUse",
    "Measurand",
    "Move",
    "PreparationLot",
    "ProcessStep",
    "PutAside",
    "Recipe",
    "RecipeLine",
    "RecipeVersion",
    "RetainedBottles",
    "ReviewFlag",
    "Role",
    "RoleChange",
    "SharedDevice",
    "Shipment",
    "ShipmentLine",
    "Stage",
    "StockAdjustment",
    "SavedView",
    "SubmittedForm",
    "Supplier",
    "User",
    "UsualRun",
    "Vessel",
    "day_first_for",
]
