"""The one error of this package."""

from __future__ import annotations

from typing import Any


class GlycemicError(ValueError):
    """What is wrong with an input, and where.

    Attributes
    ----------
    code : str
        A stable word for programs, such as ``"unordered_time"``.
    index : int or None
        Position of the bad item, counted from 0.
    file, line, column : str, int, str, or None
        The place in a file, lines counted from 1.
    argument : str or None
        The argument at fault.
    problems : list of dict
        All rows that can't be used, each with file, line, column, code and message.

    Examples
    --------
    >>> try:
    ...     gly.area.total([0, 30, 30], [90, 150, 90])
    ... except gly.GlycemicError as error:
    ...     print(error.code, error.index)
    unordered_time 2
    """

    code: str
    index: int | None
    file: str | None
    line: int | None
    column: str | None
    argument: str | None
    problems: list[dict[str, Any]]

    def __init__(
        self,
        message: str,
        code: str = "invalid",
        index: int | None = None,
        file: str | None = None,
        line: int | None = None,
        column: str | None = None,
        argument: str | None = None,
        problems: list[dict[str, Any]] | None = None,
    ) -> None:
        super().__init__(message)
        self.code = code
        self.index = index
        self.file = file
        self.line = line
        self.column = column
        self.argument = argument
        self.problems = problems or []

    def __reduce__(self) -> tuple[Any, ...]:
        state = (self.code, self.index, self.file, self.line, self.column, self.argument)
        return (type(self), (str(self), *state, self.problems))
