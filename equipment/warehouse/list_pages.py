"""What the page of lists shows: what a file would do, or did."""

from dataclasses import dataclass

from equipment.stock_lists import Change, Imported, LookedOver

SHOWN_AT_MOST = 200
NAMES = {"models": "equipment models", "units": "numbered units"}


@dataclass(frozen=True)
class ListsPage:
    """`text` is the file as it was sent, so that nothing is lost when it is refused; `may`: lists one may take in."""

    may: tuple[str, ...]
    list_name: str = "units"
    text: str = ""
    looked: LookedOver | None = None
    imported: Imported | None = None
    refused: str = ""

    @property
    def name(self) -> str:
        """The list in words."""
        return NAMES[self.list_name]

    @property
    def problems(self) -> tuple[tuple[int, str, str], ...]:
        """The bad rows that fit the page: line, column, reason."""
        found = self.looked.problems if self.looked else ()
        return tuple((problem.line, problem.column, problem.reason) for problem in found[:SHOWN_AT_MOST])

    @property
    def changes(self) -> tuple[Change, ...]:
        """The changes that fit the page."""
        return self.looked.changes[:SHOWN_AT_MOST] if self.looked else ()

    @property
    def new(self) -> tuple[str, ...]:
        """What would be entered, as far as it fits the page."""
        key = "code" if self.list_name == "models" else "number"
        return tuple(row.values[key] for row in self.looked.new[:SHOWN_AT_MOST]) if self.looked else ()

    @property
    def stays(self) -> tuple[str, ...]:
        """Where the record is followed and not the file, as far as it fits the page."""
        return self.looked.stays[:SHOWN_AT_MOST] if self.looked else ()

    @property
    def may_be_accepted(self) -> bool:
        """Whether every row is right and there is something to do."""
        return self.looked is not None and not self.looked.problems and not self.looked.changes_nothing
