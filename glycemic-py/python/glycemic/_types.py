"""Names for what the functions take, for type checkers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timezone
from typing import Any, TypeAlias
from zoneinfo import ZoneInfo

#: A column of numbers: list, NumPy array, or a column of pandas, polars or pyarrow.
Numbers: TypeAlias = Any
#: A column of times: datetime64, datetimes, ISO 8601 text, or whole epoch milliseconds.
Times: TypeAlias = Any
#: One time: datetime64, datetime, ISO 8601 text, or whole epoch milliseconds.
Time: TypeAlias = Any
#: A start, included, and an end, excluded.
Period: TypeAlias = tuple[Time, Time]
#: A frame of pandas, polars or pyarrow, a dict of columns, or a list of dicts.
Frame: TypeAlias = Any
#: Where the wearer was.
Zone: TypeAlias = str | ZoneInfo | timezone | Sequence[tuple[int, int]]
#: Targets of the person's own.
Targets: TypeAlias = Mapping[str, float | None]
