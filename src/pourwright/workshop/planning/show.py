"""What the plan's pages show: its week by week, its lines with their reasons, what it comes to."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from pourwright.core.planning import model as core
from pourwright.core.planning.wording import session_words
from pourwright.papers.plan_picture import plan_picture
from pourwright.papers.svg import Markup
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.designs.services import icon
from pourwright.workshop.planning.models import Plan, PlannedMelt
from pourwright.workshop.planning.problem import core_melts, session_key
from pourwright.workshop.planning.services import best_so_far, clock, problem_in, versions_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A session with what is melted in it, and what is prepared and finished besides."""

    key: str
    on: date
    begins: str
    minutes: int
    people: int
    melts: tuple[PlannedMelt, ...]
    also: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    monday: date
    sessions: tuple[Held, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """A wish and how it fares."""

    line: core.Line
    answer: core.LineAnswer
    name: str
    icon: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """What is late for one reason, with the reason and the change that would help."""

    rows: tuple[Answered, ...]
    words: str
    change: str


class PlanPage:
    """All that a plan's page shows, from its documents and its melts."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.problem = problem_in(plan)
        self.best = best_so_far(plan)
        self.products = {product.key: product for product in self.problem.products}
        self.versions: Mapping[str, DesignVersion] = versions_of(set(self.products))
        self.melts = list(
            plan.melts.select_related("melter", "pour").prefetch_related(
                "fillings__design_version__design", "fillings__design_version__formula_version"
            )
        )

    @property
    def as_moved(self) -> core.Plan | None:
        """The answer with the melts where the maker has put them since."""
        unwritten = self.plan.what_if and not self.melts  # with a melter that nobody has
        if self.best is None or self.plan.answer is None or unwritten:
            return self.best
        melts = tuple(core_melts(self.melts, self.problem.sessions, self.versions))
        return core.Plan(
            melts=melts, tasks=self.best.tasks, lines=self.best.lines, totals=self.best.totals,
            bounds=self.best.bounds,
        )  # fmt: skip

    @property
    def picture(self) -> Markup | None:
        shown = self.as_moved
        prefix = f"plan-{self.plan.pk}"
        return plan_picture(self.problem, shown, prefix=prefix) if shown else None

    def weeks(self) -> list[Week]:
        """Return the sessions by week, those without a melt too: a melt may be moved there."""
        by_session: dict[str, list[PlannedMelt]] = defaultdict(list)
        for melt in self.melts:
            by_session[session_key(melt.on, melt.session_starts)].append(melt)
        also = self._also()
        weeks: dict[date, list[Held]] = defaultdict(list)
        for session in self.problem.sessions:
            monday = session.on - timedelta(session.on.weekday())
            weeks[monday].append(
                Held(
                    key=session.key, on=session.on, begins=f"{clock(session.start_s):%H:%M}",
                    minutes=session.length_s // 60, people=session.people,
                    melts=tuple(by_session[session.key]), also=also.get(session.key, ()),
                )
            )  # fmt: skip
        last = max((held.on for week in weeks.values() for held in week if held.melts or held.also),
                   default=self.problem.today)  # fmt: skip
        return [
            Week(monday=monday, sessions=tuple(held))
            for monday, held in sorted(weeks.items())
            if monday <= last + timedelta(7)
        ]

    def _also(self) -> dict[str, tuple[str, ...]]:
        """What is prepared or finished in a session, in words."""
        words = {"prep": "wick", "finish": "finish"}
        found: dict[str, Counter[tuple[str, str]]] = defaultdict(Counter)
        for task in self.best.tasks if self.best else ():
            step = task.step
            name = self.products[step.what].name if step.what else ""
            found[task.session][words[step.kind], name] += step.quantity
        return {
            session: tuple(f"{word} {count} {name}" for (word, name), count in tasks.items())
            for session, tasks in found.items()
        }

    def lines(self) -> list[Answered]:
        """Return the wishes, those that are late first, then by their day."""
        if self.best is None:
            return []
        answers = {answer.line: answer for answer in self.best.lines}
        drawn = {key: icon(version) for key, version in self.versions.items()}
        rows = [
            Answered(
                line=line, answer=answers[line.key], name=self.products[line.product].name,
                icon=drawn.get(line.product, ""),
            )
            for line in self.problem.lines if line.key in answers
        ]  # fmt: skip
        return sorted(rows, key=lambda row: (row.answer.late == 0, row.line.due, row.name))

    def late(self) -> list[Late]:
        """Return what is late, each reason once."""
        if self.best is None:
            return []
        rows = {row.line.key: row for row in self.lines() if row.answer.late}
        groups = [
            Late(rows=tuple(rows.pop(key) for key in group.lines if key in rows),
                 words=group.words, change=group.change)
            for group in self.best.late_together
        ]  # fmt: skip
        return groups + [
            Late(rows=(row,), words=row.answer.reason.words, change=row.answer.reason.change)
            for row in rows.values() if row.answer.reason
        ]  # fmt: skip

    def moves_broken(self) -> Sequence[str]:
        """Return what the maker's own moves break; nothing where all stands as answered."""
        moved = self.as_moved
        if self.best is None or moved is None or _melted(moved) == _melted(self.best):
            return ()
        from pourwright.core.planning.replanning import breaks

        said = breaks(self.problem, self.best, moved.melts)
        return tuple(self._by_name(words) for words in said)

    def _by_name(self, words: str) -> str:
        """Return the core's words with sessions by the names that the page gives them."""
        for session in self.problem.sessions:
            said = session_words(session.on, session.start_s)
            words = words.replace(f"session {session.key}", f"session {said}")
        return words


def _melted(plan: core.Plan) -> Counter:
    return Counter((melt.session, melt.melter, frozenset(melt.pours)) for melt in plan.melts)
