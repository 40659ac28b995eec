"""A browser behind the proxy of a service: plain HTTP with the proxy's headers, cookies kept over all web hosts."""

import http.client
from collections.abc import Mapping
from dataclasses import dataclass, field
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import urlencode

SITE = "recount.example.org"


@dataclass(frozen=True)
class Answer:
    status_code: int
    headers: Mapping[str, str]
    content: bytes

    def __getitem__(self, header: str) -> str:
        return self.headers[header]


@dataclass
class Visitor:
    """Asks the web hosts in turn, as a proxy before them would."""

    hosts: list[tuple[str, int]]
    cookies: dict[str, str] = field(default_factory=dict)
    asked: int = 0

    def get(self, url: str) -> Answer:
        return self._ask("GET", url, None)

    def post(self, url: str, data: Mapping[str, Any]) -> Answer:
        return self._ask("POST", url, urlencode(dict(data), doseq=True))

    def _ask(self, method: str, url: str, body: str | None) -> Answer:
        host, port = self.hosts[self.asked % len(self.hosts)]
        self.asked += 1
        line = http.client.HTTPConnection(host, port, timeout=60)
        headers = {
            "Host": SITE,
            "X-Forwarded-Proto": "https",
            "X-Forwarded-For": "192.0.2.7",
            "Referer": f"https://{SITE}{url}",
            "Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items()),
            "Content-Type": "application/x-www-form-urlencoded",
        }
        try:
            line.request(method, url, body, headers)
            answer = line.getresponse()
            content = answer.read()
        finally:
            line.close()
        for text in answer.headers.get_all("Set-Cookie") or []:
            for name, morsel in SimpleCookie(text).items():
                self.cookies[name] = morsel.value
        return Answer(answer.status, dict(answer.headers.items()), content)
