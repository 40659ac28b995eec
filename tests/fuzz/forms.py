"""The forms of a page, read from its HTML, and ways to fill them in: once as a person would, then wrongly."""

import random
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urljoin, urlsplit

from django.core.files.uploadedfile import SimpleUploadedFile

from tests.counts.importing import MIXED

KINDS_OF_TEXT = {
    "date": "2026-08-12", "datetime-local": "2026-08-12T10:00", "time": "09:00", "month": "2026-08",
    "email": "somebody@example.org", "number": "3", "url": "/", "tel": "1", "password": "smoke-and-bellows-7",
}  # fmt: skip
FILES = (
    ("counts.csv", MIXED.encode()),
    ("", b""),
    ("empty.csv", b""),
    ("picture.png", b"\x89PNG\r\n\x1a\n" + b"\0" * 60),
    ("broken.xlsx", b"PK\x03\x04" + b"\xff" * 200),
    ("../../etc/passwd", b"yard,colony\n=1+1,@x\n"),
    ("nul\x00.csv", b"yard\0,colony\n\0,\0\n"),
    ("wide.csv", ("yard,colony,date,method,mites\n".encode("utf-16"))),
    ("long.csv", b"a," * 20_000),
    ("thing.json", b'{"format": "recount", "version": -1, "yards": [[[]]]}'),
    ("deep.json", b"[" * 5_000),
    ("program.exe", b"MZ\x90\x00" + bytes(range(256))),
    ("\N{HONEYBEE}\u202egnp.csv", b"\xff\xfe\xfd"),
)


@dataclass
class Box:
    """A field of a form: its kind of input and the values it offers."""

    kind: str = "text"
    held: list[str] = field(default_factory=list)
    offers: list[str] = field(default_factory=list)

    def meant(self) -> list[str]:
        """What a person who hurries would leave or put in."""
        if self.held:
            return self.held
        if self.kind == "checkbox":
            return []
        return self.offers[:1] or [KINDS_OF_TEXT.get(self.kind, "words")]


@dataclass
class Form:
    """Where a form goes, and its boxes by name."""

    action: str
    verb: str
    boxes: dict[str, Box] = field(default_factory=dict)

    def meant(self) -> dict[str, Any]:
        """Filled in as it comes, with something in every box."""
        return {
            name: [_file(0)] if box.kind == "file" else box.meant()
            for name, box in self.boxes.items()
            if box.kind == "file" or box.meant()
        }

    def spoilt(self, odd: list[str], keys: list[str], dice: random.Random) -> dict[str, Any]:
        """The same, one to three boxes odd, missing, repeated, another's key, or not a box of this form at all."""
        data, names = self.meant(), sorted(self.boxes)
        some = names if dice.random() < 0.1 else dice.sample(names, min(len(names), dice.randint(1, 3)))
        for name in some:
            how = dice.random()
            if self.boxes[name].kind == "file":
                data[name] = [_file(dice.randrange(len(FILES))) for _ in range(1 + (how < 0.1))]
            elif how < 0.12:
                data.pop(name, None)
            elif how < 0.25:
                data[name] = [dice.choice(odd), dice.choice(odd), *data.get(name, [])]
            elif how < 0.45:
                data[name] = [dice.choice(keys)]
            elif how < 0.6 and self.boxes[name].offers:
                data[name] = [dice.choice(self.boxes[name].offers)]
            else:
                data[name] = [dice.choice(odd)]
        if dice.random() < 0.15:
            data[dice.choice(("id", "keeper", "club", "role", "is_operator", "by", "a[]", "__proto__"))] = [
                dice.choice(keys)
            ]
        return {name: values for name, values in data.items() if values}


def _file(number: int) -> SimpleUploadedFile:
    name, data = FILES[number]
    file = SimpleUploadedFile(name or "nameless", data)
    if not name or "/" in name or "\0" in name:
        file._name = name or "\r\n"  # past what a kind client would send
    return file


class _Reader(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__()
        self.page, self.forms, self.open, self.select = page, [], None, None
        self.by_id: dict[str, Form] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.open = Form(urljoin(self.page, given.get("action", "")), given.get("method", "get").upper())
            self.forms.append(self.open)
            self.by_id[given.get("id", "")] = self.open
        form = self.by_id.get(given["form"]) if "form" in given else self.open
        if tag == "option" and self.select is not None:
            self.select.offers.append(given.get("value", ""))
            if "selected" in given:
                self.select.held.append(given.get("value", ""))
        name = given.get("name", "")
        if form is None or not name or name == "csrfmiddlewaretoken":
            return
        if tag in ("input", "select", "textarea", "button"):
            box = form.boxes.setdefault(name, Box(given.get("type", "text") if tag != "select" else "select"))
            value = given.get("value", "")
            self.select = box if tag == "select" else None
            if tag == "button" or given.get("type") in ("radio", "checkbox", "submit"):
                box.offers.append(value)
                if "checked" in given:
                    box.held.append(value)
            elif tag == "input" and value:
                box.held.append(value)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.open = None
        if tag == "select":
            self.select = None


def forms_of(page: str, html: str) -> list[Form]:
    """Every form of a page of ours that goes to ourselves."""
    reader = _Reader(page)
    reader.feed(html)
    return [form for form in reader.forms if not urlsplit(form.action).netloc]
