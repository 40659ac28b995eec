"""The service asks nobody on the network but its own database, broker and mail server, whose places are settings.

So no address that somebody typed is ever fetched (OWASP ASVS 5.0.0, 1.3.6, 13.2.4, 15.3.2): the
places that could are listed here.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

BASE = Path(__file__).resolve().parent.parent
ROOMS = ("apiaries", "counts", "treatments", "reports", "config")
REACHES_OUT = {
    "aiohttp",
    "asyncio",
    "ftplib",
    "http.client",
    "httpx",
    "imaplib",
    "multiprocessing.connection",
    "poplib",
    "pycurl",
    "requests",
    "smtplib",
    "socket",
    "socketserver",
    "ssl",
    "telnetlib",
    "urllib.request",
    "urllib3",
    "webbrowser",
    "websockets",
    "xmlrpc",
}
"""Modules by which Python talks to another machine."""
ONLY_NAMES = {"SMTPException", "SMTPRecipientsRefused", "SMTPResponseException", "SMTPServerDisconnected"}
"""Imported alone they are kinds of errors to be caught."""
PERMITTED = {
    ("apiaries/line.py", "smtplib"): "the mail server of the settings",
    ("config/trials_of_services.py", "smtplib"): "check_setup tries the mail server of the settings",
    ("config/trials_of_services.py", "ssl"): "... and names what is wrong with its certificate",
    ("config/log_lines.py", "smtplib"): "kinds of errors, of which a number is told",
    ("config/work_signals.py", "socket"): "the name of this host",
    ("config/serve.py", "socket"): "whether the port of a first look is free, on this machine",
}


def _modules(tree: ast.AST) -> Iterator[str]:
    """Full names of what a file imports, errors left out."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (one.name for one in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            names = [one.name for one in node.names if one.name not in ONLY_NAMES]
            if names:
                yield node.module
                yield from (f"{node.module}.{name}" for name in names)
        elif isinstance(node, ast.Call) and getattr(node.func, "id", getattr(node.func, "attr", "")) in (
            "import_module",
            "__import__",
        ):
            yield from (one.value for one in node.args if isinstance(one, ast.Constant))


def _reaching(text: str) -> set[str]:
    imported = set(_modules(ast.parse(text)))
    return {
        module
        for module in REACHES_OUT
        if any(one == module or one.startswith(f"{module}.") for one in imported)
    }


def test_only_the_listed_places_can_reach_another_machine() -> None:
    found = {
        (str(path.relative_to(BASE)), module)
        for room in ROOMS
        for path in (BASE / room).rglob("*.py")
        for module in _reaching(path.read_text())
    }

    assert found == PERMITTED.keys()


@pytest.mark.parametrize(
    "text",
    [
        "import requests",
        "import urllib.request as u",
        "from urllib import request",
        "from urllib.request import urlopen",
        "def f():\n    import socket",
        "importlib.import_module('http.client')",
        "from smtplib import SMTP, SMTPException",
    ],
)
def test_the_search_sees_each_way_of_importing(text: str) -> None:
    assert _reaching(text)


def test_parsing_an_address_reaches_nobody() -> None:
    assert not _reaching("from urllib.parse import urlencode\nfrom smtplib import SMTPException")
