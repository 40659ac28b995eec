"""The report of a visit as a file."""

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from apiaries.access import visit_for
from apiaries.views.asking import person_of
from apiaries.views.files import paper_asked, pdf_answer
from reports.visit_pdf import visit_pdf


@require_safe
def visit_report(request: HttpRequest, pk: int) -> HttpResponse:
    """The report as a PDF, A4 or US Letter; 404 for a visit that was not made."""
    paper = paper_asked(request)
    person = person_of(request)
    visit = visit_for(person, pk)
    if visit.visited_on is None:
        raise Http404
    made = visit_pdf(visit, person, paper=paper, as_of=timezone.now())
    return pdf_answer(made, f"visit-{visit.visited_on.isoformat()}-report")
