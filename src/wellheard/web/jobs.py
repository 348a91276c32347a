"""Long work in processes of its own: progress, an answer or a reason, and an end at once.

A job is one process. What it says and what it answers come through a pipe that a thread of this
process reads; cancelling kills the process, and when this process ends, however it ends, its jobs
end with it.
"""

from __future__ import annotations

import contextlib
import importlib
import multiprocessing
import os
import pickle
import secrets
import signal
import sys
import threading
import time
import traceback
from collections import Counter, OrderedDict, deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import TYPE_CHECKING, Any, Literal, TypeAlias, cast

from wellheard.errors import WellheardError

if TYPE_CHECKING:
    from multiprocessing.context import ForkServerContext, SpawnContext

State: TypeAlias = Literal["waiting", "running", "done", "failed", "cancelled"]

MOST_AT_ONCE = 2
MOST_KEPT = 12
"""Finished jobs of each function whose answers are kept at hand."""
MOST_LINES = 200
LONGEST_LINE = 400
LARGEST_ANSWER = 64 * 2**20
"""Of an answer, pickled. [bytes]"""
LOOK_EVERY = 0.25
"""How often a page brings its line of progress up to date. [s]"""
PATIENCE = 1.0
"""How long a process may take to end after it was asked to. [s]"""

BEHIND = 10
"""How far a job that is done aside stands behind others for the processor, where that is told."""

PRELOADED = ["wellheard.workflow.tasks"]
"""What jobs need, and what takes longer to load than most of them take."""


def _context() -> ForkServerContext | SpawnContext:
    """How processes are made: from one that has everything loaded and does nothing, if it can be.

    Never from this one, whose threads may hold locks at that moment.
    """
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(PRELOADED)
    return context


_CONTEXT = _context()
_births = threading.Lock()
"""Held while a process is begun or buried: the library's list of children is no thread's own."""


@dataclass(frozen=True)
class Said:
    """One line of progress, and when it came after the start [s]."""

    text: str
    after: float


class Job:
    """One piece of work, as whoever waits for it sees it. Thread-safe.

    Attributes
    ----------
    id : str
        Not to be guessed; fit for a URL.
    function : str
        ``package.module:function``.
    title : str
        What is done, in words.
    label : str
        What it is done for, such as the key of a room.
    aside : bool
        Nobody asked for it by hand: it gives way to all other work.
    """

    def __init__(
        self,
        function: str,
        arguments: Mapping[str, Any],
        title: str,
        label: str,
        ended: Callable[[], None],
        *,
        aside: bool = False,
    ) -> None:
        self.id = secrets.token_hex(8)
        self.function, self.title, self.label, self.aside = function, title, label, aside
        self._arguments = dict(arguments)
        self._state: State = "waiting"
        self._lines: deque[Said] = deque(maxlen=MOST_LINES)
        self._result: Any = None
        self._error = ""
        self._began: float | None = None
        self._ended: float | None = None
        self._process: BaseProcess | None = None
        self._listeners: list[Callable[[Job], None]] = []
        self._lock = threading.RLock()
        self._over = threading.Event()
        self._on_end = ended

    @property
    def state(self) -> State:
        """Where it is; it ends as done, failed or cancelled, and stays so."""
        return self._state

    @property
    def running(self) -> bool:
        """Whether it has not ended yet."""
        return self._state in ("waiting", "running")

    @property
    def lines(self) -> tuple[Said, ...]:
        """What it said so far; of very many lines the last."""
        with self._lock:
            return tuple(self._lines)

    @property
    def result(self) -> Any:
        """What the function returned; None unless it is done."""
        return self._result

    @property
    def error(self) -> str:
        """Why it failed, for a person; '' unless it did."""
        return self._error

    @property
    def seconds(self) -> float:
        """How long it has run, or did. [s]"""
        if self._began is None:
            return 0.0
        return (self._ended or time.monotonic()) - self._began

    @property
    def words(self) -> str:
        """How things are, in a few words."""
        with self._lock:
            if self._state == "waiting":
                return "waiting until other work is done"
            if self._state == "cancelled":
                return "cancelled"
            if self._state == "failed":
                return self._error
            return self._lines[-1].text if self._lines else "starting"

    @property
    def progress(self) -> str:
        """The same, and how long it has run, while it does."""
        return f"{self.words} · {self.seconds:.0f} s" if self._state == "running" else self.words

    def listen(self, told: Callable[[Job], None]) -> Callable[[], None]:
        """Have ``told`` called, from a thread, at each line and change; returns how to stop it."""
        with self._lock:
            self._listeners.append(told)

        def stop() -> None:
            with self._lock, contextlib.suppress(ValueError):
                self._listeners.remove(told)

        return stop

    def watch(self, told: Callable[[Job], None] = lambda _: None) -> Callable[[], None]:
        """As `listen`, for who waits for the answer: when the last one stops, the job is ended.

        A page that is loaded again watches before the page it was is gone.
        """
        stop = self.listen(told)

        def leave() -> None:
            stop()
            with self._lock:
                alone = not self._listeners
            if alone and self.running:
                self.cancel()

        return leave

    def cancel(self) -> None:
        """End it now; nothing of it stays. What has ended stays as it is."""
        self._end("cancelled")
        with _births, self._lock:
            if self._process is not None:
                # It holds nothing that it could put in order, and a solver hears no request.
                self._process.kill()

    def wait(self, timeout: float | None = None) -> State:
        """Its state, once its process is gone, or after ``timeout`` seconds."""
        self._over.wait(timeout)
        return self._state

    def _say(self, text: str) -> None:
        with self._lock:
            if not self.running:
                return
            self._lines.append(Said(text[:LONGEST_LINE], self.seconds))
        self._tell()

    def _begin(self) -> bool:
        with self._lock:
            if self._state != "waiting":
                return False
            self._state, self._began = "running", time.monotonic()
        return True

    def _end(self, state: State, *, result: Any = None, error: str = "") -> None:
        with self._lock:
            if not self.running:
                return
            self._result, self._error, self._ended = result, error, time.monotonic()
            self._state = state
            self._arguments = {}
        self._on_end()
        self._tell()

    def _tell(self) -> None:
        with self._lock:
            listeners = tuple(self._listeners)
        for told in listeners:
            try:
                told(self)
            except Exception:  # a page that is gone must not stop the work of others
                traceback.print_exc(file=sys.stderr)


