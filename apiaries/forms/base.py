"""What the forms of the pages share."""

from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar

from django import forms
from django.http import HttpRequest, QueryDict

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise


class PageForm(forms.Form):
    """A form whose action may still refuse: `refusals` puts each domain error into words, at a field or above all."""

    refusals: ClassVar[dict[type[Exception], tuple[str | None, "StrOrPromise"]]] = {}

    def saves(self, write: Callable[[], object]) -> bool:
        """Run the action; False, with an error in this form, when it refuses. Anything unforeseen still breaks."""
        try:
            write()
        except tuple(self.refusals) as error:
            field, words = next(said for kind, said in self.refusals.items() if isinstance(error, kind))
            self.add_error(field, words)
            return False
        return True


def posted(request: HttpRequest) -> QueryDict | None:
    """The data of a form that was sent; None when the page was only opened."""
    return request.POST if request.method == "POST" else None
