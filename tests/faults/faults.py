"""Faults on purpose, and what is left of a book after them. Run by ``make faults``; prints what it counted.

    python tests/faults/faults.py [--kills 500] [--copies 60] [--writers 16] [--served 30] [--only sqlite|postgresql]

Sixteen processes write in one book, a third of their acts the same as another's; one after the other is ended by
SIGKILL at a random moment and another takes its place. Then a clock set back and a full disk; on PostgreSQL a server
that is stopped in the middle; on SQLite the files as they lie at random moments, their log cut at a random byte, as a
power cut would leave them; and the served process ended while people press (`served.py`). After each: every act that
was answered stands once, numbers have no gap, and the proof of the book and of its history finds nothing. Ends with 1
where that is not so.
"""

import argparse
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "inventory" / "book")]
BOOK = "faults"
FULL = 200_000  # bytes that a file may still grow
Answered = dict[str, tuple[int, str]]


class Broken(Exception):
    """What was found wrong after a fault."""


def answered(log: Path) -> Answered:
    """Return the acts that were answered: name, number, digest; a line cut short by a kill was read by nobody."""
    found: Answered = {}
    for line in log.read_text().splitlines() if log.exists() else ():
        name, _, rest = line.partition("\t")
        seq, _, digest = rest.partition("\t")
        if len(digest) == 64 and found.setdefault(name, (int(seq), digest)) != (int(seq), digest):
            raise Broken(f"{name} was answered as line {found[name][0]} and as line {seq}")
    return found


def proved(acknowledged: Answered, *, all_of_them: bool = True) -> int:
    """Return how many lines the book of the settings has, once it was proved and holds what was answered."""
    from inventory.book import audit, changed
    from inventory.models import Book, Entry

    book = Book.objects.get(name=BOOK)
    if wrong := [*audit.faults(book), *changed.faults(book)]:
        raise Broken(str(wrong[0]))
    digests = dict(Entry.objects.filter(book=book).values_list("seq", "digest"))
    if sorted(digests) != list(range(1, len(digests) + 1)):
        raise Broken("numbers have a gap")
    keys = Counter(Entry.objects.filter(book=book).values_list("request_key", flat=True))
    if [key for key, times in keys.items() if times > 1]:
        raise Broken("an act stands twice")
    lost = [name for name, (seq, digest) in acknowledged.items() if digests.get(seq) != digest]
    if lost and all_of_them:
        raise Broken(f"{len(lost)} acts were answered and are not there, such as {lost[0]}")
    return len(digests)


def child(work: Callable[[], object], *, quiet: bool = False) -> int:
    """Do something in a process of its own and return its number; it shares no connection with this one."""
    from django.db import connections

    connections.close_all()
    if (pid := os.fork()) == 0:
        ended = 1
        try:
            work()
            ended = 0
        except Exception as error:  # noqa: BLE001 - a child says what went wrong and ends
            if not quiet:
                sys.stderr.write(f"{type(error).__name__}: {error}\n")
        os._exit(ended)
    return pid


def done(work: Callable[[], object]) -> bool:
    """Whether something that was done in a process of its own came to its end."""
    return os.waitstatus_to_exitcode(os.waitpid(child(work), 0)[1]) == 0


def writer(name: str, log: Path, acts: int = 100_000) -> Callable[[], object]:
    import book_process  # the writer that the tests of the book kill too

    return lambda: book_process.write(BOOK, name, acts, str(log))


def killed_writers(log: Path, kills: int, writers: int, chance: random.Random) -> Counter[str]:
    """Let writers write and end one after the other at a random moment; each has another in its place."""
    told: Counter[str] = Counter()
    running = {child(writer(f"w{number}", log)) for number in range(writers)}
    try:
        for number in range(kills):
            time.sleep(chance.uniform(0.0, 0.2))
            pid = chance.choice(sorted(running))
            os.kill(pid, signal.SIGKILL)
            os.waitpid(pid, 0)
            running.remove(pid)
            running.add(child(writer(f"again{number}", log)))
            told["killed"] += 1
    finally:
        for pid in running:
            os.kill(pid, signal.SIGKILL)
            os.waitpid(pid, 0)
    return told


def full_file(log: Path) -> None:
    """Let a writer write until no file may grow any more: it is refused; with room again it goes on."""

    def work() -> None:
        from django.db import OperationalError, connection

        name = connection.settings_dict["NAME"]
        files = [path for path in (Path(str(name)), Path(f"{name}-wal")) if path.exists()]
        grown = max(path.stat().st_size for path in files)
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (grown + FULL, resource.RLIM_INFINITY))
        try:
            writer("full", log)()
        except OperationalError as error:
            sys.stdout.write(f"sqlite: with no room left the database says: {error}\n")
            sys.stdout.flush()
        else:
            raise Broken("the disk was full and nothing was refused")
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        connection.close()
        writer("with room again", log, acts=5)()

    if not done(work):
        raise Broken("a full disk was not met by a refusal, or nothing could be written afterwards")