class Jobs:
    """All jobs of a server; at most a few run at once, the others wait their turn.

    Parameters
    ----------
    most : int
        How many may run at once, apart from one that is done aside.
    """

    def __init__(self, most: int = MOST_AT_ONCE) -> None:
        self.most = most
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._queues: dict[bool, deque[Job]] = {False: deque(), True: deque()}
        self._busy = {False: 0, True: 0}
        self._turn = threading.Condition()
        self._closed = False

    def start(
        self,
        function: str,
        /,
        *,
        title: str = "",
        label: str = "",
        aside: bool = False,
        **arguments: Any,
    ) -> Job:
        """Begin a job.

        Parameters
        ----------
        function : str
            ``package.module:function``; it is given ``arguments`` and ``say``, to be called with
            a line of progress.
        title, label, aside
            See `Job`; one job at a time is done aside, and keeps no other waiting.
        **arguments
            Anything that can be pickled.

        Raises
        ------
        ValueError
            The function is not named so, an argument cannot be pickled, or these jobs are closed.
        """
        module, _, name = function.partition(":")
        if not module or not name:
            raise ValueError(f"{function!r} names no function; module:function")
        try:
            pickle.dumps(arguments)
        except Exception as error:
            raise ValueError(f"{function}: an argument cannot be pickled: {error}") from error
        job = Job(function, arguments, title, label, self._wake, aside=aside)
        with self._turn:
            if self._closed:
                raise ValueError("the jobs are closed")
            self._jobs[job.id] = job
            self._queues[aside].append(job)
            self._forget()
        threading.Thread(
            target=self._attend, args=(job,), name=f"job-{job.id}", daemon=True
        ).start()
        return job

    def get(self, job: str) -> Job | None:
        """The job of this id, unless it was forgotten."""
        with self._turn:
            return self._jobs.get(job)

    def last(self, function: str, label: str) -> Job | None:
        """The newest job of a function for a label."""
        with self._turn:
            same = [j for j in self._jobs.values() if (j.function, j.label) == (function, label)]
        return same[-1] if same else None

    def close(self) -> None:
        """Cancel everything, and wait until its processes are gone."""
        with self._turn:
            self._closed = True
            jobs = tuple(self._jobs.values())
        for job in jobs:
            job.cancel()
        for job in jobs:
            job.wait(2 * PATIENCE)

    def _forget(self) -> None:
        """Drop the oldest; of each function apart, as some are asked for at every change."""
        kept: Counter[str] = Counter()
        for job in reversed(tuple(self._jobs.values())):
            if not job.running:
                kept[job.function] += 1
                if kept[job.function] > MOST_KEPT:
                    del self._jobs[job.id]

    def forget(self, job: Job) -> None:
        """Cancel it, and keep nothing of what it answered."""
        job.cancel()
        with self._turn:
            self._jobs.pop(job.id, None)

    def _wake(self) -> None:
        with self._turn:
            self._turn.notify_all()

    def _attend(self, job: Job) -> None:
        """Wait for a turn, run the process, bury it; the body of a thread."""
        queue, most = self._queues[job.aside], 1 if job.aside else self.most
        with self._turn:
            while job.running and not (queue[0] is job and self._busy[job.aside] < most):
                self._turn.wait()
            queue.remove(job)
            begun = job._begin()
            self._busy[job.aside] += begun
            self._turn.notify_all()
        try:
            if begun:
                job._tell()
                _run(job)
        finally:
            with self._turn:
                self._busy[job.aside] -= begun
                self._forget()
                self._turn.notify_all()
            job._over.set()


