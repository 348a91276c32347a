"""Jobs: their life, what they say, and that nothing is left of them."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from wellheard.web.jobs import MOST_KEPT, MOST_LINES, PRELOADED, Job, Jobs

WORK = "tests.web.slow_work"
LONG = 60.0
"""More than a job of these takes on a slow machine; only a test that fails waits so long. [s]"""


@pytest.fixture
def jobs() -> Iterator[Jobs]:
    made = Jobs(most=2)
    yield made
    made.close()


def eventually(true: Callable[[], bool]) -> bool:
    end = time.monotonic() + LONG
    while time.monotonic() < end:
        if true():
            return True
        time.sleep(0.01)
    return False


def is_alive(process: int) -> bool:
    """Whether a process is there, a zombie included."""
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def is_running(process: int) -> bool:
    """Whether a process runs; one whose parent is gone may stay a zombie until init looks."""
    told = subprocess.run(
        ["ps", "-o", "stat=", "-p", str(process)], capture_output=True, text=True, check=False
    ).stdout.strip()
    return bool(told) and not told.startswith("Z")


def waiting_job(jobs: Jobs, folder: Path, name: str) -> tuple[Job, Path, Path]:
    flag, started = folder / f"{name}-flag", folder / f"{name}-started"
    job = jobs.start(f"{WORK}:until_there", flag=str(flag), started=str(started), title=name)
    return job, flag, started


def number_in(started: Path) -> int:
    assert eventually(lambda: started.exists() and bool(started.read_text()))
    return int(started.read_text())


def test_a_job_answers_from_another_process(jobs: Jobs) -> None:
    job = jobs.start(f"{WORK}:process_number")
    assert job.wait(LONG) == "done"
    assert job.result != os.getpid()
    assert not is_alive(job.result)


def test_what_jobs_need_is_loaded_once_and_not_by_each(jobs: Jobs) -> None:
    if "forkserver" not in multiprocessing.get_all_start_methods():
        pytest.skip("nothing forks here")
    job = jobs.start(f"{WORK}:at_hand")
    assert job.wait(LONG) == "done"
    assert set(PRELOADED) <= set(job.result)


def test_lines_arrive_whole_and_in_order(jobs: Jobs) -> None:
    heard: list[str] = []
    job = jobs.start(f"{WORK}:counted", to=50)
    job.listen(lambda one: heard.append(one.words))
    assert job.wait(LONG) == "done"
    assert [line.text for line in job.lines] == [f"{n} of 50" for n in range(1, 51)]
    assert [line.after for line in job.lines] == sorted(line.after for line in job.lines)
    assert heard[-1] == "50 of 50"
    assert job.result == 50


def test_of_many_lines_the_last_are_kept_and_none_is_long(jobs: Jobs) -> None:
    job = jobs.start(f"{WORK}:chatty")
    job.wait(LONG)
    assert len(job.lines) == MOST_LINES
    assert job.lines[-1].text.startswith("999 ")
    assert max(len(line.text) for line in job.lines) <= 400


def test_what_is_refused_is_said_in_its_own_words(jobs: Jobs) -> None:
    job = jobs.start(f"{WORK}:refused")
    assert job.wait(LONG) == "failed"
    assert job.error == "choices: no microphone is left; allow one"


def test_an_error_of_ours_is_told_without_a_traceback(jobs: Jobs) -> None:
    job = jobs.start(f"{WORK}:broken")
    assert job.wait(LONG) == "failed"
    assert job.error == "an error of Wellheard itself (ZeroDivisionError: of nothing)"


@pytest.mark.parametrize(
    ("function", "words"),
    [
        ("killed", "killed (SIGKILL), perhaps because memory ran out"),
        ("gone", "ended without an answer (code 3)"),
        ("unpicklable", "an error of Wellheard itself"),
        ("huge", "the answer is too large (65 MB; at most 64 MB)"),
        ("no_such_function", "an error of Wellheard itself"),
    ],
)
def test_a_job_that_cannot_answer_says_why(jobs: Jobs, function: str, words: str) -> None:
    job = jobs.start(f"{WORK}:{function}")
    assert job.wait(LONG) == "failed"
    assert words in job.error
    assert job.result is None


def test_cancelling_is_at_once_and_leaves_no_process(jobs: Jobs, tmp_path: Path) -> None:
    job, flag, started = waiting_job(jobs, tmp_path, "deaf")
    process = number_in(started)
    job.cancel()
    assert job.state == "cancelled"
    assert job.wait(LONG) == "cancelled"
    assert not is_alive(process)
    flag.touch()
    assert (job.state, job.result) == ("cancelled", None)


def test_what_has_ended_cannot_be_cancelled(jobs: Jobs) -> None:
    job = jobs.start(f"{WORK}:counted", to=1)
    job.wait(LONG)
    job.cancel()
    assert (job.state, job.result) == ("done", 1)


def test_more_than_a_few_wait_their_turn_and_say_so(jobs: Jobs, tmp_path: Path) -> None:
    first, first_flag, first_started = waiting_job(jobs, tmp_path, "first")
    second, _, second_started = waiting_job(jobs, tmp_path, "second")
    number_in(first_started), number_in(second_started)
    third = jobs.start(f"{WORK}:counted", to=3)
    fourth = jobs.start(f"{WORK}:counted", to=4)
    assert (third.state, third.words) == ("waiting", "waiting until other work is done")
    fourth.cancel()
    assert fourth.wait(LONG) == "cancelled"
    first_flag.touch()
    assert first.wait(LONG) == "done"
    assert third.wait(LONG) == "done"
    second.cancel()


def test_what_is_done_aside_keeps_no_other_work_waiting(tmp_path: Path) -> None:
    jobs = Jobs(most=1)
    flag, started = tmp_path / "flag", tmp_path / "started"
    asking = {"flag": str(flag), "started": str(started)}
    aside = jobs.start(f"{WORK}:until_there", aside=True, **asking)
    number_in(started)
    second = jobs.start(f"{WORK}:counted", aside=True, to=1)
    assert jobs.start(f"{WORK}:counted", to=3).wait(LONG) == "done"
    assert (aside.state, second.state) == ("running", "waiting")
    if hasattr(os, "getpriority"):
        assert os.getpriority(os.PRIO_PROCESS, number_in(started)) > os.getpriority(
            os.PRIO_PROCESS, 0
        )
    flag.touch()
    assert (aside.wait(LONG), second.wait(LONG)) == ("done", "done")
    jobs.close()


def test_closing_ends_every_job_and_takes_no_more(tmp_path: Path) -> None:
    jobs = Jobs(most=1)
    running, _, started = waiting_job(jobs, tmp_path, "running")
    waiting = jobs.start(f"{WORK}:counted", to=3)
    process = number_in(started)
    jobs.close()
    assert (running.state, waiting.state) == ("cancelled", "cancelled")
    assert eventually(lambda: not is_alive(process))
    with pytest.raises(ValueError, match="closed"):
        jobs.start(f"{WORK}:counted", to=1)


def test_a_listener_that_fails_does_not_stop_a_job(
    jobs: Jobs, capsys: pytest.CaptureFixture[str]
) -> None:
    job = jobs.start(f"{WORK}:counted", to=2)

    def fails(_: Job) -> None:
        raise RuntimeError("the page is gone")

    stop = job.listen(fails)
    assert job.wait(LONG) == "done"
    stop()
    stop()


def test_the_newest_job_of_a_room_is_found_and_old_ones_are_forgotten(jobs: Jobs) -> None:
    first = jobs.start(f"{WORK}:counted", to=1, label="tide")
    first.wait(LONG)
    newest = jobs.start(f"{WORK}:counted", to=2, label="tide")
    assert jobs.last(f"{WORK}:counted", "tide") is newest
    assert jobs.last(f"{WORK}:counted", "other") is None
    other = jobs.start(f"{WORK}:process_number")
    other.wait(LONG)
    for _ in range(MOST_KEPT + 1):
        cancelled = jobs.start(f"{WORK}:counted", to=1)
        cancelled.cancel()
        cancelled.wait(LONG)
    assert jobs.get(first.id) is None
    assert jobs.get(other.id) is other, "of another function, however often this one was asked"


def test_a_job_ends_with_the_last_who_waits_for_it(jobs: Jobs, tmp_path: Path) -> None:
    job, _, started = waiting_job(jobs, tmp_path, "watched")
    number_in(started)
    first = job.watch()
    second = job.watch()  # the page, loaded again
    first()
    assert job.state == "running"
    second()
    assert job.wait(LONG) == "cancelled"


def test_an_answer_stays_when_nobody_looks_at_it_any_more(jobs: Jobs) -> None:
    job = jobs.start(f"{WORK}:counted", to=1)
    leave = job.watch()
    job.wait(LONG)
    leave()
    assert (job.state, job.result) == ("done", 1)


def test_arguments_that_cannot_travel_are_refused_at_the_start(jobs: Jobs) -> None:
    with pytest.raises(ValueError, match="cannot be pickled"):
        jobs.start(f"{WORK}:counted", to=lambda: 1)
    with pytest.raises(ValueError, match="names no function"):
        jobs.start("counted")


SERVER = """
import sys, time
from wellheard.web.jobs import Jobs
if __name__ == "__main__":
    Jobs().start("tests.web.slow_work:until_there", flag=sys.argv[1], started=sys.argv[2])
    time.sleep(60)
"""


def test_jobs_die_with_a_server_that_is_killed(tmp_path: Path) -> None:
    script = tmp_path / "server.py"
    script.write_text(SERVER)
    started = tmp_path / "started"
    root = Path(__file__).parents[2]
    server = subprocess.Popen(
        [sys.executable, str(script), str(tmp_path / "flag"), str(started)],
        env={**os.environ, "PYTHONPATH": str(root)},
    )
    process = number_in(started)
    with contextlib.suppress(ProcessLookupError):
        server.kill()
    server.wait()
    assert eventually(lambda: not is_running(process))
