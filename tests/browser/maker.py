"""A maker at the browser: writes, chooses, presses and reads by what the page calls things."""

from __future__ import annotations

import re
from urllib.parse import urljoin

from playwright.sync_api import Locator, Page, expect

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}
PATIENCE_MS = 10_000
WIDTHS = {"phone": PHONE, "desk": DESK}


class Maker:
    """Finds everything by role and label, never by a class or an address typed by hand."""

    def __init__(self, page: Page) -> None:
        self.page = page
        page.set_default_timeout(PATIENCE_MS)

    # --- doing -----------------------------------------------------------------------------------

    def write(self, label: str, text: str, *, within: Locator | None = None) -> None:
        self._field(label, within).fill(text)

    def choose(self, label: str, words: str, *, within: Locator | None = None) -> None:
        self._field(label, within).select_option(label=words)

    def tick(self, label: str) -> None:
        self.page.get_by_role("checkbox", name=label).check()

    def press(self, words: str, *, within: Locator | None = None) -> None:
        (within or self.page).get_by_role("button", name=words, exact=True).click()

    def follow(self, words: str, *, within: Locator | None = None) -> None:
        # A link among many alike goes on, for those who cannot see, with what it is about.
        name = re.compile(rf"^\s*{re.escape(words)}\s*(:.*)?$")
        (within or self.page).get_by_role("link", name=name).first.click()

    def go(self, station: str) -> None:
        """Go to a part of the spine by the navigation at the head of every page."""
        main = self.page.get_by_role("navigation", name="Main")
        main.get_by_role("link", name=station, exact=True).click()

    def look_for(self, text: str, *, press: str) -> None:
        """Use the search box in the page itself."""
        self.page.get_by_role("main").get_by_role("searchbox").fill(text)
        self.press(press)

    def rows(self, label: str) -> Locator:
        """Return the fields of one name in a form's rows, in order."""
        return self.page.get_by_label(label, exact=True)

    def _field(self, label: str, within: Locator | None) -> Locator:
        place = within or self.page.get_by_role("main")
        # An optional field's label goes on with "may be empty", a fieldset's with its help.
        name = re.compile(rf"^\s*{re.escape(label)}\s*(may be empty)?\s*$")
        return place.get_by_label(name)

    # --- seeing ----------------------------------------------------------------------------------

    def sees(self, *texts: str) -> None:
        for text in texts:
            expect(self.page.get_by_role("main")).to_contain_text(text)

    def is_at(self, heading: str | re.Pattern) -> None:
        expect(self.page.get_by_role("heading", level=1)).to_have_text(heading)

    def told(self, text: str) -> None:
        expect(self.page.get_by_role("status").filter(has_text=text)).to_be_visible()

    def sheet(self, heading: str) -> Locator:
        """Return the part of the page under a heading of the second level."""
        title = self.page.get_by_role("heading", level=2).filter(has_text=heading)
        return self.page.locator("section").filter(has=title)

    def reads(self, *cells: str, within: Locator | None = None) -> None:
        """Some line of a table holds all of these."""
        rows = (within or self.page.get_by_role("main")).get_by_role("row")
        for cell in cells:
            rows = rows.filter(has_text=cell)
        expect(rows.first).to_be_visible()

    def gets_a_pdf(self, words: str, *, called: str) -> bytes:
        """Fetch what a link leads to, as the browser would, and return the paper."""
        link = self.page.get_by_role("link", name=words, exact=True).first
        answer = self.page.request.get(urljoin(self.page.url, link.get_attribute("href")))
        assert answer.ok, f"{answer.url} answers {answer.status}"
        assert answer.headers["content-type"] == "application/pdf"
        assert called in answer.headers["content-disposition"]
        assert answer.body().startswith(b"%PDF-")
        return answer.body()

    def no_wider_than_the_screen(self) -> None:
        wide = self.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= self.page.viewport_size["width"], f"{self.page.url} is {wide} px wide"
