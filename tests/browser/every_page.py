"""Every address of the program, and where to meet it in a workshop full of life."""

from __future__ import annotations

import re
import urllib.error
from collections import defaultdict
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urldefrag, urljoin, urlsplit

from django.urls import Resolver404, URLPattern, get_resolver, resolve

from running import Browser

# What answers to a form alone and so is no page to open.
FORMS_ONLY = {
    "gates:decide": "the decision at a gate",
    "pours:open": "begins a pour",
    "pours:abandon": "gives a pour up",
    "pours:reopen": "reopens a pour",
    "formulas:retire": "retires a formula",
    "formulas:number": "gives a recipe its formulation number",
    "designs:retire": "retires a design",
    "hazard:discard": "throws a draft of a composition away",
    "hazard:again": "begins the next composition from one that stands",
    "burns:read": "records what was read of a burn",
    "burns:full": "records that a pool is full",
    "burns:photo": "keeps a photo of a burn",
    "burns:out": "ends a burn",
    "burns:after": "records what was weighed after a burn",
    "burns:leave_out_reading": "leaves a reading out",
    "burns:leave_out_photo": "leaves a photo out",
    "job_stop": "stops work in the background",
    "planning:melt": "pins, moves, drops or starts a planned melt",
}
# What a page fetches into itself or saves as a file: it is met there, not opened as a page.
PIECES_AND_FILES = {
    "job": "how far work in the background is",
    "planning:so_far": "the best plan so far, while it is sought",
    "planning:week": "a PDF",
    "planning:calendar": "a calendar's file",
    "planning:order_paper": "a PDF",
    "planning:purchase_paper": "a PDF",
    "stores:vessel_preview": "the drawing beside the vessel's form",
    "pours:sheet": "a PDF",
    "burns:picture": "a photo",
    "shelf:paper": "a PDF",
    "designs:jig_file": "a jig's file",
    "labels:face_pdf": "a PDF",
    "labels:face_svg": "an SVG file",
    "labels:test_page": "a PDF",
    "panels:answers_file": "a CSV file",
    "panels:blind_sheets": "a PDF",
    "panels:key": "a PDF",
    "hazard:sheet": "a supplier's PDF",
    "hazard:page": "a picture of a sheet's page",
    "trace:sheet": "a PDF",
    "exchange_template": "a CSV file",
    "exchange_table": "a CSV or XLSX file",
    "exchange_everything": "a workbook",
    "exchange_backup": "a backup of the whole workshop",
}


def names_of_all() -> list[str]:
    """Return the name of every URL pattern, with its namespace."""
    return sorted(set(_names(get_resolver().url_patterns, "")))


def _names(patterns, prefix: str):
    for pattern in patterns:
        if isinstance(pattern, URLPattern):
            yield f"{prefix}{pattern.name}"
        else:
            inner = f"{prefix}{pattern.namespace}:" if pattern.namespace else prefix
            yield from _names(pattern.url_patterns, inner)


def pages() -> list[str]:
    return [name for name in names_of_all() if name not in FORMS_ONLY | PIECES_AND_FILES]


def name_of(address: str) -> str | None:
    try:
        return resolve(urlsplit(address).path).view_name
    except Resolver404:
        return None


class _Reader(HTMLParser):
    """Collects the links of a page and what it is built of."""

    def __init__(self) -> None:
        super().__init__()
        self.links: list[str] = []
        self.built_of: set[str] = set()

    def handle_starttag(self, tag, attributes) -> None:
        given = dict(attributes)
        self.built_of.update(f"{tag}.{name}" for name in (given.get("class") or "").split())
        if tag in ("input", "select", "textarea"):
            self.built_of.add(f"{tag} {re.sub(r'[0-9]+', '', given.get('name') or '')}")
        address = given.get("href") if tag == "a" else given.get("hx-get")
        if address:
            self.links.append(address)


@dataclass
class Found:
    """Addresses by the name of their pattern; ``built_of`` by address."""

    addresses: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    built_of: dict[str, set[str]] = field(default_factory=dict)

    def most_different(self, name: str, most: int) -> list[str]:
        """Return up to ``most`` addresses, each with something that the ones before lack."""
        chosen, seen = [], set()
        waiting = list(self.addresses[name])
        while waiting and len(chosen) < most:
            best = max(waiting, key=lambda address: len(self.built_of[address] - seen))
            if chosen and not self.built_of[best] - seen:
                break
            chosen.append(best)
            seen |= self.built_of[best]
            waiting.remove(best)
        return chosen


def crawl(address: str, *, begin: list[str], each: int, of: dict[str, int]) -> Found:
    """
    Follow the links of every page from some first ones, as a person would.

    Up to ``each`` addresses of a pattern are opened, or what ``of`` says of it.
    """
    browser, found = Browser(address), Found()
    waiting, known = list(begin), set(begin)
    while waiting:
        path = waiting.pop(0)
        name = name_of(path)
        if name is None or len(found.addresses[name]) >= of.get(name, each):
            continue
        try:
            answer = browser.get(path)
        except urllib.error.HTTPError as refused:
            if refused.code in (301, 302):
                waiting.insert(0, urljoin(path, refused.headers["Location"]))
                continue
            raise AssertionError(f"{path} is linked and answers {refused.code}") from refused
        found.addresses[name].append(path)
        reader = _Reader()
        if answer.headers["Content-Type"].startswith("text/html"):
            reader.feed(answer.read().decode())
        found.built_of[path] = reader.built_of
        for link in reader.links:
            there = urlsplit(urljoin(f"{address}{path}", urldefrag(link).url))
            target = there.path + (f"?{there.query}" if there.query else "")
            if f"{there.scheme}://{there.netloc}" == address and target not in known:
                known.add(target)
                waiting.append(target)
    return found
