"""Work in the background: asked once, watched, stopped, and never lost without a word."""

from __future__ import annotations

import time
from datetime import timedelta

import pytest
from django.db import connection
from django.urls import reverse
from django.utils import timezone
from django.utils.module_loading import autodiscover_modules

from conftest import AT
from pourwright.core.errors import BadInput
from pourwright.core.heat.burning import Candle
from pourwright.core.heat.materials import wall, wax
from pourwright.workshop.heat.kept import as_kept
from pourwright.workshop.house import jobs
from pourwright.workshop.house.models import Job, JobState

pytestmark = pytest.mark.django_db


@pytest.fixture
def kinds(monkeypatch):
    """Some kinds of work of the tests' own."""
    # A module registers its work once, when it is first loaded: not into the copy alone.
    autodiscover_modules("work")
    monkeypatch.setattr(jobs, "KINDS", dict(jobs.KINDS))

    @jobs.work("test.sum", title="Add up")
    def add(args, watch):
        watch.say(0.5, "half")
        watch.keep({"sum": None})
        return {"sum": sum(args["of"])}

    @jobs.work("test.refuses", title="Refuse")
    def refuses(args, watch):
        watch.keep({"best": 3})
        raise BadInput("There is no answer to 7; give 8.")

    @jobs.work("test.waits", title="Wait", most_s=30)
    def waits(args, watch):
        watch.keep({"best": 1})
        for turn in range(2000):
            watch.say(turn / 2000, f"turn {turn}")
            watch.check()
            time.sleep(0.01)
        return {"best": 2}


@pytest.fixture
def by_worker(settings, monkeypatch):
    """Jobs wait for a worker, and none is started; the list says how often one would be."""
    settings.JOBS_IN_PLACE = False
    started = []
    monkeypatch.setattr(jobs, "_start_worker", lambda: started.append(1))
    return started


def test_the_same_question_is_worked_out_once(kinds):
    first = jobs.ask("test.sum", {"of": [2, 3]}, at=AT)
    assert (first.state, first.result, first.percent) == (JobState.DONE, {"sum": 5}, 100)
    assert jobs.ask("test.sum", {"of": [2, 3]}, at=AT).pk == first.pk
    assert jobs.ask("test.sum", {"of": [2, 4]}, at=AT).result == {"sum": 6}
    assert jobs.ask("test.sum", {"of": [2, 3]}, at=AT, again=True).pk != first.pk


def test_what_the_work_refuses_is_told_in_its_words_and_asked_anew(kinds):
    job = jobs.ask("test.refuses", {}, at=AT)
    assert job.state == JobState.FAILED
    assert job.problem == "There is no answer to 7; give 8."
    assert job.result == {"best": 3}
    assert jobs.ask("test.refuses", {}, at=AT).pk != job.pk


def test_an_unknown_kind_of_work_is_refused(kinds):
    with pytest.raises(jobs.NoSuchWork, match=r"test\.nothing"):
        jobs.ask("test.nothing", {}, at=AT)


