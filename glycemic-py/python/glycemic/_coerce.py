"""Columns of any frame, as what the compiled part reads: arrays of numbers, or lists.

No computation here: only which attribute of which library holds the numbers and the unit.
"""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from typing import Any

import numpy as np

from ._error import GlycemicError


def _scalar(values: Any) -> bool:
    return isinstance(values, str) or not hasattr(values, "__len__") and not hasattr(values, "__iter__")


def _array(values: Any) -> Any:
    """A column as a NumPy array."""
    if isinstance(values, np.ndarray) or not hasattr(values, "to_numpy"):
        return np.asarray(values)
    try:
        return values.to_numpy()
    except Exception:  # a pyarrow column with nulls asks to be copied
        return values.to_numpy(zero_copy_only=False)


def times(values: Any, argument: str = "times") -> tuple[str, Any, str, int]:
    """Times as (kind, data, unit, count).

    kind: ``aware`` or ``naive`` (int64 counts of `count` `unit` since 1970), ``int`` (int64),
    or ``objects`` (a list of text, datetimes and numbers).
    """
    if _scalar(values):
        values = [values]
    dtype = getattr(values, "dtype", None)
    arrow = getattr(dtype, "pyarrow_dtype", None) or getattr(values, "type", None)
    zone = getattr(dtype, "tz", None) or getattr(dtype, "time_zone", None) or getattr(arrow, "tz", None)
    if zone is not None and hasattr(dtype, "tz") and hasattr(values, "to_numpy"):
        # pandas: naive UTC instants in the column's own unit.
        array = values.to_numpy(dtype=f"datetime64[{getattr(dtype, 'unit', 'ns')}]")
    else:
        array = _array(values)
    if array.ndim != 1:
        raise GlycemicError(f"{argument} must have one dimension, got {array.ndim}", code="shape", argument=argument)
    if array.size == 0:
        return "int", np.zeros(0, dtype=np.int64), "ms", 1
    kind = array.dtype.kind
    if kind == "M":
        unit, count = np.datetime_data(array.dtype)
        if unit == "generic":
            unit, count = "ms", 1
        return ("aware" if zone is not None else "naive"), np.ascontiguousarray(array).view(np.int64), unit, count
    if kind in "iu":
        return "int", array.astype(np.int64), "ms", 1
    if kind == "f":
        # Whole milliseconds that became floats because some were missing.
        whole = [int(v) if v.is_integer() and abs(v) < 2**53 else None if v != v else v for v in array.tolist()]
        return "objects", whole, "ms", 1
    if kind in "OUT":
        return "objects", array.tolist(), "ms", 1
    raise GlycemicError(
        f"{argument} must be datetimes, ISO text or whole epoch milliseconds, got {array.dtype}",
        code="time_type",
        argument=argument,
    )


def floats(values: Any, argument: str) -> Any:
    """One column of float64; a missing item is NaN."""
    try:
        array = _array(values)
        if array.dtype.kind == "O":
            numbers = [_number(v) for v in array.ravel().tolist()]
            array = np.array(numbers, dtype=np.float64).reshape(array.shape)
        if array.dtype.kind not in "fiub":
            raise TypeError(f"got {array.dtype}")
        array = np.ascontiguousarray(array, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise GlycemicError(f"{argument} must be numbers: {error}", code="not_numbers", argument=argument) from None
    if array.ndim != 1:
        raise GlycemicError(f"{argument} must have one dimension, got {array.ndim}", code="shape", argument=argument)
    return array


def _missing(value: Any) -> bool:
    if value is None or type(value).__name__ in ("NAType", "NaTType"):
        return True
    return isinstance(value, float) and value != value


def _number(value: Any) -> float:
    return float("nan") if _missing(value) else float(value)


def glucose(values: Any, argument: str = "glucose") -> Any:
    """Float64, or a list where there is text such as ``LOW`` or ``>400``."""
    array = _array(values)
    if array.dtype.kind in "OUT":
        if array.ndim != 1:
            raise GlycemicError(f"{argument} must have one dimension, got {array.ndim}", code="shape", argument=argument)
        return [None if _missing(v) else v for v in array.tolist()]
    return floats(array, argument)


def texts(values: Any) -> list[str | None]:
    """Text, missing items as None; a list of words is joined with semicolons."""
    items = values.to_list() if hasattr(values, "to_list") else list(values)
    joined = [";".join(map(str, v)) if isinstance(v, (list, tuple, set)) else v for v in items]
    return [None if _missing(v) or v == "" else str(v) for v in joined]


def codes(values: Any) -> Any:
    """Whole numbers that stand for labels, in order of first appearance."""
    array = _array(values)
    if array.dtype.kind in "iu":
        return array.astype(np.int64)
    seen: dict[Any, int] = {}
    return np.array([seen.setdefault(v, len(seen)) for v in array.tolist()], dtype=np.int64)


def columns(frame: Any, argument: str = "frame") -> dict[str, Any]:
    """The columns of a frame, a mapping of columns, or a list of rows."""
    if isinstance(frame, Mapping):
        return dict(frame)
    if isinstance(frame, (list, tuple)):
        if not all(isinstance(row, Mapping) for row in frame):
            raise GlycemicError(f"{argument}: a list must hold dicts, one a row", code="frame_type", argument=argument)
        names: dict[str, None] = {}
        for row in frame:
            names.update(dict.fromkeys(row))
        return {name: np.array([row.get(name) for row in frame] + [None], dtype=object)[:-1] for name in names}
    for attribute in ("column_names", "columns"):
        found = getattr(frame, attribute, None)
        if found is not None and not callable(found) and hasattr(frame, "__getitem__"):
            names_found = [n for n in found if isinstance(n, str)]
            if len(names_found) == len(list(found)):
                return {name: frame[name] for name in names_found}
    if hasattr(frame, "__arrow_c_stream__"):
        try:
            pyarrow = importlib.import_module("pyarrow")
        except ImportError:
            raise GlycemicError(
                f"{argument}: reading a {type(frame).__name__} needs pyarrow", code="frame_type", argument=argument
            ) from None
        table = pyarrow.table(frame)
        return {name: table[name] for name in table.column_names}
    raise GlycemicError(
        f"{argument} must be a frame, a dict of columns or a list of dicts, got {type(frame).__name__}",
        code="frame_type",
        argument=argument,
    )


def present(values: Any) -> list[bool]:
    """Which items of a column of times are there."""
    if hasattr(values, "to_list"):
        values = values.to_list()
    elif isinstance(values, np.ndarray) and values.dtype.kind == "M":
        return (~np.isnat(values)).tolist()
    return [not _missing(v) and v != "" for v in values]


def only(values: Any, keep: list[bool]) -> Any:
    """The items of a column to keep."""
    mask = np.asarray(keep, dtype=bool)
    if hasattr(values, "loc") or hasattr(values, "dt") and hasattr(values, "filter"):
        return values[mask] if hasattr(values, "loc") else values.filter(mask)
    if hasattr(values, "to_pylist"):
        return [v for v, k in zip(values.to_pylist(), keep) if k]
    if isinstance(values, np.ndarray):
        return values[mask]
    return [v for v, k in zip(values, keep) if k]
