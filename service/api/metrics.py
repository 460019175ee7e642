"""Measurements for Prometheus. Labels are route templates, never raw paths, so that their number is bounded."""

import os
from typing import Final

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector

UNMATCHED: Final = "unmatched"
METHODS: Final = frozenset({"GET", "HEAD", "POST", "OPTIONS", "PUT", "PATCH", "DELETE"})
TEXT_TYPE: Final = "text/plain; version=0.0.4"


class Metrics:
    """Requests by route, method and status, their durations, and the newest release held.

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
        self._release = Gauge(
            "beltplane_catalog_release",
            "Number of the newest release held.",
            registry=self._registry,
            multiprocess_mode="max",
        )

    def count(self, route: str, method: str, status: int, seconds: float) -> None:
        """Count one answered request."""
        method = method if method in METHODS else "other"
        self._requests.labels(route, method, str(status)).inc()
        self._seconds.labels(route, method).observe(seconds)

    def text(self, newest: int) -> bytes:
        """All measurements in the text form of Prometheus; `newest` is the newest release held, 0 for none."""
        self._release.set(newest)
        if "PROMETHEUS_MULTIPROC_DIR" not in os.environ:
            return generate_latest(self._registry)
        registry = CollectorRegistry()
        MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
        return generate_latest(registry)
