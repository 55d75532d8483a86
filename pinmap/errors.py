"""What can stop the work. What was merely found wrong is a `Finding`, not an exception."""

from __future__ import annotations

from msgspec import Struct


class Place(Struct, frozen=True, order=True):
    """Where something was written: `file` as the user named it, `line` and `column` counted from 1 (0: unknown)."""

    file: str = ""
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        if not self.line:
            return self.file
        return f"{self.file}:{self.line}:{self.column}"


#: For what was made in a program and stands in no file.
NOWHERE = Place()


class PinmapError(ValueError):
    """Base of every error that stops the work. `exit_code` is what the command line ends with."""

    exit_code = 2

    def __init__(self, message: str, advice: str = "", place: Place | None = None):
        super().__init__(message)
        self.message = message
        self.advice = advice
        self.place = place

    def __str__(self) -> str:
        where = f"{self.place}: " if self.place and self.place.file else ""
        what_to_do = f". {self.advice}" if self.advice else ""
        return f"{where}{self.message}{what_to_do}"


class SeveralErrors(PinmapError):  # noqa: N818 - the plural says what it is
    """More than one thing stopped the work; `errors` has them all."""

    def __init__(self, errors: list[PinmapError]):
        super().__init__(errors[0].message, advice=errors[0].advice, place=errors[0].place)
        self.errors = errors

    def __str__(self) -> str:
        return "\n".join(str(error) for error in self.errors)


def raise_all(errors: list[PinmapError]) -> None:
    """Raise the one error as it is, several as `SeveralErrors`; do nothing where there is none."""
    if len(errors) == 1:
        raise errors[0]
    if errors:
        raise SeveralErrors(errors)


class UnreadableError(PinmapError):
    """A file could not be opened, or is not YAML of the plain kind that pin maps are written in."""


class NotFoundError(PinmapError):
    """No file and no connector, bus or option has that name."""


class OutputError(PinmapError):
    """The result could not be written; whatever stood at its place before is untouched."""
