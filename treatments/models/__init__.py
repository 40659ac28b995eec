"""Ways of treating, treatments as they were given, the day's sheet, the recount each owes, medicines, what is asked."""

from treatments.models.calls import YardOutlook
from treatments.models.days import DaySheet, Device, SheetHive, SheetMark, Step
from treatments.models.given import Dose, Recount, Round, Treatment
from treatments.models.links import MedicineLink, MedicineSalt
from treatments.models.locked import LockedEntry
from treatments.models.medicines import MedicineDisposal, MedicinePurchase
from treatments.models.ways import Application

__all__ = [
    "Application",
    "DaySheet",
    "Device",
    "Dose",
    "LockedEntry",
    "MedicineDisposal",
    "MedicineLink",
    "MedicinePurchase",
    "MedicineSalt",
    "Recount",
    "Round",
    "SheetHive",
    "SheetMark",
    "Step",
    "Treatment",
    "YardOutlook",
]
