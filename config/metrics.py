"""`/metrics` for Prometheus: requests by view, and what stands in the tables and queues at this moment."""

import hmac
import os
from collections.abc import Iterator

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET
from prometheus_client import REGISTRY, CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.registry import Collector

from config import vitals
from config.addresses import came_through_a_proxy, within

METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
CONTENT_TYPE = "text/plain; version=0.0.4; charset=utf-8"

_requests = Counter("ebbline_requests", "Requests answered.", ["view", "method", "status"])
_seconds = Histogram(
    "ebbline_request_seconds",
    "Time to the answer's first byte.",
    ["view"],
    buckets=(0.01, 0.025, 0.05, 0.1, 0.2, 0.3, 0.5, 1, 2, 5, 10),
)


def count(*, view: str, method: str, status: int, took_s: float) -> None:
    """One request answered. A method that HTTP does not know counts as `other`, so that nobody can fill the table."""
    _requests.labels(view, method if method in METHODS else "other", str(status)).inc()
    _seconds.labels(view).observe(took_s)


@require_GET
def metrics(request: HttpRequest) -> HttpResponse:
    """The text format; 404 for whoever may not read it, as for an address that does not exist."""
    if not _may_read(request):
        return HttpResponse("Not found.\n", status=404, content_type="text/plain")
    state = CollectorRegistry()
    state.register(_State())
    return HttpResponse(generate_latest(_counted()) + generate_latest(state), content_type=CONTENT_TYPE)


def _may_read(request: HttpRequest) -> bool:
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    if settings.METRICS_TOKEN and scheme.lower() == "bearer":
        return hmac.compare_digest(token.strip().encode(), settings.METRICS_TOKEN.encode())
    direct = not came_through_a_proxy(request)
    return direct and within(request.META["REMOTE_ADDR"], settings.METRICS_NETWORKS)


def _counted() -> CollectorRegistry:
    """This process's counters, or the sum of all web processes where they keep them in one folder."""
    if not os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
        return REGISTRY
    together = CollectorRegistry()
    MultiProcessCollector(together)
    return together


class _State(Collector):
    """Read when asked, from the tables: the same whichever process answers."""

    def collect(self) -> Iterator[Metric]:
        now = timezone.now()
        yield _gauge("ebbline_due_work_oldest_seconds", "Age of the oldest unhandled row.", vitals.oldest_s(now=now))
        rows = GaugeMetricFamily("ebbline_due_work_rows", "Rows of timed work, by state.", labels=["state"])
        for state, number in vitals.work_by_state(now=now).items():
            rows.add_metric([state], number)
        yield rows
        outbox = vitals.outbox(now=now)
        notices = GaugeMetricFamily("ebbline_outbox_messages", "Messages to people, by state.", labels=["state"])
        for state, number in outbox.by_state.items():
            notices.add_metric([state], number)
        yield notices
        yield _gauge("ebbline_outbox_oldest_seconds", "Age of the oldest message not sent.", outbox.oldest_s)
        queues = GaugeMetricFamily("ebbline_queue_length", "Wake-ups waiting in the broker.", labels=["queue"])
        for queue, length in vitals.queue_lengths().items():
            queues.add_metric([queue], length)
        yield queues
        audit = vitals.last_audit()
        if audit is not None:
            age_s = (now - audit.at).total_seconds()
            yield _gauge("ebbline_audit_age_seconds", "Time since both ledgers were audited.", age_s)
            yield _gauge("ebbline_audit_differences", "What the last audit found.", audit.differences)


def _gauge(name: str, what: str, value: float) -> GaugeMetricFamily:
    return GaugeMetricFamily(name, what, value=value)
