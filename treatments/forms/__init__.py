"""What is typed about treatments."""

from treatments.forms.doses import GiveRoundForm
from treatments.forms.steps import TakeOutForm, WhyForm
from treatments.forms.treatment import TreatmentForm

__all__ = ["GiveRoundForm", "TakeOutForm", "TreatmentForm", "WhyForm"]
