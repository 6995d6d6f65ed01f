#!/usr/bin/env python3
"""
Set up Pourwright and run it. Standard library only; the same on Linux, macOS and Windows.

    python3 start.py            set up if needed, then run the program
    python3 start.py --demo     the same, on a separate demo workshop full of life
    python3 start.py test       set up for development, check the code and run every test
    python3 start.py check      formatter, linter, types, docstring examples, import contract
    python3 start.py setup      set up only

Further words go on to the program (see ``start.py --help``) or, after ``test``, to pytest.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import MutableMapping
from pathlib import Path

ROOT = Path(__file__).resolve().parent
ENV = ROOT / ".venv"
SCRIPTS = ENV / ("Scripts" if os.name == "nt" else "bin")
PYTHON = SCRIPTS / ("python.exe" if os.name == "nt" else "python")
STAMP = ENV / "lock-stamp"
POLL_S = 0.1  # between two looks at what runs


def main(words: list[str]) -> int:
    if sys.version_info < (3, 11):
        print(
            f"Pourwright needs Python 3.11 or newer; this is {sys.version.split()[0]} "
            f"({sys.executable}). Get a newer one and start it with that.",
            file=sys.stderr,
        )
        return 2
    for stream in (sys.stdout, sys.stderr):
        # A console that cannot show "…" shows a question mark rather than failing.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    keep_what_is_compiled(os.environ)
    verb = words[0] if words else ""
    if verb in ("-h", "--help"):
        print(__doc__.strip())
        return 0
    try:
        if verb == "setup":
            set_up("runtime")
            print(f"Ready. The command line is {(SCRIPTS / 'pourwright').relative_to(ROOT)}")
            return 0
        if verb == "test":
            return test(words[1:])
        if verb == "check":
            set_up("dev")
            return check()
        set_up("runtime")
    except CannotSetUp as failed:
        print(f"Setting up failed: {failed}", file=sys.stderr)
        return 1
    except OSError as failed:
        print(f"Setting up failed: {failed}. Nothing of yours was touched.", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped. Run it again to go on; it begins where it must.", file=sys.stderr)
        return 130
    return run([PYTHON, "-m", "pourwright.cli.main", "start", *words])


def keep_what_is_compiled(environment: MutableMapping[str, str]) -> None:
    """
    Where bytecode may not lie beside the code, as in many containers, keep it in the environment.

    Otherwise each process compiles anew all that it loads of the libraries: seconds for each, and
    the tests start hundreds.
    """
    if environment.pop("PYTHONDONTWRITEBYTECODE", ""):
        environment.setdefault("PYTHONPYCACHEPREFIX", str(ENV / "bytecode"))


class CannotSetUp(Exception):
    """Why, in words for a person."""


def set_up(kind: str) -> None:
    """Make the environment from the hashed lock file, once for each change of the lock."""
    locks = {name: ROOT / "requirements" / f"{name}.lock" for name in ("runtime", "dev")}
    digest = {name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in locks.items()}
    # Another Python, or the folder moved elsewhere: then the old environment serves no more.
    ours = f"{sys.version_info[0]}.{sys.version_info[1]} {ROOT}"
    stamp = STAMP.read_text(encoding="utf-8") if STAMP.exists() and PYTHON.exists() else ""
    made_for, _, installed = stamp.rpartition(" ")
    # The development lock holds all of the runtime's, so either stamp serves for running.
    if made_for == ours and installed in (digest["dev"], digest[kind]):
        return
    print("Setting up (a minute or two, once) …", flush=True)
    # A stamp is written only when all is in place: an interrupted set-up starts again.
    STAMP.unlink(missing_ok=True)
    if made_for != ours:
        _make_environment()
    # Most of what large libraries bring is never imported; Python compiles what is, by itself.
    pip = [
        PYTHON, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--no-compile",
    ]  # fmt: skip
    locked = ["--require-hashes", "--only-binary", ":all:", "-r", locks[kind]]
    for words in (locked, ["--no-deps", "--no-build-isolation", "-e", "."]):
        if subprocess.call([str(word) for word in (*pip, *words)], cwd=ROOT):
            raise CannotSetUp(
                "pip could not install what is needed; its messages above say why. The first "
                "set-up needs the network: if this machine is offline, connect it and run this "
                "again. Nothing of yours was touched."
            )
    STAMP.write_text(f"{ours} {digest[kind]}", encoding="utf-8")


def _make_environment() -> None:
    try:
        import ensurepip  # noqa: F401 - Debian leaves it out where it leaves out venv's use
        import venv
    except ImportError as missing:
        raise CannotSetUp(
            f"this Python ({sys.executable}) comes without venv. On Debian or Ubuntu: "
            "sudo apt install python3-venv. Elsewhere, get Python from python.org."
        ) from missing
    try:
        venv.create(ENV, with_pip=True, clear=ENV.exists())
    except subprocess.CalledProcessError as failed:
        raise CannotSetUp(
            f"no environment could be made in {ENV} (step {failed.cmd[-1]!r} of venv ended with "
            f"{failed.returncode}). Delete that folder and run this again."
        ) from failed


def test(words: list[str]) -> int:
    """Everything, in parts side by side; with words for pytest, what they choose and no more."""
    set_up("dev")
    environment = {**os.environ, "DJANGO_ALLOW_ASYNC_UNSAFE": "true"}
    # For a few tests by name a browser that is here will do; for all of them it is fetched.
    if browser := _browser_here() if words else find_browser():
        environment["POURWRIGHT_BROWSER"] = browser
    if words:
        return run([PYTHON, "-m", "pytest", *words], environment)
    if sys.stdout.isatty() and not os.environ.get("NO_COLOR"):
        environment["PY_COLORS"] = "1"  # what a part says goes through a file, not to a terminal
    # One more than there are cores: a part that waits, for a browser or a server, leaves room.
    return side_by_side(parts(), environment, at_once=_cores() + 1)


def parts() -> dict[str, list]:
    """
    Return all there is to test, by name, as commands that know nothing of each other.

    The longest come first, so that a short one is the last to end. What no other part names is
    the remainder's: a new folder of tests is run without being listed here.
    """
    pytest = [PYTHON, "-m", "pytest"]
    postgresql = [PYTHON, "tests/on_postgresql.py", "-m", "both_databases"]
    # The documentation looks at the demo: in one process with its own tests it is made once. With
    # them go those that start programs of their own.
    lived = [
        "tests/test_docs.py",
        *(f"tests/workshop/test_{name}.py" for name in ("demo", "demo_seed", "backup", "crash")),
    ]
    records = ["tests/workshop"]
    pages = ["tests/browser"]
    core = ["tests/core", "tests/published"]
    named = (*lived, *records, *pages, *core)
    return {
        "pages in a browser": [*pytest, *pages],
        "records and services": [*pytest, *records, *(f"--ignore={path}" for path in lived)],
        "demo, safekeeping and documentation": [*pytest, *lived],
        # The same tests of ledger, services and concurrency on the database of a grown workshop.
        "the same on PostgreSQL": [*postgresql, *records],
        "the core and what is published": [*pytest, *core],
        "all other tests": [*pytest, *(f"--ignore={path}" for path in named)],
        "check": [PYTHON, "start.py", "check"],
    }


class Part:
    """A command in a process of its own; what it says waits in a file until it is shown."""

    def __init__(self, name: str, command: list, said: Path) -> None:
        self.name = name
        self.command = [str(word) for word in command]
        self.said = said
        self.child: subprocess.Popen | None = None
        self.shown = 0  # bytes
        self.took_s = 0.0

    def begin(self, environment: dict[str, str]) -> None:
        self.began = time.monotonic()
        with self.said.open("wb") as said:
            self.child = subprocess.Popen(
                self.command, cwd=ROOT, env=environment, stdout=said, stderr=subprocess.STDOUT
            )

    def runs(self) -> bool:
        if self.child is None or self.child.returncode is not None:
            return False
        self.took_s = time.monotonic() - self.began
        return self.child.poll() is None

    def show(self) -> None:
        """Print what it has said since the last time."""
        with self.said.open("rb") as said:
            said.seek(self.shown)
            new = said.read()
        self.shown += len(new)
        sys.stdout.flush()
        sys.stdout.buffer.write(new)
        sys.stdout.buffer.flush()

    def outcome(self) -> str:
        if self.child is None:
            return f"not run          {self.name}"
        word = "failed" if self.child.returncode else "passed"
        return f"{word} in {self.took_s:5.0f} s  {self.name}"


def side_by_side(commands: dict[str, list], environment: dict[str, str], *, at_once: int) -> int:
    """
    Run every command, ``at_once`` of them at any time; return 0 if all went well.

    Each one's words are shown whole and in turn: the first one's as they come, the others' when
    those before are through. Ctrl-C reaches those that run, and SIGTERM is handed on to them;
    after either none is begun any more.
    """
    stops: list[int] = []
    with tempfile.TemporaryDirectory(prefix="pourwright-", ignore_cleanup_errors=True) as folder:
        parts = [
            Part(name, command, Path(folder, f"{place}.txt"))
            for place, (name, command) in enumerate(commands.items())
        ]

        def stop(number: int, _) -> None:
            stops.append(number)
            for part in parts:
                if number == signal.SIGTERM and part.runs():
                    part.child.terminate()

        def tend() -> None:
            """Begin what there is room for."""
            for part in parts:
                if not stops and part.child is None and sum(p.runs() for p in parts) < at_once:
                    part.begin(environment)

        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, stop)
        for part in parts:
            tend()
            if part.child is None:  # stopped before its turn
                continue
            print(f"\n— {part.name}", flush=True)
            while part.runs():
                tend()
                part.show()
                time.sleep(POLL_S)
            part.show()
    print("", *(part.outcome() for part in parts), sep="\n", flush=True)
    return 128 + stops[0] if stops else int(any(part.child.returncode for part in parts))


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def check() -> int:
    """Formatter, linter, types, docstring examples and the import contract; all are run."""
    env = {**os.environ, "DJANGO_SETTINGS_MODULE": "pourwright.workshop.settings_test"}
    steps = {
        "format": [PYTHON, "-m", "ruff", "format", "--check", "."],
        "lint": [PYTHON, "-m", "ruff", "check", "."],
        "types": [PYTHON, "-m", "mypy"],
        "examples": [
            PYTHON, "-m", "pytest", "-q", "--doctest-modules", "-p", "no:randomly",
            "src/pourwright/core", "src/pourwright/papers", "src/pourwright/intake",
        ],
        "layers": [SCRIPTS / "lint-imports"],
    }  # fmt: skip
    failed = []
    for name, command in steps.items():
        print(f"— {name}", flush=True)
        if run(command, env):
            failed.append(name)
    print("check: " + (f"{', '.join(failed)} failed" if failed else "all is well"), flush=True)
    return 1 if failed else 0


def find_browser() -> str | None:
    """Return a Chromium-family browser, installing one where that can be done without asking."""
    if found := _browser_here():
        return found
    apt = shutil.which("apt-get")
    if apt and hasattr(os, "geteuid") and os.geteuid() == 0:
        print("Installing a browser for the browser tests …", flush=True)
        subprocess.call([apt, "update", "-qq"])
        install = [apt, "install", "-y", "-qq", "--no-install-recommends", "chromium"]
        subprocess.call(install, stdout=subprocess.DEVNULL)
        if found := _browser_here():
            return found
    else:
        print("Fetching a browser for the browser tests …", flush=True)
        if subprocess.call([PYTHON, "-m", "playwright", "install", "chromium"]) == 0:
            return "bundled"
    print("No browser could be found or installed: the browser tests are left out.", flush=True)
    return None


def _browser_here() -> str | None:
    for name in ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"):
        if found := shutil.which(name):
            return found
    for place in (
        "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
        "/Applications/Chromium.app/Contents/MacOS/Chromium",
        r"C:\Program Files\Google\Chrome\Application\chrome.exe",
        r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe",
    ):
        if Path(place).exists():
            return place
    return None


def run(command: list, environment: dict[str, str] | None = None) -> int:
    """
    Run a child to its end. Ctrl-C reaches it as well, and it ends in its own time; SIGTERM comes
    to this process alone and is handed on.
    """
    child = subprocess.Popen([str(word) for word in command], cwd=ROOT, env=environment)
    with contextlib.suppress(ValueError, AttributeError):
        signal.signal(signal.SIGTERM, lambda *_: child.terminate())
    while True:
        try:
            return child.wait()
        except KeyboardInterrupt:
            continue


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
