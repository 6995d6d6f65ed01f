"""The program starts quickly, on this machine alone, says where it is, and stops well."""

import json
import os
import re
import signal
import socket
import stat
import threading
import urllib.request
from pathlib import Path

import pytest

from pourwright.cli import serve
from running import Browser, Server, free_port, pourwright

TEMPLATES = Path(serve.__file__).parents[1] / "workshop"


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """A first start, in a folder with nothing in it; the others find an empty workshop there."""
    with Server(tmp_path_factory.mktemp("served here")) as running:
        yield running


def test_every_static_file_is_served_and_kept_by_the_browser(server):
    named = {
        name
        for page in TEMPLATES.rglob("*.html")
        for name in re.findall(r"{% static ['\"]([^'\"]+)", page.read_text(encoding="utf-8"))
    }
    own = TEMPLATES / "static"
    files = {path.relative_to(own).as_posix() for path in own.rglob("*") if path.is_file()}
    assert "django_htmx/htmx-2.min.js" in named
    assert any(name.endswith(".woff2") for name in files)
    for name in sorted(named | files):
        with urllib.request.urlopen(f"{server.address}/static/{name}") as answer:
            assert answer.status == 200
            assert "max-age" in answer.headers["Cache-Control"], name
            assert answer.read()
            if name.endswith(".woff2"):
                assert answer.headers["Content-Type"] == "font/woff2"


def test_only_this_machine_is_answered(server):
    with socket.socket() as probe:
        probe.settimeout(1)
        others = {
            address[4][0]
            for address in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
        } - {"127.0.0.1"}
        for other in others:
            if not other.startswith("127."):
                assert probe.connect_ex((other, server.port)) != 0
    request = urllib.request.Request(f"{server.address}/", headers={"Host": "evil.example"})
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(request)
    assert refused.value.code == 400
    refused.value.close()


def test_a_form_without_its_token_is_refused(server):
    assert Browser(server.address).post("/exchange/", {"text": "name\nx"}) == 403


def test_pages_carry_the_policy_and_no_server_name(server):
    with urllib.request.urlopen(f"{server.address}/") as answer:
        assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
        assert answer.headers["Server"] is None
        assert answer.headers["X-Frame-Options"] == "DENY"


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
@pytest.mark.parametrize("times", [1, 3])
def test_it_stops_cleanly_when_asked(empty_workshop, tmp_path, how, times):
    """Once, or several times at once, as a stop of a whole group of processes arrives."""
    server = Server(empty_workshop(tmp_path))
    server.start()
    for _ in range(times - 1):
        server.process.send_signal(how)
    assert server.stop(how) == 0
    assert "Stopped." in server.output
    assert "Traceback" not in server.output


def test_a_form_in_flight_is_answered_before_it_stops(empty_workshop, tmp_path):
    """A thousand suppliers take a moment to bring in; the stop comes in the middle of it."""
    names = "".join(f"Supplier {number}\n" for number in range(1000))
    server = Server(empty_workshop(tmp_path))
    server.start()
    browser = Browser(server.address)
    form = {"csrfmiddlewaretoken": browser.token("/exchange/"), "do": "bring"}
    form["text"] = f"name\n{names}"
    answers = []
    sender = threading.Thread(target=lambda: answers.append(browser.post("/exchange/", form)))
    sender.start()
    threading.Event().wait(0.3)
    in_the_middle = not answers
    assert server.stop() == 0
    sender.join(timeout=30)
    assert in_the_middle, "it was answered before the stop: nothing was tested"
    assert answers == [302]
    with (
        Server(tmp_path) as server,
        urllib.request.urlopen(f"{server.address}/exchange/suppliers.csv") as answer,
    ):
        assert answer.read().count(b"Supplier ") == 1000


def test_a_port_that_is_taken_is_said_and_the_next_free_one_found(server, empty_workshop, tmp_path):
    here = empty_workshop(tmp_path)
    taken = pourwright("serve", "--port", server.port, "--data", here, "--no-browser")
    assert taken.returncode == 2
    assert re.fullmatch(rf"pourwright: Port {server.port} is taken .*\n", taken.stderr)
    with socket.socket() as blocker:
        if not serve._answers(serve.PORT):
            blocker.bind(("127.0.0.1", serve.PORT))
            blocker.listen()
        found = serve._listening(lambda *_: [], None)
        try:
            assert int(found.effective_port) > serve.PORT
            assert found.effective_host == "127.0.0.1"
        finally:
            found.task_dispatcher.shutdown()
            found.close()


