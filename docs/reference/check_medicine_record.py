#!/usr/bin/env python3
"""Checks the chain of a medicine record against a fingerprint that was noted before. Needs nothing but Python 3.

    python3 check_medicine_record.py medicine-record-chain.json "1a2b 3c4d 5e6f 7a8b"

The file is what the page of the medicine record gives as "Chain (JSON)"; the fingerprint, short or whole, is the one
printed on a PDF or noted from the page. Without one, only whether the file agrees with itself is checked. Ends with 1
if anything is wrong. How it is worked out: medicine-chain.md, beside this file.
"""

import hashlib
import json
import sys

NOUGHTS = "0" * 64
IN_A_LINK = ("keeper", "number", "kind", "entry", "what", "digest", "previous", "at")


def sha256(text):
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def hash_of(link, keeper):
    """JSON with names in order, without blanks, in ASCII; then SHA-256."""
    said = {name: link.get(name) for name in IN_A_LINK} | {"keeper": keeper}
    return sha256(json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=True))


def wrong_links(file):
    """What is wrong with the chain by itself."""
    number, previous = 0, NOUGHTS
    for link in file["links"]:
        if link["number"] != number + 1:
            yield f"link {link['number']} follows link {number}"
        if link["previous"] != previous:
            yield f"link {link['number']} does not name the hash of the link before"
        if link["hash"] != hash_of(link, file["keeper"]):
            yield f"link {link['number']} was changed: its hash is not that of what it says"
        number, previous = link["number"], link["hash"]
    head = file["head"] or {"number": 0, "hash": NOUGHTS}
    if (head["number"], head["hash"]) != (number, previous):
        yield f"the head is not the last link, {number}"


def wrong_entries(file):
    """Which entries are not as their last link says."""
    last = {(link["kind"], link["entry"]): link for link in file["links"]}
    for entry in file["entries"]:
        link = last.get((entry["kind"], entry["entry"]))
        name = f"{entry['kind']} {entry['entry']}"
        if link is None:
            yield f"{name} has no link"
        elif sha256(entry["salt"] + entry["text"]) != link["digest"]:
            yield f"{name} is not as link {link['number']} says"
        elif json.loads(entry["text"])["entry_key"] != entry["entry"]:
            yield f"{name} has the text of another entry"


def noted_link(file, noted):
    """The link whose hash begins with what was noted; None if there is none."""
    wanted = "".join(noted.split()).lower()
    return next((link for link in file["links"] if wanted and link["hash"].startswith(wanted)), None)


def main(words):
    if not 1 <= len(words) <= 2:
        sys.stderr.write(__doc__)
        return 2
    with open(words[0], encoding="utf-8") as opened:
        file = json.load(opened)
    wrong = [*wrong_links(file), *wrong_entries(file)]
    out = [f"{len(file['links'])} links, {len(file['entries'])} entries"]
    if len(words) == 2:
        link = noted_link(file, words[1])
        if link is None:
            wrong.append("the fingerprint that was noted is in no link: the chain is another, or was cut off")
        else:
            out.append(f"noted at link {link['number']}, {len(file['links']) - link['number']} came later")
    last = {(link["kind"], link["entry"]): link for link in file["links"]}
    shown = {(entry["kind"], entry["entry"]) for entry in file["entries"]}
    unseen = [at for at, link in last.items() if link["what"] != "ended" and at not in shown]
    if unseen:
        out.append(
            f"{len(unseen)} entries are not in this file: whoever made it may not see them, or they are gone"
        )
    out += [f"WRONG: {one}" for one in wrong] or ["everything agrees"]
    sys.stdout.write("\n".join(out) + "\n")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
