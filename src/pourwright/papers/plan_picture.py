"""
A plan on a calendar: melts in their sessions, places taken on the table, cure bars and due dates.

A day is a column. On top stand the melters with their melts; below them how full the pour table
gets; then a lane for each candle, where a bar runs from the pour to the day it is cured, and a mark
stands on each day that asks for it: filled where all of it is there in time, open where some is
not. The page sets the same as tables beside it.

Classes: those of the charts (``ch``, ``ch-text``, ``ch-head``, ``ch-grid``), and ``pp-week``,
``pp-off``, ``pp-today``, ``pp-melt``, ``pp-pinned``, ``pp-started``, ``pp-table``, ``pp-full``,
``pp-cure``, ``pp-ready``, ``pp-due`` and ``pp-late``.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from pourwright.core.planning.model import Melt, Plan, Problem, Product
from pourwright.papers.svg import Markup, el, path, picture, shortened, text_width

_SIZE = 12.0
_NAMES_PX = 150.0
_HEAD_PX = 40.0
_LANE_PX = 26.0
_BAR_PX = 11.0
_MARK_PX = 12.0
_TABLE_PX = 54.0
_GAP_PX = 12.0
LEAST_DAY_PX, MOST_DAY_PX = 11.0, 40.0
WIDTH_PX = 1100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The days that are shown, both too."""

    first: dt.date
    last: dt.date

    @property
    def days(self) -> int:
        return (self.last - self.first).days + 1


def window_of(problem: Problem, plan: Plan) -> Window:
    """Return the days from the first that counts to the last on which something happens."""
    last = [problem.today + dt.timedelta(13)]
    days = {session.key: session.on for session in problem.sessions}
    cures = {product.key: product.cure_days for product in problem.products}
    for melt in plan.melts:
        last += [days[melt.session] + dt.timedelta(cures[p.product]) for p in melt.pours]
    last += [line.due for line in problem.lines]
    first = problem.today - dt.timedelta(problem.today.weekday())
    return Window(first=first, last=max(last))


def plan_picture(
    problem: Problem, plan: Plan, *, window: Window | None = None, prefix: str = "plan"
) -> Markup:
    """Return the plan's picture for a page. Its width follows the days; the page may scroll it."""
    window = window or window_of(problem, plan)
    day_px = min(MOST_DAY_PX, max(LEAST_DAY_PX, (WIDTH_PX - _NAMES_PX) / window.days))
    return _Drawing(problem, plan, window, day_px).whole(prefix)


