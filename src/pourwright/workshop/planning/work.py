"""The long computations of the planner, worked in a process of their own (house/jobs.py)."""

from __future__ import annotations

from pourwright.workshop.house.jobs import Watch, work

SOLVE = "planning.solve"
# A second process takes a second to begin; from so many parts on it is worth that.
TWO_FROM = 80


@work(SOLVE, title="Plan the pours", most_s=900)
def solve(args: dict, watch: Watch) -> dict:
    """
    Return the best plan found for ``args["problem"]``, as documents.

    ``effort`` counts sub-solves, so that the same problem gives the same plan; ``start`` is a plan
    to begin from; with ``keep`` it is changed as little as helps.
    """
    from pourwright.core.documents import document_of, record_of
    from pourwright.core.planning import model as core
    from pourwright.core.planning.reasons import with_reasons
    from pourwright.core.planning.replanning import rejudged, replan
    from pourwright.core.planning.saving import save_late
    from pourwright.core.planning.solving import solve as solved

    problem = record_of(core.Problem, args["problem"])
    start = record_of(core.Plan, args["start"]) if args.get("start") else None
    effort = args["effort"]

    def progress(plan: core.Plan, step: int, words: str) -> None:
        watch.keep({"plan": document_of(plan), "sub_solves": step})
        watch.say(min(step / max(effort, 1), 0.95), words)

    def stop() -> bool:
        return watch.stopping

    if start is not None and args.get("keep"):
        plan = replan(problem, start, effort=effort, progress=progress, stop=stop)
    else:
        # What still fits of it, made the most of: then the answer is never worse than that.
        start = start and save_late(problem, rejudged(problem, start), stop=stop)
        plan = solved(
            problem, effort=effort, progress=progress, stop=stop, start=start,
            processes=2 if effort >= TWO_FROM else 1,
        )  # fmt: skip
    plan = save_late(problem, plan, stop=stop)
    watch.keep({"plan": document_of(plan), "sub_solves": plan.sub_solves})
    watch.say(0.97, "why what is late is late")
    if not watch.stopping:
        plan = with_reasons(problem, plan, stop=stop)
    return {"plan": document_of(plan), "sub_solves": plan.sub_solves}
