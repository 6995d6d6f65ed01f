"""A trace as its page shows it: the thread in words, step by step, and as a picture."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from pourwright.papers.thread_picture import Box, thread_svg
from pourwright.workshop.stores.models import EntryKind
from pourwright.workshop.trace.services import Back, Forward, Link, Node

MOST_STEPS = 250
MOST_BOXES = 36
MOST_COLUMNS = 6
DEEPEST = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One line of the thread: how deep, which lot, how much of the lot above, and how."""

    depth: int
    node: Node
    of: Node | None
    link: Link | None
    seen: bool

    @property
    def level(self) -> int:
        return min(self.depth, DEEPEST)

    @property
    def how(self) -> str:
        """How it came from the lot above, in words."""
        if self.link is None:
            return ""
        if self.link.pour:
            return ""
        return {
            EntryKind.FINISH: "put on at finishing",
            EntryKind.SET_ASIDE: "set aside",
            EntryKind.RETURN: "came back",
        }.get(self.link.how, "")


def thread(
    roots: Iterable[int], links: list[Link], nodes: dict[int, Node], *, ahead: bool
) -> list[Step]:
    """
    Return the thread line by line, each lot unfolded once; where it stands again it says so.

    ``ahead``: from a lot to what it went into; otherwise to what it was made from.
    """
    following: dict[int, list[Link]] = defaultdict(list)
    for link in links:
        following[link.parent if ahead else link.child].append(link)
    steps: list[Step] = []
    unfolded: set[int] = set()
    todo: list[tuple[int, int, Link | None]] = [(0, pk, None) for pk in reversed(list(roots))]
    while todo and len(steps) <= MOST_STEPS:
        depth, pk, link = todo.pop()
        above = None
        if link is not None:
            above = nodes.get(link.parent if ahead else link.child)
        seen = pk in unfolded and bool(following[pk])
        steps.append(Step(depth=depth, node=nodes[pk], of=above, link=link, seen=seen))
        if pk not in unfolded:
            unfolded.add(pk)
            todo += [
                (depth + 1, k.child if ahead else k.parent, k) for k in reversed(following[pk])
            ]
    return steps


def picture(root: Node, forward: Forward | None, back: Back | None) -> str:
    """Return both threads as one picture around the lot; empty where it would be too much."""
    links: set[tuple[int, int]] = set()
    columns: dict[int, int] = {root.pk: 0}
    nodes = {root.pk: root}
    if back is not None:
        nodes |= back.nodes
        pairs = {(k.child, k.parent) for k in back.links}
        columns |= {pk: -far for pk, far in _steps_away(root.pk, pairs).items()}
        links |= {(parent, child) for child, parent in pairs}
    if forward is not None:
        nodes |= forward.nodes
        pairs = {(k.parent, k.child) for k in forward.links}
        columns |= _steps_away(root.pk, pairs)
        links |= pairs
    orders = sorted({sent.order for sent in forward.sent}) if forward else []
    if not 2 <= len(nodes) + len(orders) <= MOST_BOXES:
        return ""
    if max(columns.values()) - min(columns.values()) + bool(orders) >= MOST_COLUMNS:
        return ""
    boxes = [
        Box(key=str(pk), head=node.code, word=node.item, column=columns[pk])
        for pk, node in sorted(nodes.items())
    ]
    drawn = [(str(one), str(other)) for one, other in sorted(links)]
    if forward is not None and orders:
        last = max(columns.values()) + 1
        who = {sent.order: sent.who for sent in forward.sent}
        boxes += [Box(key=one, head=one, word=who[one], column=last) for one in orders]
        codes = {node.code: str(node.pk) for node in nodes.values()}
        drawn += sorted({(codes[sent.lot], sent.order) for sent in forward.sent})
    return thread_svg(
        boxes, drawn, root=str(root.pk), title=f"What lot {root.code} came from and where it went"
    )


def _steps_away(root: int, pairs: set[tuple[int, int]]) -> dict[int, int]:
    """Return for each lot the most steps it is from the root, so that every line runs forward."""
    following: dict[int, list[int]] = defaultdict(list)
    waiting: dict[int, int] = defaultdict(int)
    for one, other in pairs:
        following[one].append(other)
        waiting[other] += 1
    far = {root: 0}
    ready = [root]
    while ready:
        here = ready.pop()
        for other in following[here]:
            far[other] = max(far.get(other, 0), far[here] + 1)
            waiting[other] -= 1
            if not waiting[other]:
                ready.append(other)
    return far
