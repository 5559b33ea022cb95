"""Long searches in the background: each goes on whatever becomes of the page that started it, and stops when asked."""

from __future__ import annotations

import logging
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from fizzwright.design.composed import Progress
from fizzwright.refusal import Refusal

MOST_RUNNING = 3
"""Searches at once: a bench has few cores, and more would only make each slower."""
MOST_KEPT = 40
KEPT_S = 30 * 60
"""How long a finished search stays to be looked at again."""
_log = logging.getLogger(__name__)


class Busy(Refusal):
    """There are as many searches as the machine should run at once."""


Say = Callable[[Progress], None]
Work = Callable[[Say, Callable[[], bool]], Any]
"""What a search does: told where to say how it goes and how to learn that it should stop; gives back its outcome."""


@dataclass
class Job:
    """One search. Its thread writes `progress`, `outcome` and `trouble`; pages only read them."""

    id: str
    name: str
    key: str
    """What is searched for: two searches of one key are one."""
    asked: Any
    """What the page needs to show the question again."""
    began: float
    progress: Progress | None = None
    outcome: Any = None
    trouble: str = ""
    """Why there is no outcome, in plain words."""
    ended: float | None = None
    _stop: threading.Event = field(default_factory=threading.Event)

    @property
    def is_running(self) -> bool:
        """True until there is an outcome or a trouble."""
        return self.ended is None

    @property
    def is_stopping(self) -> bool:
        """True when it was asked to stop and has not yet."""
        return self.is_running and self._stop.is_set()

    def stop(self) -> None:
        """Ask it to end with the best so far."""
        self._stop.set()


class Jobs:
    """The searches of one workbench, in memory: closing the workbench forgets them."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._jobs: dict[str, Job] = {}
        self._lock = threading.Lock()

    def start(self, name: str, key: str, asked: Any, work: Work) -> Job:
        """Begin a search, or give back the one that looks or has looked for just this. Busy when too many run."""
        with self._lock:
            self._sweep()
            for job in self._jobs.values():
                if job.key == key and not job.trouble and not job._stop.is_set():
                    return job
            if sum(job.is_running for job in self._jobs.values()) >= MOST_RUNNING:
                raise Busy(
                    f"{MOST_RUNNING} searches are running already, as many as this workbench does at once. "
                    "Stop one of them or wait until it is done; nothing you typed is lost."
                )
            job = Job(secrets.token_urlsafe(9), name, key, asked, self._clock())
            self._jobs[job.id] = job
        threading.Thread(target=self._run, args=(job, work), name=f"search {job.id}", daemon=True).start()
        return job

    def get(self, job_id: str) -> Job | None:
        """A search by its id; None when it was never there or is forgotten."""
        with self._lock:
            self._sweep()
            return self._jobs.get(job_id)

    def by_key(self, key: str) -> Job | None:
        """The newest search for just this; None when there is none."""
        return next((job for job in self.all() if job.key == key), None)

    def all(self) -> list[Job]:
        """Every search kept, newest first."""
        with self._lock:
            self._sweep()
            return sorted(self._jobs.values(), key=lambda job: -job.began)

    def seconds(self, job: Job) -> float:
        """How long it has run, or ran."""
        return (self._clock() if job.ended is None else job.ended) - job.began

    def _run(self, job: Job, work: Work) -> None:
        def say(progress: Progress) -> None:
            job.progress = progress

        try:
            job.outcome = work(say, job._stop.is_set)
        except Refusal as refused:
            job.trouble = str(refused)
        except Exception as error:
            _log.error("a search failed", exc_info=error)
            job.trouble = (
                "The workbench made a mistake while it searched: a fault of the program, not of yours. "
                "The terminal the workbench runs in shows what happened."
            )
        job.ended = self._clock()

    def _sweep(self) -> None:
        """Forget what ended long ago, and the oldest beyond the most that are kept."""
        now = self._clock()
        ended = sorted((j for j in self._jobs.values() if j.ended is not None), key=lambda j: j.began)
        old = [j for j in ended if j.ended is not None and now - j.ended > KEPT_S]
        surplus = ended[: max(0, len(self._jobs) - MOST_KEPT)]
        for job in (*old, *surplus):
            self._jobs.pop(job.id, None)


class Latest:
    """One quick look at a time: a newer one asks the older to stop, for nobody reads its answer any more."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._turn = threading.Lock()
        self._now = threading.Event()

    def look(self, work: Callable[[Callable[[], bool]], Any], seconds: float) -> Any:
        """What `work` finds, told to stop after so many seconds or when a newer look begins."""
        with self._lock:
            self._now.set()
            mine = self._now = threading.Event()
        with self._turn:
            until = time.monotonic() + seconds
            return None if mine.is_set() else work(lambda: mine.is_set() or time.monotonic() > until)
