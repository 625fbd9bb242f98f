"""The report of one demo call as lines of text."""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from dispatch.demo.one_call import CallReport
from dispatch.offering import Offer, Offers
from equipment.models import Holder

SHOWN_CREWS = 8


def lines(report: CallReport) -> Iterator[str]:
    """The report, one line after the other."""
    yield from _call(report)
    yield ""
    yield from _estimate(report.offers.report)
    yield ""
    yield from _crews(report.offers)
    yield ""
    yield from _sent(report)
    yield ""
    yield from _route(report)


def _call(report: CallReport) -> Iterator[str]:
    told = report.answers
    place = ", ".join(str(told[key]) for key in ("street", "town", "state", "zip_code") if told.get(key))
    yield f"CALL   {_time(report.at)}  {place}"
    water = ", ".join(
        (
            str(told.get("water_source", "source not known")).replace("_", " "),
            f"category {told.get('category', 'not known')}",
            f"water {told.get('running', 'not known')}",
            f"power {told.get('power', 'not known')}",
        )
    )
    yield f"       {water}; {len(report.rooms)} rooms"


def _estimate(report: dict[str, Any]) -> Iterator[str]:
    yield f"ESTIMATE (the lead decides on site)   rules: {report['rules']}"
    for chamber in report["chambers"]:
        drying_class = f"class {chamber['class']} ({chamber['class_from']})"
        yield f"  {chamber['name']}: {chamber['volume_cuft']:,.0f} cu ft, {drying_class}"
        need = chamber["dehumidification"]
        if need is not None:
            pints, cfm = need.get("pints_per_day"), need.get("process_cfm")
            figure = f"{cfm:,.0f} cfm" if pints is None else f"{pints:,.0f} pints a day"
            yield f"    dehumidification {figure} ({need['kind']})"
        movers = chamber["air_movers"]
        yield f"    air movers {movers['planned']} ({movers['low']} to {movers['high']})"
    if report["air_filtration"]:
        yield f"  air filtration {report['air_filtration']['cfm']:,.0f} cfm"
    if report["wall_cavities"]["outlets"]:
        yield f"  wall cavities {report['wall_cavities']['outlets']} outlets, {report['wall_cavities']['kits']} kits"
    if report["wood_floors"]["kits"]:
        yield f"  wood floors {report['wood_floors']['wet_sqft']:,.0f} sq ft, {report['wood_floors']['kits']} kits"
    yield "  equipment: " + (", ".join(f"{row['count']} x {row['model']}" for row in report["mix"]) or "none")
    for row in report["short"]:
        yield f"  short: {row['kind'].replace('_', ' ')}: {row['found']} of {row['wanted']} {row['unit']}"
    yield f"  power {report['power']['total_a']:.1f} A over {len(report['power']['circuits'])} circuits given"
    for word in ("refusals", "cautions"):
        for row in report[word]:
            yield f"  {word[:-1]}: {row['message']}"


def _crews(found: Offers) -> Iterator[str]:
    yield f"CREWS  {len(found.offers)} can go, {len(found.not_offered)} cannot"
    for rank, offer in enumerate(found.offers[:SHOWN_CREWS], start=1):
        who = f"{offer.crew}, {offer.lead}{_with(offer)} in {offer.vehicle}"
        yield f"  {rank}. {_time(offer.arrive_at)}  {who}, drive +{offer.added_drive_min} min"
        aboard = ", ".join(f"{count} {kind.replace('_', ' ')}" for kind, count in sorted(offer.aboard.items()))
        yield f"     aboard: {aboard or 'nothing'}"
        if offer.fetch is not None:
            take = ", ".join(f"{count} {kind.replace('_', ' ')}" for kind, count in sorted(offer.fetch.take.items()))
            yield f"     fetches {take} at {offer.fetch.warehouse}, there {_time(offer.fetch.arrive_at)}"
        if offer.missing:
            yield "     short of " + ", ".join(f"{count} {kind}" for kind, count in sorted(offer.missing.items()))
        if offer.moved:
            yield f"     promised visits that would move: {len(offer.moved)}"
    for row in found.not_offered:
        yield f"  not {row.crew}, {row.lead}: {row.reason}"


def _sent(report: CallReport) -> Iterator[str]:
    sent = report.sent
    yield f"SENT   job {sent.job_number}; the crew is asked to acknowledge; arrival {_time(sent.arrive_at)}"
    names = dict(Holder.objects.filter(pk__in={row["place"] for row in sent.held}).values_list("pk", "name"))
    for row in sent.held:
        yield f"  held {row['count']} x {row['model']} from {names.get(row['place'], row['place'])}"
    for row in sent.short:
        yield "  short: " + ", ".join(f"{key} {value}" for key, value in row.items())
    if sent.load_list_id is not None:
        yield f"  load list {sent.load_list_id} is at the warehouse"


def _route(report: CallReport) -> Iterator[str]:
    yield "ROUTE"
    for stop in report.route:
        fetch = f"  (loads at {stop.fetch_from} on the way)" if stop.fetch_from else ""
        hours = f"{_time(stop.arrive_at)} to {stop.leave_at:%H:%M}"
        yield f"  {stop.position}. {hours}  {stop.job_number}  {stop.address}: {stop.work}{fetch}"


def _with(offer: Offer) -> str:
    return f" and {offer.helper}" if offer.helper else ""


def _time(moment: datetime) -> str:
    return f"{moment:%a %-I:%M %p}"
