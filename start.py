#!/usr/bin/env python3
"""
Set up Pourwright and run it. Standard library only; the same on Linux, macOS and Windows.

    python3 start.py            set up if needed, then run the program
    python3 start.py --demo     the same, on a separate demo workshop full of life
    python3 start.py test       set up for development and run every test
    python3 start.py check      formatter, linter, types, docstring examples, import contract
    python3 start.py setup      set up only

Further words go on to the program (see ``start.py --help``) or, after ``test``, to pytest.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent
ENV = ROOT / ".venv"
SCRIPTS = ENV / ("Scripts" if os.name == "nt" else "bin")
PYTHON = SCRIPTS / ("python.exe" if os.name == "nt" else "python")
STAMP = ENV / "lock-stamp"


def main(words: list[str]) -> int:
    if sys.version_info < (3, 11):
        print(
            f"Pourwright needs Python 3.11 or newer; this is {sys.version.split()[0]} "
            f"({sys.executable}). Get a newer one and start it with that.",
            file=sys.stderr,
        )
        return 2
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
    except subprocess.CalledProcessError as failed:
        print(
            f"Setting up failed at: {' '.join(map(str, failed.cmd))}\n"
            "The messages above say why; nothing of yours was touched. Run it again once mended.",
            file=sys.stderr,
        )
        return 1
    except OSError as failed:
        print(f"Setting up failed: {failed}", file=sys.stderr)
        return 1
    return run([PYTHON, "-m", "pourwright.cli.main", "start", *words])


def set_up(kind: str) -> None:
    """Make the environment from the hashed lock file, once for each change of the lock."""
    locks = {name: ROOT / "requirements" / f"{name}.lock" for name in ("runtime", "dev")}
    digest = {name: _digest(path) for name, path in locks.items()}
    # The development lock holds all of the runtime's, so either stamp serves for running.
    stamp = STAMP.read_text() if STAMP.exists() and PYTHON.exists() else ""
    if stamp == digest["dev"] or stamp == digest[kind]:
        return
    print("Setting up (a minute or two, once) …", flush=True)
    if not PYTHON.exists() or not STAMP.exists():
        import venv

        venv.create(ENV, with_pip=True, clear=ENV.exists())
    # A stamp is written only when all is in place: an interrupted set-up starts again.
    STAMP.unlink(missing_ok=True)
    pip = [PYTHON, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    subprocess.check_call(
        [*pip, "--require-hashes", "--only-binary", ":all:", "-r", locks[kind]], cwd=ROOT
    )
    subprocess.check_call([*pip, "--no-deps", "--no-build-isolation", "-e", "."], cwd=ROOT)
    STAMP.write_text(digest[kind])


def _digest(lock: Path) -> str:
    python = f"{sys.version_info[0]}.{sys.version_info[1]}"
    return hashlib.sha256(lock.read_bytes() + python.encode()).hexdigest()


def test(words: list[str]) -> int:
    """Every test: first on SQLite, browser included, then those of the ledger on PostgreSQL."""
    set_up("dev")
    environment = {**os.environ, "DJANGO_ALLOW_ASYNC_UNSAFE": "true"}
    if not words:
        if code := check():
            return code
        if browser := find_browser():
            environment["POURWRIGHT_BROWSER"] = browser
    code = run([PYTHON, "-m", "pytest", *words], environment)
    if code == 0 and not words:
        # The same tests of ledger, services and concurrency on the database of a grown workshop.
        print("— the same on PostgreSQL", flush=True)
        on_postgresql = [PYTHON, "tests/on_postgresql.py", "-m", "both_databases"]
        code = run(on_postgresql, environment)
    return code


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
    """Run a child to its end. Ctrl-C reaches the child as well, which ends in its own time."""
    child = subprocess.Popen([str(word) for word in command], cwd=ROOT, env=environment)
    while True:
        try:
            return child.wait()
        except KeyboardInterrupt:
            continue


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
