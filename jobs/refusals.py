"""The base of every refusal: a stable code, the data, and a message that says what is the case and what to do."""

from typing import Any, ClassVar


class Refusal(Exception):
    """
    Something that was asked is not done, for a reason that the asker can act on.

    Each way of failing has one subclass, beside the function that raises it. `where` names the field it belongs to.
    """

    code: ClassVar[str] = ""
    status: ClassVar[int] = 409
    # Names of data that the asker sees but that the stored record leaves out, since it could not be erased again.
    unrecorded: ClassVar[frozenset[str]] = frozenset()
    every: ClassVar[dict[str, type["Refusal"]]] = {}

    def __init_subclass__(cls, **kwargs: Any) -> None:
        super().__init_subclass__(**kwargs)
        if not cls.code or (cls.code in Refusal.every and Refusal.every[cls.code].__qualname__ != cls.__qualname__):
            raise TypeError(f"{cls.__qualname__}: a refusal needs a code of its own, not {cls.code!r}")
        Refusal.every[cls.code] = cls

    def __init__(self, message: str, *, where: str | None = None, **data: Any) -> None:
        super().__init__(message)
        self.message = message
        self.where = where
        self.data = data

    def as_data(self) -> dict[str, Any]:
        """What goes beside code and message: the field, where there is one, and the figures."""
        return {**({"where": self.where} if self.where else {}), **self.data}

    def as_record(self) -> dict[str, Any]:
        """What is kept of it: the data without what may be private."""
        return {name: value for name, value in self.as_data().items() if name not in self.unrecorded}


class NotAllowed(Refusal):
    """The signed-in person's role does not hold this verb."""

    code = "not_allowed"
    status = 403


class NotThere(Refusal):
    """What the request names does not exist, or is none of the asker's business."""

    code = "not_found"
    status = 404


class Busy(Refusal):
    """Somebody else holds the same rows for longer than we wait."""

    code = "busy"
    status = 503


class Unusable(Refusal):
    """A value that cannot be meant; the message says what would be right."""

    code = "unusable_value"
    status = 422


class KeyReused(Refusal):
    """The client-made key already stands for something else."""

    code = "key_reused"
    status = 409


class ChangedMeanwhile(Refusal):
    """Somebody else changed the same thing first; both values are in the data, nothing was overwritten."""

    code = "changed_meanwhile"
    status = 409
    unrecorded = frozenset({"theirs", "yours"})