def clock_set_back(log: Path) -> None:
    """Let the machine's clock go back a day in the middle of the work, and forward again."""
    from django.utils import timezone

    real = timezone.now

    def work() -> None:
        for name, back in (("before", 0), ("back", 86_400), ("after", 0)):
            timezone.now = lambda back=back: real() - timedelta(seconds=back)  # type: ignore[assignment,misc]
            writer(name, log, acts=20)()

    if not done(work):
        raise Broken("no act could be written by a clock that was set back")


def power_cuts(log: Path, copies: int, writers: int, chance: random.Random, folder: Path) -> Counter[str]:
    """Copy the files as they lie at random moments, their log whole and cut at a random byte; prove each copy.

    What was carried over from the log into the database was synced in the log before, so a power cut never takes the
    one without the other: it is carried over once before, and not meanwhile.
    """
    from django.db import connection

    database = Path(str(connection.settings_dict["NAME"]))
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.settings_dict["OPTIONS"]["init_command"] += "; PRAGMA wal_autocheckpoint=0"
    told: Counter[str] = Counter()
    running = [child(writer(f"cut{number}", log)) for number in range(writers)]
    try:
        for number in range(copies):
            time.sleep(chance.uniform(0.02, 0.2))
            for pid in running:
                os.kill(pid, signal.SIGSTOP)
            time.sleep(0.02)
            stood, copy = answered(log), folder / f"cut-{number}.sqlite3"
            for end in ("", "-wal"):
                shutil.copyfile(f"{database}{end}", f"{copy}{end}")
            for pid in running:
                os.kill(pid, signal.SIGCONT)
            cut = number % 2 == 1
            if cut:
                with Path(f"{copy}-wal").open("r+b") as wal:
                    wal.truncate(chance.randrange(Path(f"{copy}-wal").stat().st_size + 1))
            if not done(lambda copy=copy, stood=stood, cut=cut: _of_copy(copy, stood, cut)):  # type: ignore[misc]
                raise Broken(f"copy {number}{' with its log cut' if cut else ''} is not whole")
            told["copies with a log cut" if cut else "copies whole"] += 1
            for path in folder.glob(f"{copy.name}*"):
                path.unlink()
    finally:
        for pid in running:
            os.kill(pid, signal.SIGKILL)
            os.waitpid(pid, 0)
    return told


def _of_copy(copy: Path, stood: Answered, cut: bool) -> None:
    from django.db import connection

    connection.settings_dict["NAME"] = str(copy)
    proved(stood, all_of_them=not cut)


def server_stopped(log: Path, stop: Callable[[], None], start: Callable[[], None], writers: int) -> None:
    """Stop PostgreSQL at once while writers write, and start it again."""
    running = [child(writer(f"stopped{number}", log), quiet=True) for number in range(writers)]
    time.sleep(3)
    stop()
    for pid in running:
        os.waitpid(pid, 0)
    start()


@contextmanager
def postgres(folder: Path, more: str = "") -> Iterator[tuple[str, Callable[[], None], Callable[[], None]]]:
    """A PostgreSQL of one's own on loopback, that syncs what it commits: its address, how it is stopped and started."""
    import socket

    programs = max(Path("/usr/lib/postgresql").glob("*/bin"))
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    data = folder / "postgres"
    data.mkdir(exist_ok=True)
    own = ["runuser", "-u", "postgres", "--"] if os.getuid() == 0 else []
    if own:
        folder.chmod(0o755)
        shutil.chown(data, "postgres")

    def run(*words: str) -> None:
        subprocess.run([*own, *words], cwd="/", check=True, stdout=subprocess.DEVNULL)

    options = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories='' -c max_connections=60 {more}"

    def start() -> None:
        run(str(programs / "pg_ctl"), "start", "-s", "-w", "-D", str(data), "-l", str(data / "log"), "-o", options)

    def stop() -> None:
        run(str(programs / "pg_ctl"), "stop", "-s", "-D", str(data), "-m", "immediate")

    run(str(programs / "initdb"), "-D", str(data), "-U", "tarebook", "-A", "trust", "-E", "UTF8")
    start()
    try:
        yield f"postgres://tarebook@127.0.0.1:{port}/postgres", stop, start
    finally:
        stop()


@contextmanager
def small_disk(folder: Path) -> Iterator[Path | None]:
    """Yield a file system of 200 MB of one's own, None where none may be mounted here; what it takes is in memory."""
    place = folder / "disk"
    place.mkdir()
    words = ["mount", "-t", "tmpfs", "-o", "size=200m,mode=0755", "tmpfs", str(place)]
    if subprocess.run(words, capture_output=True, check=False).returncode:
        yield None
        return
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


