"""Counts and what they say: read, logged, corrected, voided and restored by the same actions as on the pages."""

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from apiaries.access import yard_for
from apiaries.api.conditional import answer_if_changed, etag_of
from apiaries.api.problems import Fault, invalid
from apiaries.api.scopes import Scope
from apiaries.api.views import ActionViewSet, Interface, refused
from apiaries.forms.base import PageForm
from apiaries.models import Person
from counts.access import editable_sample_for
from counts.actions import (
    AlreadyVoided,
    ChangedSince,
    EntryKeyReused,
    correct_sample,
    kept_with,
    record_sample,
    void_sample,
)
from counts.api.entering import CorrectionIn, NewCountIn, WhyIn, correct_form, faults_in, new_form
from counts.api.filters import CountFilters
from counts.api.idempotency import HEADER, alone_with, key_of, reused
from counts.api.shapes import CountOut, YardSaysOut
from counts.api.telling import counts_told, tellable, yard_told
from counts.change_actions import NotVoided, Replaced, restore_sample
from counts.forms.changing import RestoreForm
from counts.forms.sample import SampleForm, VoidForm
from counts.models import MiteSample

ALREADY = "This count was voided or corrected before."
KEY = OpenApiParameter(
    HEADER, {"type": "string", "format": "uuid"}, "header", required=True,
    description="A UUID of version 7: new for a new count, the same one when it is sent again.",
)  # fmt: skip
MATCH = OpenApiParameter(
    "If-Match", str, "header", required=True, description="The ETag of the count as it was read."
)


class CountViewSet(ActionViewSet):
    """Counts in the yards you may see, each with its estimate and how it stands to the action levels."""

    reads, writes = Scope.COUNTS_READ, Scope.COUNTS_WRITE
    serializer_class = CountOut
    filterset_class = CountFilters
    bodies: ClassVar[dict[str, type]] = {
        "create": NewCountIn, "correction": CorrectionIn, "void": WhyIn, "restore": WhyIn
    }  # fmt: skip
    refusals: ClassVar = {
        AlreadyVoided: (409, ALREADY, None),
        NotVoided: (409, "This count stands: there is nothing to restore.", None),
        Replaced: (409, "Another count stands in its place. Void that one first, then restore this.", None),
    }

    def queryset_for(self, person: Person) -> "QuerySet[MiteSample]":
        return tellable(MiteSample.objects.visible_to(person))

    def get_serializer_class(self) -> Any:
        return self.bodies.get(self.action, CountOut)

    def as_listed(self, things: Sequence[Any]) -> Any:
        return CountOut(counts_told(things, self.person), many=True).data

    @extend_schema(parameters=[KEY], request=NewCountIn, responses={201: CountOut, 200: CountOut})
    def create(self, request: Request) -> Response:
        """Log a count. What is unusual about it is asked first, as on the pages.

        201, or 200 where the same key had brought it in before.
        """
        key, facts, at = key_of(request), self.body(), timezone.now()
        with alone_with(key):
            form = new_form(facts, person=self.person, key=key)
            kept = _kept(form, lambda: record_sample(count=form.count, at=at, by=self.person))
            if kept.corrects_id is not None:
                raise reused()
        return self._written(kept, at)

    @extend_schema(parameters=[KEY, MATCH], request=CorrectionIn, responses={201: CountOut, 200: CountOut})
    @action(detail=True, methods=["post"])
    def correction(self, request: Request, pk: int) -> Response:
        """Put a corrected count in its place; the old one stays to be seen, with who and why."""
        sample = editable_sample_for(self.person, pk)
        key, facts, at = key_of(request), self.body(), timezone.now()
        with alone_with(key):
            sent_before = MiteSample.objects.filter(entry_key=key).exists()
            seen = None if sent_before else self._read(pk)
            if sample.voided_at is not None and not sent_before:
                raise AlreadyVoided
            form = correct_form(facts, sample=sample, person=self.person, key=key)

            def corrected() -> MiteSample:
                why = form.cleaned_data["why"]
                return kept_with(form.count, self.person) or self._if_same(
                    pk, lambda: correct_sample(
                        sample=sample, count=form.count, why=why, at=at, by=self.person, seen=seen
                    )
                )  # fmt: skip

            kept = _kept(form, corrected)
            if kept.corrects_id != sample.pk:
                raise reused()
        return self._written(kept, at)

    @extend_schema(parameters=[MATCH], request=WhyIn, responses=CountOut)
    @action(detail=True, methods=["post"])
    def void(self, request: Request, pk: int) -> Response:
        """It does not count any more, but stays to be seen."""
        sample, why = editable_sample_for(self.person, pk), self._why(VoidForm)
        seen, at = self._read(pk), timezone.now()
        self._if_same(pk, lambda: void_sample(sample=sample, why=why, at=at, by=self.person, seen=seen))
        return self._written(sample, at)

    @extend_schema(parameters=[MATCH], request=WhyIn, responses=CountOut)
    @action(detail=True, methods=["post"])
    def restore(self, request: Request, pk: int) -> Response:
        """It counts again; that it was voided stays to be seen."""
        sample, why = editable_sample_for(self.person, pk), self._why(RestoreForm)
        seen, at = self._read(pk), timezone.now()
        self._if_same(pk, lambda: restore_sample(sample=sample, why=why, at=at, by=self.person, seen=seen))
        return self._written(sample, at)

    def _read(self, pk: int) -> int:
        """The version that the asker read. Errors: Problem, where they did not, or it has changed since."""
        found = self.get_queryset().get(pk=pk)
        self.require_read(found)
        return found.version

    def _if_same(self, pk: int, write: Callable[[], MiteSample]) -> MiteSample:
        """Write; 412 where somebody else was quicker by a moment."""
        try:
            return write()
        except ChangedSince:
            self._read(pk)
            raise

    def _why(self, form_of: type[PageForm]) -> str:
        form = form_of(self.body())
        if not form.is_valid():
            raise invalid([Fault(name="why", detail=str(words)) for words in form.errors["why"]])
        return str(form.cleaned_data["why"])

    def _written(self, sample: MiteSample, at: dt.datetime) -> Response:
        """The count as it is now: 201 and where it is, if it came at this moment."""
        data = self.as_shown(self.get_queryset().get(pk=sample.pk))
        headers = {"ETag": etag_of(data)}
        if sample.recorded_at != at:
            return Response(data, headers=headers)
        url = self.request.build_absolute_uri(reverse("api:count-detail", kwargs={"pk": sample.pk}))
        return Response(data, status=201, headers=headers | {"Location": url})


class YardEstimateView(Interface):
    """What the newest washes or rolls of a yard say of it as a whole."""

    reads = Scope.COUNTS_READ

    @extend_schema(operation_id="yards_estimate", responses=YardSaysOut)
    def get(self, request: Request, pk: int) -> Response:
        """The yard's mean with its range, as its page shows it."""
        yard = yard_for(self.person, pk)
        return answer_if_changed(request, YardSaysOut(yard_told(yard, self.person)).data)


def _kept(form: SampleForm, write: Callable[[], MiteSample]) -> MiteSample:
    """What the action kept. Errors: Problem, in the words of the form."""
    kept: list[MiteSample] = []

    def once() -> None:
        try:
            kept.append(write())
        except EntryKeyReused as error:
            raise reused() from error
        except AlreadyVoided as error:
            raise refused(409, ALREADY, None) from error

    if not form.saves(once):
        raise invalid(faults_in(form))
    return kept[0]
