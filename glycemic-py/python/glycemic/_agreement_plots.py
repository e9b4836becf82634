"""Pictures of paired glucose values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ._draw import BLUE, GREY, INK, OCHRE, PALE, STEPS, Picture
from ._draw import _axes, _columns, _gaps, _nothing, _svg

if TYPE_CHECKING:
    from collections.abc import Sequence


def _numbers(values: Any) -> list[float]:
    """A plain list of what may be an array, a column or a list."""
    return [float(v) for v in (values.tolist() if hasattr(values, "tolist") else values)]


def _both(reference: Any, measured: Any) -> tuple[list[float], list[float]]:
    x, y = _numbers(reference), _numbers(measured)
    if len(x) != len(y) or not x:
        raise _nothing("reference and measured need one length of at least 1")
    return x, y


def error_grid(reference: Any, measured: Any, grid: str = "clarke") -> Picture:
    """Pairs on an error grid, drawn from the polygons that classify them.

    Parameters
    ----------
    reference, measured : array_like, shape (n,)
        Glucose in mg/dL.
    grid : {"clarke", "consensus_type1", "consensus_type2"}

    Notes
    -----
    The vertices are from memory, unconfirmed. One person's sensor against a home meter can't pass a
    device standard. For education, coaching and research; not a medical device.

    Examples
    --------
    >>> gly.plots.error_grid([60, 120, 200], [66, 118, 260]).startswith("<svg")
    True
    """
    from ._glycemic import agreement

    x, y = _both(reference, measured)
    found = agreement.error_grid(x, y, grid=grid)
    extent = max(400.0, 50.0 * (max(x + y) // 50 + 1))
    corners = agreement.grid_polygons(grid, extent).to_dict()
    figure, axes = _axes(width=5.2, height=5.0)
    fills = dict(zip("ABCDE", ("#ffffff", *STEPS[:4])))
    named: dict[str, tuple[float, float, float]] = {}
    for k in sorted(set(corners["polygon"])):
        at = [i for i, p in enumerate(corners["polygon"]) if p == k]
        xs = [corners["reference_mg_dl"][i] for i in at]
        ys = [corners["measured_mg_dl"][i] for i in at]
        zone = corners["zone"][at[0]]
        axes.fill(xs, ys, facecolor=fills[zone], edgecolor=GREY, linewidth=0.7, zorder=0)
        area = abs(sum(a * d - b * c for a, b, c, d in zip(xs, ys, xs[1:] + xs[:1], ys[1:] + ys[:1]))) / 2
        key = f"{zone}{'+' if sum(ys) > sum(xs) else '-'}"
        if area > named.get(key, (0.0, 0.0, 0.0))[0]:
            named[key] = (area, *_inside(xs, ys))
    for key, (_, across, up) in named.items():
        axes.text(across, up, key[0], color=INK, fontsize=10, ha="center", va="center", zorder=1)
    axes.scatter(x, y, s=20, color=BLUE, alpha=0.8, linewidths=0, zorder=2)
    axes.set(xlim=(0, extent), ylim=(0, extent), xlabel="reference, mg/dL", ylabel="sensor, mg/dL")
    axes.set_aspect("equal")
    shares = ", ".join(f"{zone} {found.percent[zone]:.1f} %" for zone in "ABCDE")
    return _svg(figure, f"grid-{grid}", f"{found.n} pairs on the {grid.replace('_', ' ')} grid: {shares}")


def _inside(xs: list[float], ys: list[float]) -> tuple[float, float]:
    """A point well inside a polygon: of a coarse lattice, the one farthest from every edge."""
    low_x, high_x, low_y, high_y = min(xs), max(xs), min(ys), max(ys)
    edges = list(zip(xs, ys, xs[1:] + xs[:1], ys[1:] + ys[:1]))

    def depth(px: float, py: float) -> float:
        within, least = False, float("inf")
        for ax, ay, bx, by in edges:
            if (ay > py) != (by > py) and px < (bx - ax) * (py - ay) / (by - ay) + ax:
                within = not within
            length = (bx - ax) ** 2 + (by - ay) ** 2 or 1.0
            share = min(1.0, max(0.0, ((px - ax) * (bx - ax) + (py - ay) * (by - ay)) / length))
            least = min(least, (px - ax - share * (bx - ax)) ** 2 + (py - ay - share * (by - ay)) ** 2)
        return least if within else -1.0

    lattice = [
        (low_x + (high_x - low_x) * (i + 0.5) / 24, low_y + (high_y - low_y) * (j + 0.5) / 24)
        for i in range(24)
        for j in range(24)
    ]
    return max(lattice, key=lambda p: depth(*p))


def bland_altman(reference: Any, measured: Any, subject: Any = None, level: float = 0.95) -> Picture:
    """Difference against mean of each pair, with bias and limits of agreement and their intervals.

    Parameters
    ----------
    reference, measured : array_like, shape (n,)
        Glucose in mg/dL.
    subject : array_like, shape (n,), optional
        Which pairs belong together, such as local days; then limits for repeated measures.
    level : float
        Confidence level of the intervals.

    Notes
    -----
    Source: Bland and Altman, Lancet 1986; i: 307-310; Stat Methods Med Res 1999; 8: 135-160.

    Examples
    --------
    >>> gly.plots.bland_altman([90, 110, 130, 150], [94, 108, 139, 155]).startswith("<svg")
    True
    """
    from ._glycemic import agreement

    x, y = _both(reference, measured)
    found = agreement.limits(x, y, subject=subject, level=level)
    means, gaps = [(a + b) / 2 for a, b in zip(x, y)], [b - a for a, b in zip(x, y)]
    figure, axes = _axes(height=3.6)
    edges = (min(means) - 6, max(means) + 6)
    axes.axhline(0, color=GREY, linewidth=0.8, linestyle=(0, (1, 3)))
    for name, dash in (("bias", "-"), ("lower", (0, (4, 3))), ("upper", (0, (4, 3)))):
        of = getattr(found, name)
        value = of.value
        if value is None:
            continue
        if of.low is not None and of.high is not None:
            axes.fill_between(edges, of.low, of.high, color=PALE, linewidth=0, alpha=0.6)
        axes.plot(edges, [value, value], color=BLUE if name == "bias" else OCHRE, linestyle=dash, linewidth=1.4)
        axes.annotate(
            f"{name} {value:.1f}", (edges[1], value), xytext=(4, 0), textcoords="offset points", va="center",
            fontsize=8, color=INK,
        )  # fmt: skip
    axes.scatter(means, gaps, s=20, color=INK, alpha=0.7, linewidths=0, zorder=3)
    axes.set(xlim=edges, xlabel="mean of sensor and reference, mg/dL", ylabel="sensor - reference, mg/dL")
    alt = f"Difference against mean of {len(x)} pairs, with bias and limits of agreement and their intervals"
    return _svg(figure, "bland-altman", alt)


def agreement_by(source: Any, value: str = "bias_mg_dl") -> Picture:
    """A measure of agreement by group, such as wear day or rate, with its intervals.

    Parameters
    ----------
    source : Table or dict
        From `agreement.accuracy_table` with `groups`.
    value : {"bias_mg_dl", "mard_pct", "relative_bias_pct"}

    Examples
    --------
    >>> t = gly.agreement.accuracy_table([90, 95, 120, 130], [94, 99, 126, 131], groups=["1", "1", "2", "2"])
    >>> gly.plots.agreement_by(t).startswith("<svg")
    True
    """
    table = _columns(source, "to_dict")
    name, _, unit = value.partition("_mg_dl") if value.endswith("_mg_dl") else value.partition("_pct")
    suffix = value[len(name) :]
    rows = [
        i
        for i, (group, band) in enumerate(zip(table["group"], table["band_mg_dl"]))
        if group is not None and band == "all" and table[value][i] is not None
    ]
    if not rows:
        raise _nothing("no group has a value")
    figure, axes = _axes(height=2.8)
    axes.axhline(0, color=GREY, linewidth=0.8)
    for at, i in enumerate(rows):
        low, high = table[f"{name}_low{suffix}"][i], table[f"{name}_high{suffix}"][i]
        if low is not None and high is not None:
            axes.plot([at, at], [low, high], color=PALE, linewidth=5, solid_capstyle="butt", zorder=1)
        axes.scatter([at], [table[value][i]], color=BLUE, s=30, zorder=2)
        axes.annotate(f"n {table['n'][i]}", (at, 0), xycoords=("data", "axes fraction"), xytext=(0, 3),
                      textcoords="offset points", ha="center", fontsize=7, color=GREY)  # fmt: skip
    tilt = {"rotation": 25, "ha": "right"} if len(rows) > 4 else {}
    axes.set_xticks(range(len(rows)), [table["group"][i] for i in rows], **tilt)
    axes.set_ylabel({"bias": "sensor - reference, mg/dL", "mard": "MARD, %", "relative_bias": "relative bias, %"}[name])
    return _svg(figure, f"by-{value}", f"{value} in {len(rows)} groups, with intervals")


def changes(reference_change: Any, measured_change: Any, labels: Sequence[str] | None = None) -> Picture:
    """Change over each meal by the sensor against the meter's, with the line where both agree.

    Parameters
    ----------
    reference_change, measured_change : array_like, shape (n,)
        After less before, mg/dL.
    labels : list of str, optional
        A word beside each dot.

    Examples
    --------
    >>> gly.plots.changes([20, 35, 50], [24, 33, 61]).startswith("<svg")
    True
    """
    x, y = _both(reference_change, measured_change)
    figure, axes = _axes(width=4.6, height=4.2)
    low, high = min(x + y) - 6, max(x + y) + 6
    axes.plot([low, high], [low, high], color=GREY, linewidth=1)
    axes.scatter(x, y, s=28, color=BLUE, alpha=0.85, linewidths=0)
    for at, word in enumerate(labels or []):
        axes.annotate(word, (x[at], y[at]), xytext=(4, 3), textcoords="offset points", fontsize=7, color=INK)
    axes.set(xlim=(low, high), ylim=(low, high))
    axes.set(xlabel="change by the meter, mg/dL", ylabel="change by the sensor, mg/dL")
    axes.set_aspect("equal")
    return _svg(figure, "changes", f"Change over {len(x)} meals by the sensor against the meter's")


def before_after(reference: Any, before: Any, after: Any) -> Picture:
    """Sensor less reference before and after a recalibration, over the reference.

    Parameters
    ----------
    reference, before, after : array_like, shape (n,)
        Glucose in mg/dL: the meter, the sensor as it reads, the sensor recalibrated.

    Examples
    --------
    >>> gly.plots.before_after([90, 120, 150], [100, 131, 163], [91, 121, 152]).startswith("<svg")
    True
    """
    x, old = _both(reference, before)
    _, new = _both(reference, after)
    figure, axes = _axes(height=3.2)
    axes.axhline(0, color=GREY, linewidth=1)
    for at, one, other in zip(x, old, new):
        axes.plot([at, at], [one - at, other - at], color=PALE, linewidth=1.5, zorder=1)
    axes.scatter(x, [o - a for a, o in zip(x, old)], s=24, facecolors="none", edgecolors=OCHRE, label="as it reads", zorder=2)
    axes.scatter(x, [n - a for a, n in zip(x, new)], s=24, color=BLUE, linewidths=0, label="recalibrated", zorder=3)
    axes.set(xlabel="meter, mg/dL", ylabel="sensor - meter, mg/dL")
    axes.legend(frameon=False, fontsize=8)
    return _svg(figure, "before-after", f"Sensor less meter of {len(x)} pairs before and after a recalibration")


def lag_profile(source: Any) -> Picture:
    """How badly the sensor fits the meter at each shift, with the shifts that the data allow.

    Parameters
    ----------
    source : Table or dict
        Columns `shift_min` and `residual_sd_mg_dl`, and `inside` (whether the interval holds the shift).

    Examples
    --------
    >>> t = {"shift_min": [0, 5, 10], "residual_sd_mg_dl": [9.0, 7.5, 8.8], "inside": [False, True, False]}
    >>> gly.plots.lag_profile(t).startswith("<svg")
    True
    """
    table = _columns(source, "to_dict")
    x, y = table["shift_min"], _gaps(table["residual_sd_mg_dl"])
    if not x:
        raise _nothing("no shift was tried")
    figure, axes = _axes(height=2.8)
    axes.plot(x, y, color=BLUE, linewidth=1.6)
    inside = [a for a, held in zip(x, table["inside"]) if held]
    if inside:
        axes.axvspan(min(inside), max(inside), color=PALE, alpha=0.6, linewidth=0, zorder=0)
    best = min(range(len(x)), key=lambda i: y[i])
    axes.axvline(x[best], color=OCHRE, linewidth=1, linestyle=(0, (4, 3)))
    axes.set(xlabel="sensor read so much later, min", ylabel="SD about the line, mg/dL")
    return _svg(figure, "lag", f"Fit of sensor to meter by shift; best at {x[best]:g} min")
