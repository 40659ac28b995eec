"""What is typed about treatments."""

from treatments.forms.doses import GiveRoundForm
from treatments.forms.records import DisposalForm, PurchaseForm, RecordChoice, RecordForm
from treatments.forms.steps import OutByForm, TakeOutForm, WhyForm
from treatments.forms.treatment import TreatmentForm

__all__ = [
    "DisposalForm",
    "GiveRoundForm",
    "PurchaseForm",
    "RecordChoice",
    "RecordForm",
    "OutByForm",
    "TakeOutForm",
    "TreatmentForm",
    "WhyForm",
]
