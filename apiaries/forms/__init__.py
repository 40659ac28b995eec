"""Forms of the pages. They parse and put errors into words; actions write.

allauth imports JoinForm from here while it builds its own forms, so nothing here may import `allauth.account.forms`.
"""

from apiaries.forms.base import PageForm, posted
from apiaries.forms.club import ClubForm, RegionForm, VisitRuleForm
from apiaries.forms.colonies import ColonyAddForm, ColonyEndForm, ColonyForm, ColonyMoveForm
from apiaries.forms.colony_life import (
    ColonyRequeenForm,
    ColonySplitForm,
    ColonyUniteForm,
    UndoForm,
    UndoSplitForm,
)
from apiaries.forms.labels import LabelsForm
from apiaries.forms.leaving import LeaveForm, MemberForgetForm
from apiaries.forms.members import InvitationForm, MemberForm, MemberSearchForm
from apiaries.forms.people import JoinForm, MeForm
from apiaries.forms.yards import HelperForm, YardForm, YardSetUpForm

__all__ = [
    "ClubForm",
    "ColonyAddForm",
    "ColonyEndForm",
    "ColonyForm",
    "ColonyMoveForm",
    "ColonyRequeenForm",
    "ColonySplitForm",
    "ColonyUniteForm",
    "HelperForm",
    "InvitationForm",
    "JoinForm",
    "LabelsForm",
    "LeaveForm",
    "MeForm",
    "MemberForgetForm",
    "MemberForm",
    "MemberSearchForm",
    "PageForm",
    "RegionForm",
    "UndoForm",
    "UndoSplitForm",
    "VisitRuleForm",
    "YardForm",
    "YardSetUpForm",
    "posted",
]
