"""A real browser, where there is one; what is left out says why."""

import os
import shutil
from contextlib import contextmanager

import pytest

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def _browser() -> str | None:
    return os.environ.get("POURWRIGHT_BROWSER") or next(
        filter(None, map(shutil.which, BROWSERS)), None
    )


def pytest_collection_modifyitems(items):
    missing = _browser() is None
    for item in items:
        if "tests/browser" in item.nodeid:
            item.add_marker("browser")
            if "live_server" in item.fixturenames:
                item.add_marker(pytest.mark.django_db(transaction=True))
            if missing:
                why = "no Chromium-family browser on this machine (set POURWRIGHT_BROWSER to one)"
                item.add_marker(pytest.mark.skip(reason=why))


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    found = _browser()
    path = {} if found in (None, "bundled") else {"executable_path": found}
    return {**browser_type_launch_args, **path, "args": list(QUIET)}


@contextmanager
def watched(page, address: str):
    """Give a list that collects script errors, console errors and requests that go elsewhere."""
    trouble = []
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.on("console", lambda line: trouble.append(line.text) if line.type == "error" else None)
    page.on(
        "request",
        lambda request: (
            None
            if request.url.startswith((f"{address}/", "data:", "blob:"))
            else trouble.append(f"asked for {request.url}")
        ),
    )
    yield trouble
    assert trouble == []


@pytest.fixture
def site(page, live_server):
    """A page of the running program that fails the test on any script error or stray request."""
    with watched(page, live_server.url):
        page.goto(live_server.url)
        yield page
