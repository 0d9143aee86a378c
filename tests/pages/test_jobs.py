"""Long work: progress, an end, a stop, and a helper that dies."""

from __future__ import annotations

import os
import time
from collections.abc import Callable

from calmday.errors import InputError
from calmday.web.jobs import Job, Jobs, Told, wait


def quick(_place: str, task: str, run: str, told: Told) -> str:
    told(0.5, f"halfway through {run}")
    return f"{task} of {run}"


def endless(_place: str, task: str, _run: str, told: Told) -> None:
    if not task:
        return
    while True:
        told(0.1, "on and on")
        time.sleep(0.01)


def faulty(_place: str, _task: str, _run: str, _told: Told) -> None:
    raise InputError.one("run.toml", "weighing", "is missing", "two of them")


def broken(_place: str, _task: str, _run: str, _told: Told) -> None:
    raise ZeroDivisionError


def dying(_place: str, task: str, _run: str, _told: Told) -> None:
    if task:
        os._exit(9)


def until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + 20
    while not true():
        assert time.monotonic() < end
        time.sleep(0.01)


def done_by(work: Callable[[str, str, str, Told], object], *, in_process: bool) -> Job:
    jobs = Jobs("", work, in_process=in_process)
    try:
        job = jobs.start("r1")
        assert wait(job, 20)
        return job
    finally:
        jobs.close()


def test_work_is_done_beside_the_page_and_tells_how_far_it_is() -> None:
    for in_process in (True, False):
        job = done_by(quick, in_process=in_process)
        assert (job.state, job.fraction, job.faults, job.result) == ("done", 1.0, (), "reduce of r1")


def test_faults_of_the_input_come_with_their_key() -> None:
    for in_process in (True, False):
        job = done_by(faulty, in_process=in_process)
        assert job.state == "failed"
        assert job.faults == (("weighing", "weighing: It is missing. Right would be: two of them."),)


def test_faults_of_the_program_are_said_to_be_its_own() -> None:
    job = done_by(broken, in_process=True)
    assert "fault of the program" in job.faults[0][1]


def test_a_helper_that_dies_fails_its_job_and_the_next_one_gets_another() -> None:
    jobs = Jobs("", dying)
    try:
        for run in ("r1", "r2"):
            job = jobs.start(run)
            assert wait(job, 20)
            assert job.state == "failed"
            assert "Try once more" in job.faults[0][1]
    finally:
        jobs.close()


def test_work_can_be_stopped() -> None:
    for in_process in (True, False):
        jobs = Jobs("", endless, in_process=in_process)
        try:
            job, queued = jobs.start("r1"), jobs.start("r2")
            until(lambda job=job: job.words == "on and on")
            jobs.cancel(queued.id)
            assert queued.state == "cancelled"
            jobs.cancel(job.id)
            assert wait(job, 20)
            assert job.state == "cancelled"
        finally:
            jobs.close()


def test_the_same_run_is_not_worked_on_twice_at_once() -> None:
    jobs = Jobs("", endless, in_process=True)
    try:
        assert jobs.start("r1") is jobs.start("r1")
        assert jobs.start("r2") is not jobs.start("r1")
        assert jobs.start("r1", "check") is not jobs.start("r1")
    finally:
        jobs.close()
