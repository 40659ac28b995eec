"""Log an alcohol wash of today: log_a_wash.py ADDRESS COLONY MITES, with the token in RECOUNT_TOKEN."""

import json
import os
import sys
import time
import urllib.error
import urllib.request
import uuid


def new_key() -> str:
    """A UUID of version 7 (RFC 9562): milliseconds, then what a random one has."""
    chance = uuid.uuid4().int & ((1 << 76) - 1)
    return str(uuid.UUID(int=time.time_ns() // 1_000_000 << 80 | 7 << 76 | chance))


def log(address: str, token: str, facts: dict[str, object]) -> dict:
    """The count as it was kept. Every try has the same key, so that none makes a second count."""
    headers = {"Authorization": f"Bearer {token}", "Idempotency-Key": new_key()}
    headers["Content-Type"] = "application/json"
    request = urllib.request.Request(f"{address}/api/v1/counts/", json.dumps(facts).encode(), headers)
    for tries in range(5):
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:
                return json.load(answer)
        except urllib.error.HTTPError as error:  # refused, or there is something to look at first
            raise SystemExit(f"Not saved: {error.read().decode()}") from error
        except OSError:  # no answer: perhaps it was kept, perhaps not
            time.sleep(2**tries)
    raise SystemExit("No answer. Look whether it is there before you log it again.")


address, colony, mites = sys.argv[1:]
wash = {"method": "alcohol_wash", "sampled_on": time.strftime("%Y-%m-%d")}
wash |= {"colony": int(colony), "mites": int(mites), "bees_by": "volume", "measure": "half_cup"}
count = log(address, os.environ["RECOUNT_TOKEN"], wash)
print("{rate:.1f} ({low:.1f} to {high:.1f}) per 100 bees, from {bees} bees".format(**count["estimate"]))
print(count["standing"]["word"], "-", count["standing"]["sentence"])
