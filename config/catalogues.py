"""The catalogues of other languages: written anew from the code, compiled, and looked through. No system package.

    python -m config.catalogues compile   .po to .mo where a .po is newer (make demo and make test do it)
    python -m config.catalogues write     every marked sentence into the .po files (make messages)

A .po is a room's own: APP/locale/LANGUAGE/LC_MESSAGES/django.po, and djangojs.po for config/static/*.js. What people
read of the tables in fixtures/ is config's too. The .mo files are made, not kept.
"""

import ast
import csv
import io
import os
import re
import sys
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("apiaries", "config", "counts", "reports", "treatments")
LANGUAGES = ("de",)
LANGUAGE = ROOT / "apiaries" / "language.py"
DOMAINS = ("django", "djangojs")
KEYWORDS = {
    **dict.fromkeys(("say", "mark", "_", "gettext", "gettext_lazy", "gettext_noop"), None),
    **dict.fromkeys(("say_many", "ngettext", "ngettext_lazy"), (1, 2)),
    **dict.fromkeys(("say_as", "mark_as", "pgettext", "pgettext_lazy"), ((1, "c"), 2)),
}
REFERENCE = {
    "action_levels.csv": ("region", "mark", "note", "only_when"),
    "applications.csv": ("name", "recount_reason", "recount_mark"),
    "cautions.csv": ("sentence", "mark", "note"),
    "dated_limits.csv": ("unit", "mark", "note"),
    "method_cards.csv": ("sentence",),
    "notifiable.csv": ("name", "tell"),
    "record_rules.csv": ("clause", "only_if"),
    "visit_rules.csv": ("name",),
}
"""Columns of fixtures/ that people read, said where they are shown. Names of issuers and sources stay."""
REFERENCE_WORDS = ("allowed", "none stated", "off", "own choice", "common practice, no source", "from memory")
"""Words in the place of a number or a source."""
SCRIPT_KEYWORDS = {"inWords": None, "inWordsMany": (1, 2)}
_SPEAKS = re.compile(r"^(from|import) (apiaries\.language|django\.utils\.translation)\b", re.MULTILINE)
_IN_TEMPLATE = re.compile(
    r"\b(npgettext|ngettext|pgettext|gettext|_)\(((?:u?'(?:[^'\\]|\\.)*'|u?\"(?:[^\"\\]|\\.)*\"|[,\s]|count)+)\)"
)
# The number of a plural comes after its sentences; in a sentence "count" is a word of ours.
_NUMBER = re.compile(r",\s*count\s*$")

Found = tuple[tuple[str, ...] | str, str | None]


def catalogue_path(room: str, language: str, domain: str) -> Path:
    """Where a room's sentences in this language stand."""
    return ROOT / room / "locale" / language / "LC_MESSAGES" / f"{domain}.po"


def read_catalogue(path: Path, language: str) -> Catalog:
    """The catalogue, or an empty one where there is none yet."""
    if not path.exists():
        return Catalog(locale=language)
    with path.open("rb") as file:
        return read_po(file, locale=language)


def asked(room: str, domain: str) -> Catalog:
    """Every sentence that is marked in a room's code and templates, without translations."""
    found = Catalog()
    for path in sorted((ROOT / room).rglob("*")):
        relative = path.relative_to(ROOT / room)
        if "migrations" in relative.parts or "node_modules" in relative.parts:
            continue
        for message, context in _marked_in(path, domain):
            found.add(message, context=context)
    if (room, domain) == ("config", "django"):
        for message in _in_reference_tables():
            found.add(message)
    return found


def _in_reference_tables() -> Iterator[str]:
    tables = ROOT / "fixtures"
    if not tables.is_dir():
        return
    yield from REFERENCE_WORDS
    for name, columns in REFERENCE.items():
        with (tables / name).open(newline="", encoding="utf-8") as file:
            yield from (row[column] for row in csv.DictReader(file) for column in columns if row[column])


