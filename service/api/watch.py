"""Following the catalog: one thread of each worker process looks which release is the newest."""

import threading
from collections.abc import Callable
from random import Random
from typing import Final

from service.api.live import Live, Standing, log

LOOK_SECONDS: Final = 1.0
"""Between two looks at most, so that a release published is noticed within two seconds."""


class Watcher:
    """Looks as long as it runs, and tells each time how the catalog stands."""

    def __init__(self, live: Live, tell: Callable[[Standing], None]) -> None:
        self._live, self._tell = live, tell
        self._stopped = threading.Event()
        # Made when the worker has started: a thread does not outlive a fork.
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Look once, then go on looking in a thread of its own until stopped."""
        self._live.watched = True
        self._look()
        self._thread = threading.Thread(target=self._run, name="catalog-watcher", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Stop looking; a look that waits for the database is not waited for long."""
        self._stopped.set()
        if self._thread is not None:
            self._thread.join(timeout=2 * LOOK_SECONDS)

    def _run(self) -> None:
        # Not in step with the other workers, so that they do not all load a release in the same moment.
        chance = Random()
        while not self._stopped.wait(chance.uniform(0.7, 1.0) * LOOK_SECONDS):
            self._look()

    def _look(self) -> None:
        try:
            self._tell(self._live.look())
        except Exception:
            log.exception("looking for a new release failed")
