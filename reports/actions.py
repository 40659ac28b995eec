"""What people may change about what is sent to them."""

from apiaries.history import action
from apiaries.models import Person
from reports.models import Suspension


@action
def lift_suspension(*, person: Person, by: Person) -> bool:
    """Send to the person's address again, although a mail server refused it for good. False if none was suspended.

    The attempts that were refused stay with their mails.
    """
    gone, _ = Suspension.objects.filter(person=person).delete()
    return gone > 0
