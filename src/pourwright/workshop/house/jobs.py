"""
Long computations in the background: started from a page, watched, stopped, kept.

A kind of work is a function in an app's ``work.py``::

    @work("heat.solid", title="Burn in three dimensions", most_s=600)
    def solid(args: dict, watch: Watch) -> dict: ...

``ask`` keeps a job's row and sees to it that a worker is there: a process of its own
(house/worker.py), which works one job after another and ends when none waits. It outlives the
server, so a restart takes nothing away. Progress, the best result so far and the wish to stop go
through the row, by a second thread of the worker, so that the work itself never waits for the
database. A job that is asked to stop and does not within a few seconds is cut off; so is one that
takes longer than ``most_s``. Its best result so far stays.

A worker that dies with its machine gives no more sign; the next who looks marks the job stopped.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import close_old_connections, connection, transaction
from django.db.models import Q
from django.utils import timezone

import pourwright
from pourwright.core.errors import BadInput
from pourwright.workshop.house.models import Job, JobState

MOST_WORKERS = 2
BEAT_S = 1.0  # how often a worker gives a sign, and hears that it is to stop
SILENT_S = 30.0  # without a sign for so long, a worker is taken for dead
PATIENCE_S = 5.0  # for work to stop of itself
STARTS_IN_S = 20.0  # a worker that has not taken its job by then is started again
MOST_STARTS = 3
KEPT_DAYS = 120
GONE = "The program or its machine was stopped while this ran."
CUT = "Stopped, as you asked."


class NoSuchWork(BadInput):
    """A kind of work that this version of the program does not know."""


class Stopped(Exception):
    """Raised by ``Watch.check`` in work that is asked to stop; the worker catches it."""


@dataclass(slots=True)
class Watch:
    """What work uses while it runs; every call is cheap."""

    share: float = 0.0
    words: str = ""
    best: Any = None
    stopping: bool = False
    tell: Callable[[], None] | None = field(default=None, repr=False)

    def say(self, share: float, words: str = "") -> None:
        """Say how far the work is (0 to 1), in a few words. Raises nothing."""
        self.share, self.words = float(share), words
        if self.tell:
            self.tell()

    def keep(self, best: Any) -> None:
        """Keep the best result so far (plain JSON); it stays if the work is stopped."""
        self.best = best
        if self.tell:
            self.tell()

    def check(self) -> None:
        """Raise ``Stopped`` where the maker asked for it: the easy way to stop between steps."""
        if self.stopping:
            raise Stopped


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of work: what does it, its name for the maker, and how long it may take."""

    do: Callable[[dict, Watch], Any]
    title: str
    most_s: float


KINDS: dict[str, Kind] = {}


def work(name: str, *, title: str, most_s: float = 900.0):
    """Register a function as a kind of work; it stands in an app's ``work.py``."""

    def registered(do: Callable[[dict, Watch], Any]):
        KINDS[name] = Kind(do=do, title=title, most_s=most_s)
        return do

    return registered


def kind_of(name: str) -> Kind:
    """Return a kind of work by name; raises ``NoSuchWork``."""
    from django.utils.module_loading import autodiscover_modules

    if name not in KINDS:
        autodiscover_modules("work")
    if name not in KINDS:
        raise NoSuchWork(f'This version of the program knows no work called "{name}".')
    return KINDS[name]


def title_of(job: Job) -> str:
    """Return a job's name for the maker, also where its kind is no longer known."""
    try:
        return kind_of(job.kind).title
    except NoSuchWork:
        return job.kind


