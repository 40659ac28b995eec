"""Files to keep: the paper asked for, and the answer that a browser saves."""

from django.http import Http404, HttpRequest, HttpResponse

from apiaries.paper import Paper


def paper_asked(request: HttpRequest) -> Paper:
    """The paper that the address names, A4 unless it names one; 404 for any other."""
    paper = next((one for one in Paper if one.value == request.GET.get("paper", Paper.A4)), None)
    if paper is None:
        raise Http404
    return paper


def file_answer(made: bytes, kind: str, name: str) -> HttpResponse:
    """The file under its name; `kind` is its media type."""
    answer = HttpResponse(made, content_type=kind)
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def pdf_answer(made: bytes, name: str) -> HttpResponse:
    """A PDF under its name, which is given without the ending."""
    return file_answer(made, "application/pdf", f"{name}.pdf")
