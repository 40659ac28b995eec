"""Odd things to type, and the boxes of a page to type them into."""

import random
from html.parser import HTMLParser

ODD = (
    "", " ", "0", "-1", "-0", "1e5", "1.5", "0,5", "NaN", "inf", "-inf", "9" * 20, "9" * 400, "0x10", "1_000",
    "١٢", "²", "½", "⑦", "\x00", "a\x00b", "\r\nBcc: a@example.org", "<script>alert(1)</script>",
    "{{ 7|add:7 }}", "%s%n", "' OR 1=1 --", "\u202eabc", "\N{HONEYBEE}", "x" * 20_000, "None", "true", "on", "[]",
    "2026-02-30", "0001-01-01", "1899-12-31", "9999-12-31", "2099-12-31", "31.12.9999", "12/8/2026", "29 Feb 2100",
    "today", "a@İstanbul.example", "A@EXAMPLE.ORG", "a@b", "zoe@example.org", "1-24", "24-1", "1-999999", "1,1",
    ",,,", "91, 181", "-90, -180", "1e3, 2", "alcohol_wash", "board", "drone_brood", "../../etc", "{}",
    "12345678-1234-5678-1234-567812345678",
)  # fmt: skip


class _Boxes(HTMLParser):
    """Names of a page's fields, with what they hold when nothing is touched."""

    def __init__(self) -> None:
        super().__init__()
        self.held: dict[str, list[str]] = {}
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        name = given.get("name") or ""
        if tag == "option" and self._select and given.get("value"):
            self.held[self._select] = [given["value"] or ""]
        if tag == "select":
            self._select = name
        if tag not in ("input", "select", "textarea") or not name or name == "csrfmiddlewaretoken":
            return
        held = self.held.setdefault(name, [])
        chosen = given.get("type") not in ("radio", "checkbox") or "checked" in given or not held
        if tag == "input" and chosen:
            value = given.get("value") or ""
            self.held[name] = [*held, value] if given.get("type") == "checkbox" else [value]

    def handle_endtag(self, tag: str) -> None:
        self._select = "" if tag == "select" else self._select


def boxes_of(page: str) -> dict[str, list[str]]:
    """Every field of every form on the page, filled as it comes."""
    parser = _Boxes()
    parser.feed(page)
    return parser.held


def spoilt(held: dict[str, list[str]], dice: random.Random) -> dict[str, list[str]]:
    """The same with one to three fields odd, missing or repeated; now and then all of them."""
    data = {name: list(values) for name, values in held.items()}
    names = sorted(data)
    for name in names if dice.random() < 0.1 else dice.sample(names, min(len(names), dice.randint(1, 3))):
        how = dice.random()
        if how < 0.1:
            del data[name]
        elif how < 0.2:
            data[name] = [dice.choice(ODD), dice.choice(ODD), *data[name]]
        else:
            data[name] = [dice.choice(ODD)]
    return data