def full_disk_of_postgres(folder: Path, place: Path) -> None:
    """Let writers write until PostgreSQL has no room, give it room, start it where it ended, and prove its book."""
    import book_process
    from django.core.management import call_command
    from django.db import DatabaseError, connections

    log, filler = folder / "answered-small", place / "filler"
    with postgres(place, "-c min_wal_size=32MB -c max_wal_size=32MB") as (url, stop, start):
        connections.close_all()
        connections["default"].settings_dict.update(PORT=int(url.rpartition(":")[2].partition("/")[0]))
        call_command("migrate", verbosity=0)
        book_process.set_up(BOOK)
        filler.write_bytes(b"0" * (shutil.disk_usage(place).free - FULL))

        def work() -> None:
            try:
                writer("full", log)()
            except DatabaseError as error:
                sys.stdout.write(f"postgresql: with no room left it says: {str(error).splitlines()[0]}\n")
                sys.stdout.flush()
            else:
                raise Broken("the disk was full and nothing was refused")

        if not done(work):
            raise Broken("a full disk was not met by a refusal")
        filler.unlink()
        stop()
        start()
        if not done(writer("with room again", log, acts=5)):
            raise Broken("with room again nothing could be written")
        say("postgresql", "a full disk", log)
        connections.close_all()


def served(kind: str, url: str, asked: argparse.Namespace) -> None:
    """End the served process while people press, in a database of its own."""
    words = [sys.executable, "-m", "tests.faults.served", "--kills", str(asked.served), "--seed", str(asked.seed)]
    told = subprocess.run(
        words, cwd=ROOT, env=os.environ | {"DATABASE_URL": url}, capture_output=True, text=True, check=False
    )
    if told.returncode:
        raise Broken(f"the server ended: {told.stderr}")
    sys.stdout.write(f"{kind}: {told.stdout.splitlines()[-1]}\n")
    sys.stdout.flush()


def play(kind: str, asked: argparse.Namespace, folder: Path) -> None:
    """Play every fault on one kind of database, in the process that has it in its settings."""
    import book_process
    from django.core.management import call_command

    chance, log = random.Random(asked.seed), folder / "answered"
    call_command("migrate", verbosity=0)
    book_process.set_up(BOOK)
    told = killed_writers(log, asked.kills, asked.writers, chance)
    say(kind, f"{told['killed']} writers of {asked.writers} at a time killed", log)
    clock_set_back(log)
    say(kind, "a clock set back a day, and forward", log)
    if kind == "sqlite":
        full_file(log)
        say(kind, "a full disk", log)
        told = power_cuts(log, asked.copies, min(asked.writers, 4), chance, folder)
        say(kind, ", ".join(f"{many} {what}" for what, many in sorted(told.items())), log)


def say(kind: str, what: str, log: Path) -> None:
    acknowledged = answered(log)
    lines = proved(acknowledged)
    sys.stdout.write(
        f"{kind}: {what}: {len(acknowledged)} acts answered, none lost, none twice; {lines} lines proved\n"
    )
    sys.stdout.flush()


def main() -> int:
    asking = argparse.ArgumentParser(description="Faults on purpose, and what is left of a book after them.")
    asking.add_argument("--kills", type=int, default=500)
    asking.add_argument("--copies", type=int, default=60)
    asking.add_argument("--writers", type=int, default=16)
    asking.add_argument("--served", type=int, default=30)
    asking.add_argument("--seed", type=int, default=1)
    asking.add_argument("--only", choices=("sqlite", "postgresql"))
    asked = asking.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    for kind in (asked.only,) if asked.only else ("sqlite", "postgresql"):
        with tempfile.TemporaryDirectory(prefix="tarebook-faults-") as name:
            if os.fork() == 0:
                os._exit(_played(kind, asked, Path(name)))
            if ended := os.waitstatus_to_exitcode(os.wait()[1]):
                return ended
    return 0


def _played(kind: str, asked: argparse.Namespace, folder: Path) -> int:
    try:
        if kind == "sqlite":
            os.environ["DATABASE_URL"] = f"sqlite:///{folder / 'book.sqlite3'}"
            play(kind, asked, folder)
            served(kind, f"sqlite:///{folder / 'served.sqlite3'}", asked)
        else:
            with postgres(folder) as (url, stop, start):
                os.environ["DATABASE_URL"] = url
                play(kind, asked, folder)
                server_stopped(folder / "answered", stop, start, asked.writers)
                say(kind, "PostgreSQL stopped in the middle", folder / "answered")
                served(kind, _another(url), asked)
            with small_disk(folder) as place:
                if place is None:
                    sys.stdout.write("postgresql: a full disk was not played: no file system may be mounted here\n")
                else:
                    full_disk_of_postgres(folder, place)
    except Broken as error:
        sys.stderr.write(f"{kind}: {error}\n")
        return 1
    return 0


def _another(url: str) -> str:
    """Return the address of a database of its own on the same server."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("CREATE DATABASE served")
    connection.close()
    return url.replace("/postgres", "/served")


if __name__ == "__main__":
    sys.exit(main())
