"""``start.py test`` runs parts side by side, shows each one's words whole, and stops when told."""

import importlib.util
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PLAY = """
import os, sys
sys.path.insert(0, {root!r})
import start
parts = {{name: [sys.executable, "-c", words] for name, words in {parts!r}}}
sys.exit(start.side_by_side(parts, dict(os.environ), at_once={at_once}))
"""
SLOWLY = "import time\nfor n in range(3):\n print('slow', n, flush=True); time.sleep(0.2)"
OF_BYTECODE = ("PYTHONDONTWRITEBYTECODE", "PYTHONPYCACHEPREFIX")
SHOUT = "print('shout')"


def _start():
    spec = importlib.util.spec_from_file_location("start", ROOT / "start.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def played(*parts: tuple[str, str], at_once: int) -> subprocess.Popen:
    words = PLAY.format(root=str(ROOT), parts=list(parts), at_once=at_once)
    return subprocess.Popen(
        [sys.executable, "-c", words],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
    )  # fmt: skip


@pytest.mark.parametrize("at_once", [1, 2])
def test_each_part_s_words_stand_together_and_in_turn(at_once):
    child = played(("one", SLOWLY), ("two", SHOUT), at_once=at_once)
    said, _ = child.communicate(timeout=60)
    heads = ("— one", "slow 0", "slow 1", "slow 2", "— two", "shout")
    assert [line for line in said.splitlines() if line in heads] == list(heads)
    assert child.returncode == 0


def test_one_that_fails_fails_the_whole_and_the_others_still_run():
    child = played(("one", "raise SystemExit(3)"), ("two", SHOUT), at_once=1)
    said, _ = child.communicate(timeout=60)
    assert child.returncode == 1
    assert "shout" in said.splitlines()
    assert [line[:6] for line in said.splitlines()[-2:]] == ["failed", "passed"]


@pytest.mark.skipif(os.name == "nt", reason="Windows has no signal to send to one process so")
def test_a_stop_is_handed_on_and_no_other_part_is_begun():
    waits = "import time\nprint('here', flush=True); time.sleep(60)"
    child = played(("one", waits), ("two", SHOUT), at_once=1)
    for line in child.stdout:
        if line.strip() == "here":
            break
    began = time.monotonic()
    child.send_signal(signal.SIGTERM)
    said, _ = child.communicate(timeout=60)
    assert time.monotonic() - began < 50
    assert child.returncode == 128 + signal.SIGTERM
    assert "shout" not in said
    assert "not run" in said.splitlines()[-1]


def test_what_is_compiled_is_kept_where_it_may_not_lie_beside_the_code(tmp_path):
    start = _start()
    ask = "import sys; print(sys.dont_write_bytecode, sys.pycache_prefix)"

    def kept(**more) -> list[str]:
        environment = {name: value for name, value in os.environ.items() if name not in OF_BYTECODE}
        environment.update(more)
        start.keep_what_is_compiled(environment)
        asked = [sys.executable, "-c", ask]
        return subprocess.check_output(asked, env=environment, encoding="utf-8").split()

    assert kept(PYTHONDONTWRITEBYTECODE="1") == ["False", str(start.ENV / "bytecode")]
    own = str(tmp_path)
    assert kept(PYTHONDONTWRITEBYTECODE="1", PYTHONPYCACHEPREFIX=own) == ["False", own]
    assert kept() == ["False", "None"]


def test_every_file_of_tests_is_in_one_part():
    """PostgreSQL's apart, which runs some of them again."""
    everything = [path.relative_to(ROOT).as_posix() for path in (ROOT / "tests").rglob("test_*.py")]
    runs = dict.fromkeys(everything, 0)
    for words in (list(map(str, words)) for words in _start().parts().values()):
        if "pytest" not in words:
            continue
        chosen = [word for word in words if word.startswith("tests/")] or ["tests"]
        left_out = [
            word.removeprefix("--ignore=") for word in words if word.startswith("--ignore=")
        ]
        assert all((ROOT / path).exists() for path in (*chosen, *left_out))
        for path in everything:
            runs[path] += _under(path, chosen) and not _under(path, left_out)
    assert {path: count for path, count in runs.items() if count != 1} == {}


def test_what_runs_on_both_databases_is_where_postgresql_s_part_looks():
    """It need not read all the others to leave them out."""
    words = list(map(str, _start().parts()["the same on PostgreSQL"]))
    looks_in = [word for word in words if word.startswith("tests/") and word != words[1]]
    marked = [
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "tests").rglob("test_*.py")
        if "mark.both_databases" in path.read_text(encoding="utf-8") and path != Path(__file__)
    ]
    assert marked
    assert [path for path in marked if not _under(path, looks_in)] == []


def _under(path: str, places: list[str]) -> bool:
    return any(path == place or path.startswith(f"{place}/") for place in places)
