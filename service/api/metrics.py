"""Measurements for Prometheus. Labels are route templates, never raw paths, so that their number is bounded."""

import os
import time
from threading import Lock
from typing import Final, Literal

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector, mark_process_dead

from service.api.live import Standing

UNMATCHED: Final = "unmatched"
METHODS: Final = frozenset({"GET", "HEAD", "POST", "OPTIONS", "PUT", "PATCH", "DELETE"})
_SHARED: Final = "PROMETHEUS_MULTIPROC_DIR"
TEXT_TYPE: Final = "text/plain; version=0.0.4"


class Metrics:
    """Requests by route, method and status, their durations, and how the catalog stands.

    With several worker processes each counts its own, unless PROMETHEUS_MULTIPROC_DIR names a folder that they share.
    """

    def __init__(self) -> None:
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
        self._standing_lock = Lock()

    def _gauge(self, name: str, about: str, of_several: Literal["min", "max"] = "min") -> Gauge:
        """A gauge of the catalog; `of_several` workers that run, the least or the largest."""
        return Gauge(
            f"beltplane_catalog_{name}",
            about,
            registry=self._registry,
            multiprocess_mode="livemin" if of_several == "min" else "livemax",
        )

    def stand(self, standing: Standing) -> None:
        """Take over how the catalog stands."""
        with self._standing_lock:
            self._release.set(0 if standing.release is None else standing.release.number)
            self._newest.set(standing.newest)
            self._current.set(0 if standing.release is None else time.time() - standing.age)
            self._stale.set(standing.stale)
            self._failures.inc(max(0, standing.failures - self._failures_told))
            self._failures_told = max(standing.failures, self._failures_told)

    def close(self) -> None:
        """Leave the gauges of the workers that run."""
        if _SHARED in os.environ:
            mark_process_dead(os.getpid())  # type: ignore[no-untyped-call]

    def count(self, route: str, method: str, status: int, seconds: float) -> None:
        """Count one answered request."""
        method = method if method in METHODS else "other"
        self._requests.labels(route, method, str(status)).inc()
        self._seconds.labels(route, method).observe(seconds)

    def text(self) -> bytes:
        """All measurements in the text form of Prometheus."""
        if _SHARED not in os.environ:
            return generate_latest(self._registry)
        registry = CollectorRegistry()
        MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
        return generate_latest(registry)
