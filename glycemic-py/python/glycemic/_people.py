"""Large columns of any library, as what the compiled part reads in place.

No computation here: only which attribute of which library holds the items.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ._coerce import _array
from ._error import GlycemicError


def column(values: Any, argument: str) -> tuple[str, Any, Any, str, int]:
    """(kind, data, more, unit, count) of a column.

    kind: ``numbers`` (a contiguous array), ``aware`` or ``naive`` (int64 counts of `count` `unit`
    since 1970), ``codes`` (codes, with the categories in `more`), ``arrow`` (an object that gives
    an Arrow capsule), or ``objects`` (a list).
    """
    dtype: Any = getattr(values, "dtype", None)
    if hasattr(dtype, "categories") and hasattr(dtype, "ordered"):  # pandas
        held = getattr(values, "cat", values)
        return "codes", _plain(np.asarray(held.codes), argument), held.categories.tolist(), "", 1
    zone = getattr(dtype, "tz", None)
    if zone is not None and hasattr(values, "to_numpy") and hasattr(dtype, "unit"):
        # pandas: naive UTC instants in the column's own unit.
        values = values.to_numpy(dtype=f"datetime64[{dtype.unit}]")
    elif not isinstance(values, np.ndarray) and not isinstance(dtype, np.dtype):
        if hasattr(values, "__arrow_c_array__") or hasattr(values, "__arrow_c_stream__"):
            return "arrow", values, None, "", 1
    array = _array(values)
    if array.ndim != 1:
        raise GlycemicError(f"{argument} must have one dimension, got {array.ndim}", code="shape", argument=argument)
    kind = array.dtype.kind
    if array.size == 0 and kind != "M":
        return "numbers", np.zeros(0, dtype=np.int64), None, "ms", 1
    if kind == "M":
        unit, count = np.datetime_data(array.dtype)
        if unit == "generic":
            unit, count = "ms", 1
        return ("aware" if zone is not None else "naive"), _plain(array, argument).view(np.int64), None, unit, count
    if kind in "iuf":
        return "numbers", _plain(array, argument), None, "ms", 1
    if kind in "OUT":
        # NumPy makes text of a list of numbers and text.
        return "objects", values if isinstance(values, list) else array.tolist(), None, "", 1
    raise GlycemicError(f"{argument} can't be {array.dtype}", code="column_type", argument=argument)


def _plain(array: Any, argument: str) -> Any:
    """Contiguous, in the machine's byte order, of a size that is read."""
    if not array.dtype.isnative:
        array = array.astype(array.dtype.newbyteorder("="))
    if array.dtype.kind == "f" and array.dtype.itemsize not in (4, 8):
        array = array.astype(np.float64)
    return np.ascontiguousarray(array)