def test_a_worker_is_started_for_a_job_that_waits_and_not_for_each_look(
    kinds, by_worker, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        job = jobs.ask("test.sum", {"of": [1]}, at=AT)
    assert by_worker == [1]
    jobs.look(job, at=AT + timedelta(seconds=2))
    assert by_worker == [1]
    for turn in range(1, 5):  # no worker ever comes
        jobs.look(job, at=AT + timedelta(minutes=turn))
    assert len(by_worker) == jobs.MOST_STARTS
    assert job.state == JobState.FAILED
    assert "No process" in job.problem


def test_no_more_workers_than_may_be(kinds, by_worker, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        for number in range(5):
            jobs.ask("test.sum", {"of": [number]}, at=AT)
    assert len(by_worker) == jobs.MOST_WORKERS
    taken = []
    while job := jobs.take_next(at=AT):
        taken.append(job.args["of"][0])
        jobs.run(job, at=AT)
    assert taken == [0, 1, 2, 3, 4]
    assert set(Job.objects.values_list("state", flat=True)) == {JobState.DONE}


def test_a_job_whose_machine_stopped_is_marked_stopped_with_its_best_so_far(kinds, by_worker):
    jobs.ask("test.waits", {}, at=AT)
    job = jobs.take_next(at=AT)
    Job.objects.filter(pk=job.pk).update(result={"best": 1})
    assert jobs.look(job, at=AT + timedelta(seconds=10)).state == JobState.RUNNING
    later = jobs.look(job, at=AT + timedelta(minutes=10))
    assert (later.state, later.problem, later.result) == (
        JobState.STOPPED, jobs.GONE, {"best": 1},
    )  # fmt: skip


def test_a_job_that_waits_is_stopped_at_once(kinds, by_worker):
    job = jobs.stop(jobs.ask("test.sum", {"of": [1]}, at=AT), at=AT)
    assert (job.state, job.problem) == (JobState.STOPPED, jobs.CUT)
    assert jobs.take_next(at=AT) is None


def test_the_page_shows_progress_and_is_sent_anew_when_it_is_over(
    kinds, by_worker, workshop, client
):
    now = timezone.now()
    job = jobs.ask("test.waits", {}, at=now, where="/designs/")
    Job.objects.filter(pk=job.pk).update(
        state=JobState.RUNNING, seen_at=now, share=0.42, words="turn 840"
    )
    address = reverse("job", args=[job.pk])
    words = client.get(address, headers={"HX-Request": "true"}).content.decode()
    assert "42 %" in words
    assert "Wait: turn 840" in words
    assert client.get(address)["Location"] == "/designs/"
    assert client.post(reverse("job_stop", args=[job.pk]))["Location"] == "/designs/"
    job.refresh_from_db()
    assert job.stop_asked
    Job.objects.filter(pk=job.pk).update(state=JobState.DONE)
    assert client.get(address, headers={"HX-Request": "true"})["HX-Refresh"] == "true"


@pytest.mark.django_db(transaction=True)
def test_work_under_way_stops_when_asked_and_keeps_its_best(kinds, by_worker, monkeypatch):
    monkeypatch.setattr(jobs, "BEAT_S", 0.05)
    jobs.ask("test.waits", {}, at=AT)
    job = jobs.take_next(at=timezone.now())
    jobs.stop(job, at=timezone.now())
    jobs.run_watched(job)
    job.refresh_from_db()
    assert (job.state, job.result, job.problem) == (JobState.STOPPED, {"best": 1}, jobs.CUT)
    assert 0 < job.share < 1
    assert job.words.startswith("turn ")


@pytest.mark.django_db(transaction=True)
def test_a_process_of_its_own_works_what_waits_and_ends(settings, monkeypatch):
    if connection.vendor != "sqlite":
        pytest.skip("the process is led to the tests' database by its file")
    settings.JOBS_IN_PLACE = False
    monkeypatch.setenv("DATABASE_URL", f"sqlite:///{connection.settings_dict['NAME']}")
    candle = Candle(wax=wax("soy"), wall=wall("glass"), inside_diameter_mm=60, wax_depth_mm=40,
                    rim_mm=60, burn_rate_g_h=12)  # fmt: skip
    asked = {"candle": as_kept(candle), "hours": 0.5, "left_mm": 38.0, "cell_mm": 8.0,
             "units": "metric"}  # fmt: skip
    job = jobs.ask("heat.life", asked, at=timezone.now())
    assert job.state == JobState.WAITING
    until = time.monotonic() + 60
    while not jobs.look(job, at=timezone.now()).over and time.monotonic() < until:
        time.sleep(0.1)
    assert job.state == JobState.DONE, job.problem or job.words
    assert job.result["hours"] > 0
    assert job.starts == 1
    for child in jobs._children:
        child.wait(timeout=30)