class _Drawing:
    def __init__(self, problem: Problem, plan: Plan, window: Window, day_px: float) -> None:
        self.problem, self.plan, self.window, self.day_px = problem, plan, window, day_px
        self.days = {session.key: session.on for session in problem.sessions}
        self.products = {product.key: product for product in problem.products}
        self.width = _NAMES_PX + window.days * day_px + 8
        self.parts: list[Markup] = []
        self.y = _HEAD_PX

    def x(self, day: dt.date) -> float:
        return _NAMES_PX + (day - self.window.first).days * self.day_px

    def whole(self, prefix: str) -> Markup:
        for melter in self.problem.melters:
            self._melter(melter.key, melter.name)
        self._table()
        for key in _asked_for(self.problem, self.plan):
            self._candle(self.products[key])
        height = self.y + 8
        late = self.plan.totals.late_units
        words = f"{len(self.plan.melts)} melts, {late} late"
        return picture(
            *self._ground(height), *self.parts,
            width=self.width, height=height, prefix=prefix, class_="ch pp",
            title=f"The plan from {_day(self.window.first)} to {_day(self.window.last)}",
            desc=f"{words}. The tables beside it say the same.",
        )  # fmt: skip

    def _ground(self, height: float) -> list[Markup]:
        found = []
        working = {session.on for session in self.problem.sessions}
        for number in range(self.window.days):
            day = self.window.first + dt.timedelta(number)
            x = self.x(day)
            if day >= self.problem.today and day in working:
                found.append(
                    el("rect", x=x, y=_HEAD_PX - 4, width=self.day_px, height=height - _HEAD_PX,
                       class_="pp-week")
                )  # fmt: skip
            if day.weekday() == 0:
                found += [
                    el("line", x1=x, x2=x, y1=6, y2=height - 4, class_="ch-grid"),
                    el("text", f"{day.day} {day:%b}", x=x + 4, y=17, class_="ch-text",
                       font_size=_SIZE),
                ]  # fmt: skip
            if self.day_px >= 18:
                found.append(
                    el("text", f"{day.day}", x=x + self.day_px / 2, y=_HEAD_PX - 8,
                       text_anchor="middle", class_="ch-text", font_size=9)
                )  # fmt: skip
        x = self.x(self.problem.today)
        if self.problem.today >= self.window.first:
            found.append(el("line", x1=x, x2=x, y1=22, y2=height - 4, class_="pp-today"))
        return found

    def _name(self, words: str, *, small: str = "") -> None:
        middle = self.y + _LANE_PX / 2 + 4
        said = shortened(words, room=_NAMES_PX - 10 - text_width(small, 10), size=_SIZE)
        self.parts.append(el("text", said, x=0, y=middle, class_="ch-head", font_size=_SIZE))
        if small:
            self.parts.append(
                el("text", small, x=_NAMES_PX - 6, y=middle, text_anchor="end", class_="ch-text",
                   font_size=10)
            )  # fmt: skip

    def _melter(self, key: str, name: str) -> None:
        by_day: dict[dt.date, list[Melt]] = defaultdict(list)
        for melt in self.plan.melts:
            if melt.melter == key:
                by_day[self.days[melt.session]].append(melt)
        self._name(name)
        top = self.y + (_LANE_PX - 18) / 2
        for day, melts in by_day.items():
            wide = (self.day_px - 1) / len(melts)
            for place, melt in enumerate(melts):
                count = sum(pour.quantity for pour in melt.pours)
                x = self.x(day) + place * wide
                class_ = "pp-melt pp-pinned" if melt.pinned else "pp-melt"
                self.parts.append(
                    el("g",
                       el("title", f"{_day(day)}: {melt_words(melt, self.products)}"),
                       el("rect", x=x, y=top, width=max(wide - 1, 2), height=18, rx=2,
                          class_=class_),
                       *([el("text", str(count), x=x + wide / 2 - 0.5, y=top + 13,
                             text_anchor="middle", class_="pp-count", font_size=10)]
                         if wide >= 15 else []))
                )  # fmt: skip
        self.y += _LANE_PX

    def _table(self) -> None:
        """The most places taken on each day, against those there are."""
        taken = taken_by_day(self.problem, self.plan)
        most = max([self.problem.table_places, *taken.values()], default=1)
        bottom = self.y + _TABLE_PX
        self._name("Pour table", small=f"{self.problem.table_places} places")
        scale = (_TABLE_PX - 10) / most
        line = bottom - self.problem.table_places * scale
        for day, places in sorted(taken.items()):
            if not self.window.first <= day <= self.window.last:
                continue
            high = places * scale
            class_ = "pp-table pp-full" if places > self.problem.table_places else "pp-table"
            self.parts.append(
                el("rect", el("title", f"{_day(day)}: {places} places taken"), x=self.x(day),
                   y=bottom - high, width=self.day_px - 1, height=high, class_=class_)
            )  # fmt: skip
        end = self.x(self.window.last) + self.day_px
        self.parts.append(el("line", x1=_NAMES_PX, x2=end, y1=line, y2=line, class_="ch-low"))
        self.y = bottom + _GAP_PX

    def _candle(self, product: Product) -> None:
        poured = [
            (self.days[melt.session], pour.quantity)
            for melt in self.plan.melts for pour in melt.pours if pour.product == product.key
        ]  # fmt: skip
        here = [(lot.ready_on, lot.quantity) for lot in self.problem.lots
                if lot.product == product.key]  # fmt: skip
        ready = sum(quantity for on, quantity in here if on <= self.problem.today)
        self._name(product.name, small=f"{ready} ready" if ready else "")
        cures = [(self.problem.today, on, n) for on, n in here if on > self.problem.today]
        cures += [(day, day + dt.timedelta(product.cure_days), n) for day, n in poured]
        rows: list[dt.date] = []  # the day on which each row of bars is free again
        for first, last, quantity in sorted(cures):
            row = next((n for n, free in enumerate(rows) if free <= first), len(rows))
            rows[row : row + 1] = [last]
            self._cure(first, last, quantity, self.y + _MARK_PX + row * _BAR_PX)
        middle = self.y + _MARK_PX
        answers = {answer.line: answer for answer in self.plan.lines}
        for line in self.problem.lines:
            if line.product != product.key:
                continue
            answer = answers.get(line.key)
            late = answer.late if answer else 0
            x = self.x(min(max(line.due, self.window.first), self.window.last)) + self.day_px / 2
            mark = path([(x - 5, middle - 11), (x + 5, middle - 11), (x, middle - 1)], closed=True)
            words = f"{line.quantity} for {line.whose} by {_day(line.due)}"
            said = f"{words}: {late} late" if late else f"{words}: on time"
            self.parts.append(
                el("path", el("title", said), d=mark, class_="pp-late" if late else "pp-due")
            )
        self.y += max(_LANE_PX, _MARK_PX + _BAR_PX * len(rows) + 5)

    def _cure(self, first: dt.date, last: dt.date, quantity: int, top: float) -> None:
        left = self.x(max(first, self.window.first)) + self.day_px / 2
        right = self.x(min(last, self.window.last)) + self.day_px / 2
        if right <= left:
            return
        self.parts.append(
            el("g",
               el("title", f"{quantity}: cure from {_day(first)} to {_day(last)}"),
               el("rect", x=left, y=top, width=right - left, height=_BAR_PX - 2, rx=4,
                  class_="pp-cure"),
               el("line", x1=right, x2=right, y1=top - 1, y2=top + _BAR_PX - 1, class_="pp-ready"),
               *([el("text", str(quantity), x=left + 4, y=top + 7.8, class_="ch-text", font_size=9)]
                 if right - left > 22 else []))
        )  # fmt: skip