def _run(job: Job) -> None:
    reader, writer = _CONTEXT.Pipe(duplex=False)
    process = _CONTEXT.Process(
        target=_work,
        args=(job.function, job._arguments, writer, job.aside),
        daemon=True,
        name=job.title,
    )
    try:
        with _births:
            process.start()
    except Exception as error:
        job._end("failed", error=f"no process could be started for it: {error}")
        writer.close()
        reader.close()
        return
    writer.close()
    with job._lock:
        job._process = process
        cancelled = not job.running
    if cancelled:  # while it was being born
        process.kill()
    try:
        _hear(job, reader)
    finally:
        reader.close()
        code = _bury(job, process)
        job._end("failed", error=_death(code))  # unless it has ended already


def _hear(job: Job, reader: Connection) -> None:
    """Take what comes through the pipe, until it ends."""
    while True:
        try:
            wait([reader])
            kind, value = pickle.loads(reader.recv_bytes(LARGEST_ANSWER + 4096))  # our own child
        except (EOFError, OSError):
            return
        except Exception as error:
            job._end("failed", error=f"its answer cannot be read: {error}")
            return
        if kind == "said":
            job._say(value)
        elif kind == "done":
            job._end("done", result=value)
            return
        else:
            job._end("failed", error=value)
            return


def _bury(job: Job, process: BaseProcess) -> int:
    """Wait for the end of a process, hasten it if it tarries; its exit code."""
    wait([process.sentinel], PATIENCE)
    for hasten in (process.terminate, process.kill):
        if not wait([process.sentinel], 0):
            hasten()
            wait([process.sentinel], PATIENCE)
    with _births, job._lock:
        job._process = None
        process.join()
        code = process.exitcode
        process.close()
    return 0 if code is None else code


def _death(code: int) -> str:
    """Why a process ended that gave no answer.

    Examples
    --------
    >>> _death(-9)
    'its process was killed (SIGKILL), perhaps because memory ran out; try again'
    >>> _death(3)
    'its process ended without an answer (code 3); try again'
    """
    if code >= 0:
        return f"its process ended without an answer (code {code}); try again"
    try:
        name = signal.Signals(-code).name
    except ValueError:
        name = f"signal {-code}"
    memory = ", perhaps because memory ran out" if name == "SIGKILL" else ""
    return f"its process was killed ({name}){memory}; try again"


# In the process of the job ------------------------------------------------------------------------


def _work(function: str, arguments: Mapping[str, Any], pipe: Connection, aside: bool) -> None:
    """Body of the process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server ends its jobs itself
    if aside and hasattr(os, "nice"):
        os.nice(BEHIND)
    threading.Thread(target=_end_with_parent, daemon=True).start()

    def send(kind: str, value: Any) -> None:
        data = pickle.dumps((kind, value))
        if len(data) > LARGEST_ANSWER:
            data = pickle.dumps(
                (
                    "failed",
                    f"the answer is too large ({len(data) / 2**20:.0f} MB; at most "
                    f"{LARGEST_ANSWER / 2**20:.0f} MB)",
                )
            )
        pipe.send_bytes(data)

    def say(text: str) -> None:
        send("said", str(text)[:LONGEST_LINE])

    try:
        module, _, name = function.partition(":")
        found = cast(Callable[..., Any], getattr(importlib.import_module(module), name))
        send("done", found(**arguments, say=say))
    except WellheardError as error:
        send("failed", str(error))
    except MemoryError:
        send("failed", "memory ran out; close something else, or ask for less at once")
    except Exception as error:
        traceback.print_exc(file=sys.stderr)
        send("failed", f"an error of Wellheard itself ({type(error).__name__}: {error})")
    finally:
        pipe.close()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