def _marked_in(path: Path, domain: str) -> Iterator[Found]:
    if domain == "djangojs":
        if path.suffix == ".js":
            yield from _extracted("javascript", path, SCRIPT_KEYWORDS)
    elif path.suffix == ".py" and (path == LANGUAGE or _SPEAKS.search(path.read_text(encoding="utf-8"))):
        yield from _extracted("python", path, KEYWORDS)
    elif "templates" in path.parts and path.suffix in (".html", ".txt", ".svg"):
        yield from _marked_in_template(path.read_text(encoding="utf-8"))


def _extracted(method: str, path: Path, keywords: Mapping[str, object]) -> Iterator[Found]:
    with path.open("rb") as file:
        for _, message, _, context in extract(method, file, keywords=keywords):  # type: ignore[arg-type]
            if message:
                yield message, context


def _marked_in_template(text: str) -> Iterator[Found]:
    from django.utils.translation.template import templatize

    for kind, arguments in _IN_TEMPLATE.findall(templatize(text)):
        texts = ast.literal_eval(f"[{_NUMBER.sub('', arguments)}]")
        context = texts.pop(0) if kind in ("pgettext", "npgettext") else None
        yield (tuple(texts) if len(texts) > 1 else texts[0]), context


def write() -> None:
    """Bring every catalogue up to what the code asks; translations stay, what nobody asks any more goes."""
    for room in ROOMS:
        for domain in DOMAINS:
            wanted = asked(room, domain)
            if not len(wanted):
                continue
            for language in LANGUAGES:
                path = catalogue_path(room, language, domain)
                known = read_catalogue(path, language)
                new = brought_up(known, wanted, language)
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(written(new))


def brought_up(known: Catalog, wanted: Catalog, language: str) -> Catalog:
    """What is wanted, with the translations that are known; nothing is guessed from similar sentences."""
    new = Catalog(locale=language, fuzzy=False)
    for message in wanted:
        if not message.id:
            continue
        old = known.get(message.id, message.context)
        new.add(
            message.id,
            string=old.string if old is not None and same_number(old, message) else "",
            context=message.context,
        )
    return new


def same_number(one: Message, other: Message) -> bool:
    """Whether both are told of one, or both of one and of many."""
    return isinstance(one.id, str) == isinstance(other.id, str)


def written(catalogue: Catalog) -> bytes:
    """A .po as it is kept: in the order of the sentences, without what changes by itself (dates, line numbers)."""
    made = io.BytesIO()
    write_po(
        made, catalogue, no_location=True, omit_header=False, sort_output=True, width=0, ignore_obsolete=True
    )
    lines = made.getvalue().decode().splitlines(keepends=True)
    churn = (
        *("#", '"POT-Creation-Date', '"PO-Revision-Date', '"Generated-By', '"Project-Id', '"Report-Msgid'),
        *('"Last-Translator', '"Language-Team'),
    )
    return "".join(line for line in lines if not line.startswith(churn)).lstrip().encode()


def uncompiled() -> list[tuple[Path, str]]:
    """Every .po whose .mo is missing or older, with its language."""
    return [
        (path, language)
        for room in ROOMS
        for language in LANGUAGES
        for domain in DOMAINS
        if (path := catalogue_path(room, language, domain)).exists() and not _is_compiled(path)
    ]


def _is_compiled(path: Path) -> bool:
    made = path.with_suffix(".mo")
    return made.exists() and made.stat().st_mtime >= path.stat().st_mtime


def compile_all() -> None:
    """A .mo beside each .po that is newer. Two at once do no harm: each file is put in place whole."""
    for path, language in uncompiled():
        with tempfile.NamedTemporaryFile(dir=path.parent, suffix=".part", delete=False) as part:
            write_mo(part, read_catalogue(path, language))
        os.chmod(part.name, 0o644)
        os.replace(part.name, path.with_suffix(".mo"))


def main(words: list[str]) -> None:
    if words == ["compile"]:
        compile_all()
    elif words == ["write"]:
        write()
        compile_all()
    else:
        sys.exit(__doc__)


if __name__ == "__main__":
    main(sys.argv[1:])
