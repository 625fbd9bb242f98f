"""
One thing cannot be in two periods at once: a constraint that both databases hold.

PostgreSQL: an exclusion constraint over core range types (no extension: a one-value int8range overlaps another just
when the ids are equal). SQLite: triggers, made by `jobs.guards` after every migrate.
"""

from collections.abc import Iterator
from typing import Any

from django.core.exceptions import ValidationError
from django.db import DEFAULT_DB_ALIAS, models
from django.db.models import Q
from django.db.models.constraints import BaseConstraint


class NoOverlap(BaseConstraint):
    """
    Half-open periods [`start`, `end`) of one `resource` (a foreign key's column) never overlap.

    `only` = (column, value): rows with another value are not bound.
    """

    def __init__(
        self,
        *,
        name: str,
        resource: str,
        start: str = "starts_at",
        end: str = "ends_at",
        only: tuple[str, str] | None = None,
        violation_error_message: str | None = None,
    ) -> None:
        super().__init__(name=name, violation_error_message=violation_error_message)
        self.resource, self.start, self.end = resource, start, end
        self.only = tuple(only) if only else None

    # Django skips a constraint whose SQL is None; the stubs do not know it.
    def constraint_sql(self, model: Any, schema_editor: Any) -> str | None:  # type: ignore[override]
        return self._exclusion(schema_editor.quote_name) if schema_editor.connection.vendor == "postgresql" else None

    def create_sql(self, model: Any, schema_editor: Any) -> str | None:  # type: ignore[override]
        if schema_editor.connection.vendor != "postgresql":
            return None
        quote = schema_editor.quote_name
        return f"ALTER TABLE {quote(model._meta.db_table)} ADD {self._exclusion(quote)}"

    def remove_sql(self, model: Any, schema_editor: Any) -> str | None:  # type: ignore[override]
        if schema_editor.connection.vendor != "postgresql":
            return None
        quote = schema_editor.quote_name
        return f"ALTER TABLE {quote(model._meta.db_table)} DROP CONSTRAINT {quote(self.name)}"

    def _exclusion(self, quote: Any) -> str:
        resource, start, end = quote(self.resource), quote(self.start), quote(self.end)
        where = f" WHERE ({quote(self.only[0])} = '{self.only[1]}')" if self.only else ""
        return (
            f"CONSTRAINT {quote(self.name)} EXCLUDE USING gist "
            f"(int8range({resource}, {resource}, '[]') WITH &&, tstzrange({start}, {end}, '[)') WITH &&){where}"
        )

    def trigger_sql(self, model: Any) -> Iterator[str]:
        """SQLite's two triggers, dropped and made anew."""
        table = model._meta.db_table
        bound = f"AND \"{self.only[0]}\" = '{self.only[1]}'" if self.only else ""
        new_bound = f"NEW.\"{self.only[0]}\" = '{self.only[1]}' AND " if self.only else ""
        for event in ("INSERT", "UPDATE"):
            name = f"{self.name}_{event.lower()}"
            yield f'DROP TRIGGER IF EXISTS "{name}"'
            yield (
                f'CREATE TRIGGER "{name}" BEFORE {event} ON "{table}" WHEN {new_bound}EXISTS ('
                f'SELECT 1 FROM "{table}" WHERE "{self.resource}" = NEW."{self.resource}" {bound} '
                f'AND "id" IS NOT NEW."id" '
                f'AND "{self.start}" < NEW."{self.end}" AND "{self.end}" > NEW."{self.start}") '
                f"BEGIN SELECT RAISE(ABORT, 'UNIQUE constraint failed: {self.name}'); END"
            )

    def validate(
        self, model: Any, instance: Any, exclude: Any = None, using: str = DEFAULT_DB_ALIAS, **kwargs: Any
    ) -> None:
        values = {name: getattr(instance, name, None) for name in (self.resource, self.start, self.end)}
        if any(value is None for value in values.values()):
            return
        if self.only and str(getattr(instance, self.only[0])) != self.only[1]:
            return
        others = model._default_manager.using(using).filter(
            Q(**{self.resource: values[self.resource]}),
            **{f"{self.start}__lt": values[self.end], f"{self.end}__gt": values[self.start]},
        )
        if self.only:
            others = others.filter(**{self.only[0]: self.only[1]})
        if others.exclude(pk=instance.pk).exists():
            raise ValidationError(self.get_violation_error_message(), code=self.violation_error_code)

    def deconstruct(self) -> tuple[str, tuple[Any, ...], dict[str, Any]]:
        path, args, kwargs = super().deconstruct()
        kwargs |= {"resource": self.resource, "start": self.start, "end": self.end, "only": self.only}
        return path, tuple(args), kwargs

    def __eq__(self, other: object) -> bool:
        return isinstance(other, NoOverlap) and self.deconstruct() == other.deconstruct()

    def __hash__(self) -> int:
        return hash(self.name)


class Periods(models.Model):
    """A row that lasts from `starts_at` to (not including) `ends_at`."""

    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_at__gt=models.F("starts_at")), name="%(app_label)s_%(class)s_ends_after_it_starts"
            )
        ]
