"""A file that is made whole before its first byte is sent."""

from __future__ import annotations

import tempfile
from typing import IO

from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase

IN_MEMORY = 4 * 1024 * 1024
"""A larger one waits on disk while it is sent (our choice)."""


def waiting_file() -> IO[bytes]:
    """Where it is written; gone when it is closed."""
    return tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)


def sent(file: IO[bytes], name: str, media_type: str) -> HttpResponseBase:
    """The answer, which closes the file."""
    size = file.tell()
    file.seek(0)
    answer: HttpResponseBase
    if size <= IN_MEMORY:
        with file:
            answer = HttpResponse(file.read(), content_type=media_type)
        answer["Content-Disposition"] = f'attachment; filename="{name}"'
    else:
        answer = FileResponse(file, as_attachment=True, filename=name, content_type=media_type)
    answer["Content-Length"] = str(size)
    return answer
