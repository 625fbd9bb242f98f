"""On what the lead may set a figure of their own beside a sizing report, and what the report suggests there."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from equipment.sizing.report import Report
from equipment.sizing.sheet import LeadsWord
from equipment.sizing_view import KINDS
from jobs.models import LeadsWord as Kept

ADVICE = "advice"
_DO = {"pull": "Take away", "move": "Move", "add": "Add", "review": "Review"}
DRYERS = ("conventional", "lgr", "desiccant")
WHOLE_LOSS = ("air_scrubber", "cavity_kit", "floor_mat_kit")


@dataclass(frozen=True)
class Topic:
    """`key` is what `set_leads_word` takes; `suggested` is None where the report says nothing."""

    key: str
    name: str
    suggested: int | None


def topics_of(report: Report, *, category: int | None) -> tuple[Topic, ...]:
    """The category, each chamber's class and machines, and the machines of the whole loss."""
    return (Topic("category", "Category of water", category), *_of_chambers(report), *_of_the_whole(report))


def topic_in_words(key: str) -> str:
    """`air_mover:ground floor` as `Air movers, ground floor`."""
    kind, _, chamber = key.partition(":")
    if kind == ADVICE:
        return advice_in_words(chamber)
    name = "class of water" if kind == "class" else "category of water" if kind == "category" else _many(kind)
    words = name[:1].upper() + name[1:]
    return f"{words}, {chamber}" if chamber else words


def advice_in_words(key: str) -> str:
    """`pull:den` as `Take away, den`; `add:lgr:ground floor` as `Add low-grain dehumidifiers, ground floor`."""
    do, _, rest = key.partition(":")
    kind, _, chamber = rest.partition(":")
    said = f"{_DO.get(do, do)} {_many(kind)}, {chamber}" if chamber else f"{_DO.get(do, do)}, {rest}"
    return said[:1].upper() + said[1:]


def words_on_paper(words: Iterable[Kept]) -> list[LeadsWord]:
    """The kept words for the sheet, the newest on each topic."""
    newest = {word.topic: word for word in words}
    return [
        LeadsWord(
            topic_in_words(word.topic),
            "nothing" if word.suggestion is None else str(word.suggestion),
            str(word.word),
            word.reason,
        )
        for word in newest.values()
    ]


def _of_chambers(report: Report) -> Iterator[Topic]:
    for chamber in report.chambers:
        key = f"class:{chamber.name}"
        yield Topic(key, topic_in_words(key), chamber.class_)
        key = f"air_mover:{chamber.name}"
        yield Topic(key, topic_in_words(key), chamber.air_movers.planned)
        kind = chamber.dehumidification.kind if chamber.dehumidification is not None else DRYERS[1]
        key = f"{kind}:{chamber.name}"
        yield Topic(key, topic_in_words(key), _chosen(report, kind, chamber.name))


def _of_the_whole(report: Report) -> Iterator[Topic]:
    for kind in WHOLE_LOSS:
        yield Topic(kind, topic_in_words(kind), _chosen(report, kind, None))


def _chosen(report: Report, kind: str, chamber: str | None) -> int:
    return sum(row.count for row in report.mix if row.kind == kind and row.chamber == chamber)


def _many(kind: str) -> str:
    return f"{KINDS[kind]}s" if kind in KINDS else kind.replace("_", " ")