def taken_by_day(problem: Problem, plan: Plan) -> dict[dt.date, int]:
    """
    Return the most places taken on the pour table on each day.

    A vessel takes its place from the end of its session until it has set; what was poured before
    this plan is not seen.
    """
    sessions = {session.key: session for session in problem.sessions}
    products = {product.key: product for product in problem.products}
    places = {vessel.key: vessel.places for vessel in problem.vessels}
    spans = []
    for melt in plan.melts:
        session = sessions[melt.session]
        begins = dt.datetime.combine(session.on, dt.time()) + dt.timedelta(seconds=session.start_s)
        for pour in melt.pours:
            product = products[pour.product]
            ends = begins + dt.timedelta(seconds=session.length_s + product.setting_s)
            spans.append((begins, ends, pour.quantity * places[product.vessel]))
    # Places are taken only as something is poured, so that a day's most stands at one of those
    # moments or, of what stands overnight, at its very beginning.
    moments = {begins for begins, _, _ in spans}
    for begins, ends, _ in spans:
        midnight = dt.datetime.combine(begins.date(), dt.time())
        moments |= {midnight + dt.timedelta(n) for n in range(1, (ends - midnight).days + 1)}
    found: dict[dt.date, int] = {}
    for moment in moments:
        taken = sum(n for begins, ends, n in spans if begins <= moment < ends)
        found[moment.date()] = max(found.get(moment.date(), 0), taken)
    return {day: taken for day, taken in found.items() if taken}


def melt_words(melt: Melt, products: Mapping[str, Product]) -> str:
    """Return what a melt is, in words: "12 Fig, 6 Cedar"."""
    return ", ".join(f"{pour.quantity} {products[pour.product].name}" for pour in melt.pours)


def _asked_for(problem: Problem, plan: Plan) -> list[str]:
    """The candles that are wanted or poured, by when they are first wanted."""
    first = {
        line.product: line.due for line in sorted(problem.lines, key=lambda row: row.due)[::-1]
    }
    poured = {pour.product for melt in plan.melts for pour in melt.pours}
    return sorted({*first, *poured}, key=lambda key: (first.get(key, dt.date.max), key))


def _day(day: dt.date) -> str:
    return f"{day:%a} {day.day} {day:%b}"
