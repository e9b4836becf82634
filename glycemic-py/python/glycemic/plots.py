"""Pictures of a trace or a review, as SVG text that a notebook shows.

Needs matplotlib (``pip install "glycemic[page]"``). Every function returns one ``<svg>`` element
as a `Picture`, and draws numbers that the library computed. Pictures of glucose over the day take
a `Trace`, a `Table` of it, or the same columns as a dict; those of meals and of the meter take a
table of a `Review`. For education, coaching and research; not a medical device.

Examples
--------
>>> tr = gly.Trace(1741046400000 + 300000 * np.arange(2016), np.full(2016, 100), zone="UTC")
>>> gly.plots.modal_day(tr).startswith("<svg")
True
"""

from __future__ import annotations

import datetime
import re
from typing import TYPE_CHECKING, Any

from ._agreement_plots import agreement_by, before_after, bland_altman, changes, error_grid, lag_profile
from ._draw import BLUE, GREY, INK, LIMITS, OCHRE, PALE, PALEST, STEPS, Picture
from ._draw import _axes, _clock, _columns, _figure, _gaps, _limits, _matplotlib, _nothing, _plain, _shades, _svg
from ._meal_plots import forest, meals, schedule, tolerance

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = [
    "Picture",
    "agreement_by",
    "before_after",
    "bland_altman",
    "changes",
    "daily",
    "days",
    "dose_response",
    "episodes",
    "error_grid",
    "forest",
    "histogram",
    "lag_profile",
    "loads",
    "meals",
    "modal_day",
    "pairs",
    "ranges",
    "rises",
    "schedule",
    "tolerance",
]

#: The ranges of the consensus (Battelino et al. 2019) and 70 to 140, in whole steps of the unit.
MG_DL_RANGES = ("below 54", "54 to 69", "70 to 140", "141 to 180", "181 to 250", "above 250")
MMOL_RANGES = ("below 3.0", "3.0 to 3.8", "3.9 to 7.8", "7.9 to 10.0", "10.1 to 13.9", "above 13.9")
#: Minutes between the quarter hours of a strip.
QUARTER = 15


def days(table: dict) -> Picture:
    """Readings on each local day."""
    figure, axes = _axes(height=2.2)
    names = [d[5:] for d in table["day"]]
    axes.bar(range(len(names)), table["readings"], color=BLUE, width=0.7)
    axes.set_xticks(range(len(names)), names, rotation=45, ha="right")
    axes.set_ylabel("readings")
    return _svg(figure, "days", f"Readings on each of {len(names)} local days")


def pairs(table: dict) -> Picture:
    """Sensor against meter, with the line of equality."""
    figure, axes = _axes(width=4.6, height=4.2)
    x, y = table["meter_mg_dl"], table["sensor_mg_dl"]
    low, high = min(x + y) - 8, max(x + y) + 8
    axes.plot([low, high], [low, high], color=GREY, linewidth=1)
    axes.scatter(x, y, s=26, color=BLUE, alpha=0.8, linewidths=0)
    axes.set(xlim=(low, high), ylim=(low, high), xlabel="meter, mg/dL", ylabel="sensor, mg/dL")
    axes.set_aspect("equal")
    return _svg(figure, "pairs", f"Sensor against meter for {len(x)} pairs, with the line where both agree")