def test_two_on_one_folder_both_write_and_nothing_is_lost(empty_workshop, tmp_path):
    empty_workshop(tmp_path)
    with Server(tmp_path) as one, Server(tmp_path) as two:
        sent = []
        for number, server in enumerate([one, two] * 5):
            browser = Browser(server.address)
            form = {"csrfmiddlewaretoken": browser.token("/exchange/"), "do": "bring"}
            form["text"] = f"name\nSupplier {number}\n"
            sent.append(browser.post("/exchange/", form))
        assert sent == [302] * 10
        for server in (one, two):
            with urllib.request.urlopen(f"{server.address}/exchange/suppliers.csv") as answer:
                assert answer.read().count(b"Supplier ") == 10


@pytest.mark.parametrize("words", [["serve"], ["start"], ["demo"]])
@pytest.mark.parametrize("port", ["0", "65536", "-1", "eighty", "8e3", "²"])
def test_what_is_no_port_is_one_line_and_status_2(words, port, tmp_path):
    said = pourwright(*words, f"--port={port}", "--data", tmp_path)
    assert said.returncode == 2
    assert said.stdout == ""
    assert said.stderr.count("\n") == 1
    assert "give one from 1024 to 65535" in said.stderr


def test_a_folder_that_cannot_be_used_is_said(tmp_path):
    file = tmp_path / "a file"
    file.write_text("x")
    for folder, says in ((file, "is a file; name a folder"), (file / "in it", "cannot be written")):
        said = pourwright("serve", "--data", folder, "--no-browser")
        assert (said.returncode, said.stderr.count("\n")) == (2, 1)
        assert says in said.stderr


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0,
    reason="root may write anywhere, and Windows has other permissions",
)
def test_a_folder_that_is_not_yours_is_said(tmp_path):
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)
    said = pourwright("serve", "--data", tmp_path, "--no-browser")
    assert said.returncode == 2
    assert "cannot be written" in said.stderr


def test_the_demo_never_takes_the_place_of_a_workshop(server):
    before = (server.data / "workshop.sqlite3").stat().st_ino
    for words in (["demo", "--no-serve"], ["demo", "--fresh", "--no-serve"], ["start", "--demo"]):
        said = pourwright(*words, "--data", server.data)
        assert said.returncode == 2
        assert "not a demo" in said.stderr
    assert (server.data / "workshop.sqlite3").stat().st_ino == before


def test_a_demo_is_made_once_and_made_anew_when_asked(empty_workshop, tmp_path):
    """With a mark as if it was made: the making itself is tested where the demo is."""
    empty_workshop(tmp_path)
    (tmp_path / "demo.json").write_text(json.dumps({"seed": 3, "ready": True}))
    there = pourwright("demo", "--no-serve", "--json", "--data", tmp_path)
    assert json.loads(there.stdout) == {"data": str(tmp_path), "seed": 3, "made": False}
    other = pourwright("demo", "--no-serve", "--seed", 4, "--data", tmp_path)
    assert other.returncode == 2
    assert "add --fresh" in other.stderr
    assert serve._demo_to_make(tmp_path, seed=4, fresh=True) == 4
    assert not (tmp_path / "workshop.sqlite3").exists()
    # The making was cut off here: the next start makes it from the beginning.
    assert serve._demo_to_make(tmp_path, seed=None, fresh=False) == serve.DEMO_SEED


@pytest.mark.parametrize("seed", ["-1", "x", "1.5", "9999999999"])
def test_what_is_no_seed_is_said(seed, tmp_path):
    said = pourwright("demo", f"--seed={seed}", "--data", tmp_path)
    assert said.returncode == 2
    assert "is no seed" in said.stderr


def test_no_browser_is_opened_without_a_display(monkeypatch):
    monkeypatch.setattr(serve.sys, "platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert not serve._has_display()
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    assert serve._has_display()


def test_a_port_of_the_test_is_free_again():
    port = free_port()
    assert not serve._answers(port)
