"""The chaos hour: kills everything at random while members work, then reckons up. Say: python -m tests.chaos

    --minutes 20     how long is killed                    --seed 1      which order and pauses
    --broker redis   or rabbitmq: a node of its own        --keep        leave the logs of a good run too

It touches no server of the machine: database, broker and mail server are its own. Ends with 1 if anything differs.
"""

import argparse
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from config.embedded import ensure_server, stop_server
from config.embedded_place import forget, place_of
from config.paths import BASE_DIR
from tests.chaos.kills import KINDS
from tests.chaos.run import run
from tests.chaos.services import BROKERS, Size, surroundings

NIGHT = {
    "pauses": (1.0, 7.0), "hosts": 2, "phones": 4, "keepers": 2, "wave": 10, "beat": 2.0, "smart": 5.0, "restart": 1.0,
    "slow": 0.1, "kinds": KINDS, "served": True,
}  # fmt: skip


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("--minutes", type=float, default=float(os.environ.get("CHAOS_MINUTES", "20")))
    asked.add_argument("--seed", type=int, default=int(os.environ.get("CHAOS_SEED", "1")))
    asked.add_argument("--broker", choices=BROKERS, default=os.environ.get("CHAOS_BROKER", "redis"))
    asked.add_argument("--keep", action="store_true")
    told = asked.parse_args()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # so that nothing of it outlives it
    size = Size(seconds=told.minutes * 60, waves=max(2, round(told.minutes * 6)), **NIGHT)
    folder = Path(tempfile.mkdtemp(prefix="rc", dir="/tmp"))
    folder.chmod(0o755)
    home = folder / "postgres"
    server = ensure_server(home)
    good = False
    try:
        for words in (["migrate", "--verbosity", "0"], ["collectstatic", "--no-input", "--verbosity", "0"]):
            env = surroundings(folder, server.url, "redis://127.0.0.1:1/0", "smtp://127.0.0.1:1", size)
            subprocess.run([sys.executable, "manage.py", *words], cwd=BASE_DIR, env=env, check=True)
        began = time.monotonic()
        found = run(folder, server, server.url, size=size, broker=told.broker, seed=told.seed)
        load = " ".join(f"{one:.1f}" for one in os.getloadavg())
        say(
            f"chaos with {told.broker}, seed {told.seed}, {time.monotonic() - began:.0f} s; load of the machine {load}"
        )
        for line in found.lines():
            say(line)
        good = not found.differences
        return 0 if good else 1
    finally:
        stop_server(home, force=True)
        forget(place_of(home))
        if good and not told.keep:
            shutil.rmtree(folder, ignore_errors=True)
        else:  # what happened stands there and nowhere else
            shutil.rmtree(home, ignore_errors=True)
            say(f"logs: {folder}")


def say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