def modal_day(source: Any) -> Picture:
    """Percentiles of glucose by local time of day, with the days behind each point.

    Parameters
    ----------
    source : Trace, Table or dict
        A trace with local time, or what `Trace.modal_day` gave.

    Notes
    -----
    The curve closes at midnight. A band is left out where too few days stand behind a point.
    """
    table = _columns(source, "modal_day")
    found = [(float(m[1].replace("_", ".")), m[0]) for m in map(re.compile(r"p([0-9_]+)_mg_dl").fullmatch, table) if m]
    if not found or not table["minute_of_day"]:
        raise _nothing("the modal day has no curve")
    found.sort()
    hours = [m / 60 for m in table["minute_of_day"]] + [24.0]
    # 24:00 is 00:00: the curve ends where it began.
    curve = {name: _gaps(table[name] + table[name][:1]) for _, name in found}
    figure = _figure(height=3.9)
    axes, below = figure.subplots(2, 1, sharex=True, height_ratios=(6, 1))
    _plain(axes)
    _plain(below)
    outer, inner = found[: len(found) // 2], found[-(len(found) // 2) :][::-1] if len(found) > 1 else []
    for shade, (low, high) in zip(_shades(len(outer)), zip(outer, inner)):
        label = f"{low[0]:g} to {high[0]:g} %"
        if all(v != v for v in curve[low[1]]):
            label += " (too few days)"
        axes.fill_between(hours, curve[low[1]], curve[high[1]], color=shade, linewidth=0, label=label)
    if len(found) % 2:
        middle = found[len(found) // 2]
        label = "median" if middle[0] == 50 else f"{middle[0]:g} %"
        axes.plot(hours, curve[middle[1]], color=BLUE, linewidth=2, label=label)
    axes.set_ylabel("mg/dL")
    axes.margins(y=0.08)
    _limits(axes, *axes.get_ylim())
    axes.legend(frameon=False, fontsize=8, ncols=5, loc="lower left", bbox_to_anchor=(0, 1), borderaxespad=0)
    most = max(table["days"])
    below.fill_between(hours, 0, table["days"] + table["days"][:1], color=PALE, linewidth=0)
    below.set_ylim(0, max(most, 1))
    below.set_yticks([0, most] if most else [0])
    below.set_ylabel("days")
    _clock(below)
    alt = f"Percentiles of glucose by local time of day, {min(table['days'])} to {most} days behind each point"
    return _svg(figure, "modal-day", alt)


def daily(source: Any) -> Picture:
    """A strip for each local day: every quarter hour from its lowest to its highest reading.

    Parameters
    ----------
    source : Trace, Table or dict
        A trace with local time, or what `Trace.strips` gave.
    """
    table = _columns(source, "strips")
    rows: dict[str, list[tuple[int, float, float]]] = {}
    for day, minute, low, high in zip(table["day"], table["minute_of_day"], table["low_mg_dl"], table["high_mg_dl"]):
        rows.setdefault(day, []).append((minute, low, high))
    if not rows:
        raise _nothing("there is no local day")
    count = len(rows)
    figure = _figure(height=0.55 + 0.54 * count)
    all_axes = figure.subplots(count, 1, sharex=True, sharey=True, squeeze=False)
    figure.get_layout_engine().set(h_pad=0.01, hspace=0)
    lowest, highest = min(table["low_mg_dl"]), max(table["high_mg_dl"])
    for axes, (day, quarters) in zip(all_axes[:, 0], rows.items()):
        _plain(axes)
        for side in ("left", "bottom"):
            axes.spines[side].set_visible(False)
        axes.axhspan(70, 140, color=PALEST, linewidth=0, zorder=0)
        for run in _runs(quarters):
            # Up to the quarter's end, so that a lone one shows too.
            hours = [m / 60 for m, _, _ in run] + [(run[-1][0] + QUARTER) / 60]
            low, high = [q[1] for q in run] + [run[-1][1]], [q[2] for q in run] + [run[-1][2]]
            axes.fill_between(hours, low, high, color=BLUE, linewidth=1.1, step="post")
        axes.set_yticks([70, 140], ["70", "140"], fontsize=7.5)
        axes.tick_params(length=0)
        name = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")[datetime.date.fromisoformat(day).weekday()]
        axes.set_ylabel(f"{name} {day[5:]}", rotation=0, ha="right", va="center", fontsize=9, labelpad=4)
        axes.set_ylim(min(lowest, 65) - 5, max(highest, 145) + 5)
    _clock(all_axes[-1, 0], "local time of day; the band is 70 to 140 mg/dL")
    return _svg(figure, "daily", f"Glucose on each of {count} local days, {lowest:.0f} to {highest:.0f} mg/dL")


def _runs(quarters: list[tuple[int, float, float]]) -> list[list[tuple[int, float, float]]]:
    """Quarter hours that follow one another; a gap begins a new run."""
    runs: list[list[tuple[int, float, float]]] = []
    for quarter in quarters:
        if runs and quarter[0] - runs[-1][-1][0] <= QUARTER:
            runs[-1].append(quarter)
        else:
            runs.append([quarter])
    return runs


def ranges(source: Any, unit: str | None = None) -> Picture:
    """Shares of readings from very low to very high as one bar, with percent and hours a day.

    Parameters
    ----------
    source : Panel, Trace or dict
        A panel, a trace, or measures by name as in ``Panel.to_dict()``.
    unit : {"mg/dL", "mmol/L"}, optional
        In which the limits are written. Default: that of a trace, else mg/dL.
    """
    if hasattr(source, "nominal_interval_min") and hasattr(source, "glucose_mg_dl"):
        from ._glycemic import panel

        source, unit = panel(source), unit or source.unit
    p = source if isinstance(source, dict) else source.to_dict()
    need = ("very_low_pct", "low_pct", "in_range_pct", "tight_range_pct", "high_pct", "very_high_pct")
    if any(p.get(name) is None for name in need):
        raise _nothing("the panel has no shares")
    names = MMOL_RANGES if unit == "mmol/L" else MG_DL_RANGES
    beyond_tight = p["in_range_pct"] - p["tight_range_pct"]
    shares = (p["very_low_pct"], p["low_pct"], p["tight_range_pct"], beyond_tight, p["high_pct"], p["very_high_pct"])
    parts = list(zip(names, shares))
    _matplotlib()
    from matplotlib.patches import Rectangle

    figure, axes = _axes(height=1.55)
    axes.set_axis_off()
    axes.set(xlim=(0, 100), ylim=(-2.3, 1.05))
    left = 0.0
    for i, ((name, share), shade) in enumerate(zip(parts, STEPS)):
        axes.barh(0.5, share, left=left, height=0.9, color=shade, linewidth=0)
        left += share
        at = i * 100 / len(parts)
        axes.add_patch(Rectangle((at, -0.72), 2.2, 0.42, facecolor=shade, edgecolor=GREY, linewidth=0.5))
        axes.text(at + 3, -0.52, name, va="center", fontsize=9, color=INK)
        axes.text(at, -1.2, f"{share:.1f} %", va="center", fontsize=10, color=INK, weight="bold")
        axes.text(at, -1.85, f"{_span(share)} a day", va="center", fontsize=9, color=INK)
    axes.add_patch(Rectangle((0, 0.05), 100, 0.9, fill=False, edgecolor=GREY, linewidth=0.6))
    alt = "Shares of readings: " + ", ".join(f"{name} {unit or 'mg/dL'} {share:.1f} percent" for name, share in parts)
    return _svg(figure, "ranges", alt)


def _span(share: float) -> str:
    """A share of the day's 24 hours in words."""
    minutes = round(share * 14.4)
    return f"{minutes} min" if minutes < 60 else f"{share * 0.24:.1f} h"


def episodes(source: Any) -> Picture:
    """Episodes by the hour of day they start in: above 180 upwards, below 70 downwards.

    Parameters
    ----------
    source : Trace, Table or dict
        A trace with local time, or a table with `rule` and `start_min` as `Trace.episodes` gives.

    Notes
    -----
    A low at night is possibly pressure on the sensor; a true low can't be excluded without a
    meter reading.
    """
    table = _columns(source, "episodes", ["low", "high"])
    counts = {"low": [0] * 24, "high": [0] * 24}
    for rule, minute in zip(table["rule"], table["start_min"]):
        if rule in counts and minute is not None:
            counts[rule][int(minute // 60) % 24] += 1
    figure, axes = _axes(height=2.2)
    hours = [h + 0.5 for h in range(24)]
    axes.bar(hours, counts["high"], width=0.86, color=BLUE, label="above 180 mg/dL")
    axes.bar(hours, [-n for n in counts["low"]], width=0.86, color=OCHRE, label="below 70 mg/dL")
    axes.axhline(0, color=GREY, linewidth=1)
    most = max(*counts["low"], *counts["high"], 1)
    axes.set_ylim(-max(*counts["low"], 1) - 0.2, max(*counts["high"], 1) + 0.2)
    step = max(1, -(-most // 4))
    ticks = range(-(most // step) * step, most + 1, step)
    low, high = axes.get_ylim()
    ticks_seen = [t for t in ticks if low <= t <= high]
    axes.set_yticks(ticks_seen, [str(abs(t)) for t in ticks_seen])
    axes.set_ylabel("episodes")
    _clock(axes, "local time at which they start")
    axes.legend(frameon=False, fontsize=8, ncols=2, loc="lower left", bbox_to_anchor=(0, 1), borderaxespad=0)
    alt = f"Episodes by hour of day: {sum(counts['high'])} above 180 mg/dL, {sum(counts['low'])} below 70"
    return _svg(figure, "episodes", alt)


def histogram(source: Any) -> Picture:
    """How many readings lie at which level, in percent.

    Parameters
    ----------
    source : Histogram, Trace, Table or dict
        Counted readings, a trace, or columns `from_mg_dl`, `to_mg_dl` and `readings`.
    """
    if hasattr(source, "glucose_mg_dl") and hasattr(source, "unit"):
        unit, step = source.unit, _step(source.unit)
        source = _bins(((round(g / step), 1) for g in source.glucose_mg_dl.tolist()), unit)
    table = source if isinstance(source, dict) else source.to_dict()
    if "levels" in table:
        table = _bins(table["levels"], table["unit"])
    total = sum(table["readings"])
    if not total:
        raise _nothing("there is no reading")
    figure, axes = _axes(height=2.3)
    widths = [b - a for a, b in zip(table["from_mg_dl"], table["to_mg_dl"])]
    shares = [100 * n / total for n in table["readings"]]
    axes.bar(table["from_mg_dl"], shares, width=widths, align="edge", color=BLUE, edgecolor="white", linewidth=0.4)
    left, right = axes.get_xlim()
    for limit in LIMITS:
        if left < limit < right:
            axes.axvline(limit, color=GREY, linewidth=0.8, linestyle=(0, (1, 3)), zorder=0)
            axes.annotate(
                str(limit), (limit, 1), xycoords=("data", "axes fraction"), xytext=(0, 2),
                textcoords="offset points", ha="center", fontsize=8, color=GREY,
            )  # fmt: skip
    axes.set(xlabel="mg/dL", ylabel="% of readings")
    low, high = min(table["from_mg_dl"]), max(table["to_mg_dl"])
    return _svg(figure, "histogram", f"Levels of {total} readings, {low:.0f} to {high:.0f} mg/dL")


def _step(unit: str) -> float:
    return 1.80156 if unit == "mmol/L" else 1.0


def _bins(levels: Iterable[Any], unit: str) -> dict:
    """Counts by level in bins of whole steps, as the review has them."""
    width, step = (3 if unit == "mmol/L" else 5), _step(unit)
    bins: dict[int, int] = {}
    for code, count in levels:
        bins[code // width] = bins.get(code // width, 0) + count
    order = sorted(bins)
    return {
        "from_mg_dl": [b * width * step for b in order],
        "to_mg_dl": [(b + 1) * width * step for b in order],
        "readings": [bins[b] for b in order],
    }


def rises(table: dict, target: float | None) -> Picture:
    """Rise of each meal against its net carbohydrate; open dots are not alone in their window."""
    figure, axes = _axes()
    rows = list(zip(table["net_carbs_g"], table["rise_mg_dl"], table["clean"], table["eating_out"]))
    for kind, style in (
        ("alone in its window", {"color": BLUE}),
        ("eaten out", {"color": OCHRE}),
        ("confounded", {"facecolors": "none", "edgecolors": GREY}),
    ):
        def fits(clean, out):
            return {"alone in its window": clean and not out, "eaten out": out, "confounded": not clean and not out}[kind]

        chosen = [(g, r) for g, r, c, o in rows if g is not None and r is not None and fits(c, o)]
        if chosen:
            axes.scatter([c[0] for c in chosen], [c[1] for c in chosen], s=30, label=kind, **style)
    if target is not None:
        axes.axhline(target, color=INK, linewidth=1, linestyle=(0, (4, 3)), label="target")
    axes.set(xlabel="net carbohydrate by the diary, g", ylabel="rise as displayed, mg/dL")
    axes.legend(frameon=False, fontsize=8)
    return _svg(figure, "rises", f"Rise of {len(rows)} meals against the net carbohydrate in the diary")


def dose_response(
    curve: dict, doses: dict, target: float, limit: dict, safe: dict, probability: float = 0.8
) -> Picture:
    """Mean rise by grams with its band, the meals it rests on, the target, and both limits."""
    figure, axes = _axes(height=3.4)
    axes.fill_between(curve["net_carbs_g"], curve["low_mg_dl"], curve["high_mg_dl"], color=PALE, linewidth=0)
    axes.plot(curve["net_carbs_g"], curve["mean_rise_mg_dl"], color=BLUE, linewidth=2)
    axes.scatter(doses["net_carbs_g"], doses["rise_mg_dl"], s=26, color=INK, alpha=0.7, linewidths=0)
    axes.axhline(target, color=INK, linewidth=1, linestyle=(0, (4, 3)))
    bottom = axes.get_ylim()[0]
    for figure_of, colour, name, lift in ((limit, BLUE, "mean limit", 0), (safe, OCHRE, f"safe, {100 * probability:.0f} %", 1)):
        if figure_of and figure_of["value"] is not None:
            at = bottom + 3 + 5 * lift
            low = figure_of["low"] if figure_of["low"] is not None else min(curve["net_carbs_g"])
            high = figure_of["high"] if figure_of["high"] is not None else max(curve["net_carbs_g"])
            axes.plot([low, high], [at, at], color=colour, linewidth=3, solid_capstyle="butt")
            axes.scatter([figure_of["value"]], [at], s=46, color=colour, zorder=3, label=name)
    axes.set(xlabel="net carbohydrate by the diary, g", ylabel="rise, noise taken off, mg/dL")
    if axes.get_legend_handles_labels()[0]:
        axes.legend(frameon=False, fontsize=8, loc="upper left")
    alt = f"Mean rise by net carbohydrate with its band, the target of {target:g} mg/dL, mean limit and safe grams with intervals"
    return _svg(figure, "dose-response", alt)


def loads(table: dict) -> Picture:
    """Grams that meals eaten out behaved like, with intervals, beside the diary's."""
    count = len(table["diary_net_carbs_g"])
    figure, axes = _axes(height=0.9 + 0.4 * count)
    grams = ("diary_net_carbs_g", "equivalent_g", "equivalent_low_g", "equivalent_high_g")
    seen = [g for name in grams for g in table[name] if g is not None] or [0.0]
    edges = (min(seen) - 5, max(seen) + 5)
    axes.set(xlim=edges, ylim=(-0.6, count - 0.4))
    for i in range(count):
        ends = table["equivalent_low_g"][i], table["equivalent_high_g"][i]
        if ends != (None, None):
            # An open end runs to the edge of the picture.
            low, high = (edge if end is None else end for end, edge in zip(ends, edges))
            axes.plot([low, high], [i, i], color=PALE, linewidth=4, solid_capstyle="butt")
        if table["equivalent_g"][i] is not None:
            axes.scatter([table["equivalent_g"][i]], [i], color=BLUE, s=36, zorder=3)
        axes.scatter([table["diary_net_carbs_g"][i]], [i], color=OCHRE, marker="|", s=140, zorder=4)
    axes.set_yticks(range(count), [t or "meal" for t in table["label"]])
    axes.set_xlabel("net carbohydrate, g: diary (bar) and behaved like (dot)")
    return _svg(figure, "loads", f"Grams that {count} meals eaten out behaved like, beside the diary's grams")
