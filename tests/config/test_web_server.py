"""The web server reads the program once, and its processes part before anything is open that they must not share."""

import json
import subprocess
import sys
from pathlib import Path

from config.paths import BASE_DIR
from tests.processes import environment

SCRIPT = """
import json, os, threading
from gunicorn.app.wsgiapp import WSGIApplication

class Told(WSGIApplication):
    def run(self):
        pass

told = Told("%(prog)s")
assert told.cfg.preload_app
told.wsgi()  # what the first process does before the others part from it
from django.db import connections
places = [f"/proc/self/fd/{one}" for one in os.listdir("/proc/self/fd")]
files = [os.readlink(one) for one in places if os.path.exists(one)]
lines = connections.all(initialized_only=True)
print(json.dumps({
    "connections": [one.alias for one in lines if one.connection is not None],
    "sockets": [one for one in files if one.startswith("socket:")],
    "threads": [one.name for one in threading.enumerate()],
}))
"""


def test_nothing_is_open_when_its_processes_part(db: None, tmp_path: Path) -> None:
    plain = {name: value for name, value in environment().items() if name != "RECOUNT_TEST"}
    surroundings = plain | {
        "SECRET_KEY": "0123456789abcdefghijklmnopqrstuvwxyz-0123456789-ABCDEFG",
        "ALLOWED_HOSTS": "recount.example.org",
        "RECOUNT_VAR": str(tmp_path),
        "GUNICORN_CMD_ARGS": "--config python:config.web_server",
    }
    command = [sys.executable, "-W", "ignore", "-c", SCRIPT, "config.wsgi"]
    done = subprocess.run(command, env=surroundings, cwd=BASE_DIR, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr

    assert json.loads(done.stdout) == {"connections": [], "sockets": [], "threads": ["MainThread"]}
