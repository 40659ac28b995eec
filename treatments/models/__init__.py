"""Ways of treating, treatments as they were given, the recount each owes, and medicines bought and disposed of."""

from treatments.models.given import Dose, Recount, Round, Treatment
from treatments.models.medicines import MedicineDisposal, MedicinePurchase
from treatments.models.ways import Application

__all__ = ["Application", "Dose", "MedicineDisposal", "MedicinePurchase", "Recount", "Round", "Treatment"]
