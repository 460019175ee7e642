"""Measurements for Prometheus. Labels are route templates, never raw paths, so that their number is bounded."""

import os
import time
from collections.abc import Callable
from threading import Lock
from typing import Final, Literal

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector, mark_process_dead

from service.api.kept import Tally
from service.api.live import Standing

UNMATCHED: Final = "unmatched"
METHODS: Final = frozenset({"GET", "HEAD", "POST", "OPTIONS", "PUT", "PATCH", "DELETE"})
_SHARED: Final = "PROMETHEUS_MULTIPROC_DIR"
TEXT_TYPE: Final = "text/plain; version=0.0.4"


class Metrics:
    """Requests by route, method and status, their durations, how the catalog stands, and what is kept of answers.

    With several worker processes each counts its own, unless PROMETHEUS_MULTIPROC_DIR names a folder that they share.
    """

    def __init__(self, tally: Callable[[], Tally]) -> None:
        self._registry = CollectorRegistry()
        self._requests = Counter(
            "beltplane_requests", "Requests answered.", ("route", "method", "status"), registry=self._registry
        )
        self._seconds = Histogram(
            "beltplane_request_seconds", "Time to answer.", ("route", "method"), registry=self._registry
        )
        self._release = self._gauge("release", "Number of the release that answers; of several workers the least.")
        self._newest = self._gauge("newest_release", "Number of the newest release that the database named.", "max")
        self._current = self._gauge(
            "current_timestamp_seconds", "When the release that answers was last known to be the newest."
        )
        self._stale = self._gauge("stale", "1 where there may be a newer release than the one that answers.", "max")
        self._failures = Counter(
            "beltplane_catalog_load_failures", "Tries to load a release that failed.", registry=self._registry
        )
        self._failures_told = 0
        self._cache = _Cache(tally, self._registry)
        self._standing_lock = Lock()
        self._of: dict[tuple[str, str, int], tuple[Counter, Histogram]] = {}

    def _gauge(self, name: str, about: str, of_several: Literal["min", "max"] = "min") -> Gauge:
        """A gauge of the catalog; `of_several` workers that run, the least or the largest."""
        return Gauge(
            f"beltplane_catalog_{name}",
            about,
            registry=self._registry,
            multiprocess_mode="livemin" if of_several == "min" else "livemax",
        )

    def stand(self, standing: Standing) -> None:
        """Take over how the catalog stands, and what is kept of answers."""
        with self._standing_lock:
            self._release.set(0 if standing.release is None else standing.release.number)
            self._newest.set(standing.newest)
            self._current.set(0 if standing.release is None else time.time() - standing.age)
            self._stale.set(standing.stale)
            self._failures.inc(max(0, standing.failures - self._failures_told))
            self._failures_told = max(standing.failures, self._failures_told)
            self._cache.take_over()

    def close(self) -> None:
        """Leave the gauges of the workers that run."""
        if _SHARED in os.environ:
            mark_process_dead(os.getpid())  # type: ignore[no-untyped-call]

    def count(self, route: str, method: str, status: int, seconds: float) -> None:
        """Count one answered request."""
        found = self._of.get((route, method, status))
        if found is None:
            told = method if method in METHODS else "other"
            found = self._requests.labels(route, told, str(status)), self._seconds.labels(route, told)
            if told == method:
                # Looking them up by their labels takes longer than counting. Other methods have no end of names.
                self._of[route, method, status] = found
        requests, took = found
        requests.inc()
        took.observe(seconds)

    def text(self) -> bytes:
        """All measurements in the text form of Prometheus."""
        if _SHARED not in os.environ:
            return generate_latest(self._registry)
        registry = CollectorRegistry()
        MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
        return generate_latest(registry)


class _Cache:
    """What is kept of answers, counted where they are kept and taken over from there now and then."""

    def __init__(self, tally: Callable[[], Tally], registry: CollectorRegistry) -> None:
        self._tally = tally
        self._told = tally()
        self._counters = {
            name: Counter(f"beltplane_cache_{name}", about, registry=registry)
            for name, about in {
                "hits": "Questions answered from what is kept.",
                "misses": "Questions whose answer had to be made.",
                "evicted": "Entries pushed out by newer ones.",
            }.items()
        }
        self._gauges = {
            name: Gauge(f"beltplane_cache_{shown}", about, registry=registry, multiprocess_mode="livesum")
            for name, shown, about in (
                ("size", "bytes", "Bytes that kept answers take; of several workers the sum."),
                ("entries", "entries", "Answers and known requests kept; of several workers the sum."),
            )
        }

    def take_over(self) -> None:
        """Bring the measurements up to date."""
        tally, told = self._tally(), self._told
        self._told = tally
        for name, counter in self._counters.items():
            counter.inc(getattr(tally, name) - getattr(told, name))
        for name, gauge in self._gauges.items():
            gauge.set(getattr(tally, name))
