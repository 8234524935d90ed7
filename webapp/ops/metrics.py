"""Figures for a monitoring system, in Prometheus' text format: counts, times, room left.

Of one process: with several, each is asked by its own port. No label names a person, a
tablet or an address.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from prometheus_client import CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.exposition import CONTENT_TYPE_LATEST
from prometheus_client.process_collector import ProcessCollector
from prometheus_client.registry import Collector

PREFIX = "step_in_hand"
BOUNDS = (0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30)
CONTENT_TYPE = CONTENT_TYPE_LATEST
Figures = Callable[[], Mapping[str, tuple[str, float]]]


class Meter:
    """The figures of one application."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self.answers = Counter(
            f"{PREFIX}_answers",
            "Answers by rule and status.",
            ("method", "rule", "status"),
            registry=self.registry,
        )
        self.seconds = Histogram(
            f"{PREFIX}_answer_seconds",
            "Time to the first byte of an answer, by part of the server.",
            ("part",),
            buckets=BOUNDS,
            registry=self.registry,
        )
        self.closed = Counter(
            f"{PREFIX}_connections_closed",
            "Connections that the server closed, by reason.",
            ("why",),
            registry=self.registry,
        )
        ProcessCollector(registry=self.registry)

    def answered(self, method: str, rule: str, status: int, seconds: float) -> None:
        """Count one answer."""
        self.answers.labels(method, rule, str(status)).inc()
        part = rule.split("/")[1] if rule.startswith("/") else rule
        self.seconds.labels(part or "app").observe(seconds)

    def watch(self, figures: Figures) -> None:
        """Add figures that are looked up each time somebody asks: name, help and value."""
        self.registry.register(_Asked(figures))

    def text(self) -> bytes:
        """Return all figures as Prometheus reads them."""
        return generate_latest(self.registry)


class _Asked(Collector):
    def __init__(self, figures: Figures) -> None:
        self._figures = figures

    def collect(self) -> Iterator[Metric]:
        for name, (words, value) in self._figures().items():
            yield GaugeMetricFamily(f"{PREFIX}_{name}", words, value=value)

    def describe(self) -> Iterator[Metric]:
        """Say nothing before somebody asks: the store is not there yet."""
        return iter(())