def key_of(kind: str, args: Mapping[str, Any]) -> str:
    """Return what tells one question from another."""
    text = json.dumps([kind, args], sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


# --- what pages call -----------------------------------------------------------------------------


def ask(
    kind: str, args: Mapping[str, Any], *, at: datetime, where: str = "", again: bool = False
) -> Job:
    """
    Return the job that answers this question: one that is there already, or a new one.

    A job that was stopped or failed is asked anew; ``again`` asks anew in any case. ``where`` is
    the page that shows the result. ``args`` is plain JSON.
    """
    kind_of(kind)
    key = key_of(kind, args)
    there = found(kind, args)
    if there is not None and not again and there.state not in (JobState.STOPPED, JobState.FAILED):
        return there
    Job.objects.filter(ended_at__lt=at - timedelta(days=KEPT_DAYS)).delete()
    job = Job.objects.create(kind=kind, args=dict(args), key=key, where=where, asked_at=at)
    if getattr(settings, "JOBS_IN_PLACE", False):
        run(job, at=at)
        job.refresh_from_db()
    else:
        transaction.on_commit(lambda: _see_to(job, at=at))
    return job


def found(kind: str, args: Mapping[str, Any]) -> Job | None:
    """Return the newest job that asks this, over or not; None where there is none."""
    return Job.objects.filter(key=key_of(kind, args)).first()


def look(job: Job, *, at: datetime) -> Job:
    """
    Return the job as it stands, its state set right.

    A job whose worker died is marked stopped; one that still waits for a worker gets one.
    """
    job.refresh_from_db()
    silent = job.seen_at is not None and (at - job.seen_at).total_seconds() > SILENT_S
    if job.state == JobState.RUNNING and silent:
        Job.objects.filter(pk=job.pk, state=JobState.RUNNING, seen_at=job.seen_at).update(
            state=JobState.STOPPED, problem=GONE, ended_at=at
        )
        job.refresh_from_db()
    elif job.state == JobState.WAITING:
        _see_to(job, at=at)
    return job


def stop(job: Job, *, at: datetime) -> Job:
    """Ask a job to stop; its best result so far stays."""
    Job.objects.filter(pk=job.pk, state=JobState.WAITING).update(
        state=JobState.STOPPED, stop_asked=True, problem=CUT, ended_at=at
    )
    Job.objects.filter(pk=job.pk, state=JobState.RUNNING).update(stop_asked=True)
    job.refresh_from_db()
    return job


# --- seeing that a worker is there ---------------------------------------------------------------

_children: list[subprocess.Popen] = []


def _see_to(job: Job, *, at: datetime) -> None:
    """Start a worker for a job that waits, unless there are enough or one is on its way."""
    if job.started_at and (at - job.started_at).total_seconds() < STARTS_IN_S:
        return
    alive = Q(state=JobState.RUNNING, seen_at__gt=at - timedelta(seconds=SILENT_S))
    coming = Q(state=JobState.WAITING, started_at__gt=at - timedelta(seconds=STARTS_IN_S))
    if Job.objects.filter(alive | coming).count() >= MOST_WORKERS:
        return  # one of them takes it when it is done with its own
    waiting = Job.objects.filter(pk=job.pk, state=JobState.WAITING, starts=job.starts)
    if job.starts >= MOST_STARTS:
        waiting.update(state=JobState.FAILED, ended_at=at,
                       problem="No process could be started for this work.")  # fmt: skip
        job.refresh_from_db()
        return
    # The update says who of several that look at once starts it.
    if waiting.update(starts=job.starts + 1, started_at=at):
        _start_worker()
    job.refresh_from_db()


def _start_worker() -> None:
    _children[:] = [child for child in _children if child.poll() is None]
    own = Path(pourwright.__file__).resolve().parent.parent
    paths = [str(own), *filter(None, [os.environ.get("PYTHONPATH")])]
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join(paths),
        "POURWRIGHT_DATA": str(settings.DATA),
        "DJANGO_SETTINGS_MODULE": "pourwright.workshop.settings",
    }
    apart: dict[str, Any] = {"start_new_session": True}
    if os.name == "nt":  # pragma: no cover - by the documentation of CreateProcess
        apart = {"creationflags": 0x00000008 | 0x00000200}  # detached, a group of its own
    with suppress(OSError):  # told as a job that no worker takes
        _children.append(
            subprocess.Popen(
                [sys.executable, "-m", "pourwright.workshop.house.worker"],
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                **apart,
            )
        )


# --- what a worker does --------------------------------------------------------------------------


def take_next(*, at: datetime) -> Job | None:
    """Take the job that has waited longest for this process, or return None."""
    for job in Job.objects.filter(state=JobState.WAITING).order_by("pk")[:20]:
        taken = Job.objects.filter(pk=job.pk, state=JobState.WAITING).update(
            state=JobState.RUNNING, seen_at=at
        )
        if taken:
            job.refresh_from_db()
            return job
    return None


def run(job: Job, *, at: datetime) -> None:
    """Work a job in this very process and thread, to its end (for tests, without a worker)."""
    watch = Watch()
    Job.objects.filter(pk=job.pk).update(state=JobState.RUNNING, seen_at=at)
    _end(job, watch, *_outcome(job, watch), at=at)


def run_watched(job: Job) -> None:
    """Work a job while a second thread gives signs, hears the wish to stop and keeps the time."""
    watch, done = Watch(), threading.Event()
    beat = threading.Thread(target=_beat, args=(job, watch, done), daemon=True)
    beat.start()
    state, result, problem = _outcome(job, watch)
    done.set()
    beat.join()
    _end(job, watch, state, result, problem, at=timezone.now())


def _outcome(job: Job, watch: Watch) -> tuple[str, Any, str]:
    try:
        result = kind_of(job.kind).do(job.args, watch)
        json.dumps(result)
    except Stopped:
        return JobState.STOPPED, watch.best, CUT
    except BadInput as problem:
        return JobState.FAILED, watch.best, str(problem)
    except Exception as problem:
        # Whatever broke is the job's, not the worker's: the next one waits.
        return JobState.FAILED, watch.best, f"{type(problem).__name__}: {problem}"
    if watch.stopping:
        return JobState.STOPPED, result, CUT
    return JobState.DONE, result, ""


def _end(job: Job, watch: Watch, state: str, result: Any, problem: str, *, at: datetime) -> None:
    Job.objects.filter(pk=job.pk).update(
        state=state, result=result, problem=problem[:400], seen_at=at, ended_at=at,
        share=1.0 if state == JobState.DONE else watch.share, words=watch.words[:200],
    )  # fmt: skip


def _beat(job: Job, watch: Watch, done: threading.Event) -> None:
    began, asked, kept = time.monotonic(), None, None
    most_s = kind_of(job.kind).most_s
    while not done.wait(BEAT_S):
        now = time.monotonic()
        best = watch.best
        given = {"share": watch.share, "words": watch.words[:200], "seen_at": timezone.now()}
        if best is not kept:
            given["result"] = best
        try:
            close_old_connections()
            # A machine that slept wakes to find its job marked stopped: it is not.
            Job.objects.filter(pk=job.pk).update(state=JobState.RUNNING, **given)
            kept = best
            row = Job.objects.filter(pk=job.pk).values_list("stop_asked", flat=True).first()
        except Exception:
            continue  # a database that is busy now answers at the next beat
        late = now - began > most_s
        if (row is None or row or late) and asked is None:
            watch.stopping, asked = True, now
        if asked is not None and now - asked > PATIENCE_S and not done.is_set():
            words = CUT if row else f"It took longer than the {most_s / 60:.0f} min it is given."
            with suppress(Exception):
                _end(job, watch, JobState.STOPPED, best, words, at=timezone.now())
            # The work does not listen, and no thread can be ended from outside.
            os._exit(0)
    connection.close()
