"""Pictures of meals, limits, contrasts and a schedule."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ._draw import BLUE, GREY, INK, OCHRE, PALE, PALEST, Picture
from ._draw import _axes, _columns, _nothing, _svg

if TYPE_CHECKING:
    from ._glycemic import Fit, Responses, Trace

MINUTE_MS = 60_000
#: Words for what a verdict's code says.
VERDICTS = {
    "helps": "lower with it",
    "lower_with": "lower with it",
    "higher_with": "higher with it",
    "too_small_to_matter": "too small to matter",
    "cant_tell": "can't tell",
}


def meals(trace: Trace, responses: Responses, before_min: float = 30, after_min: float = 180) -> Picture:
    """The curve of every meal over its baseline, laid on one another from the meal's start.

    Meals alone in their window are drawn in full, the others faintly; readings across a gap are not
    joined. The mean of those in full is drawn where at least five are seen.

    Parameters
    ----------
    trace : Trace
    responses : Responses
        From `meals.responses` on this trace.
    before_min, after_min : float
        What is shown.

    Examples
    --------
    >>> tr = gly.Trace(1741046400000 + 300000 * np.arange(2016), np.full(2016, 100), zone="UTC")
    >>> r = gly.meals.responses(tr, {"time": [np.datetime64("2025-03-05T12:00", "ms")], "carbs_g": [40]})
    >>> gly.plots.meals(tr, r).startswith("<svg")
    True
    """
    rows = responses.to_dict()
    figure, axes = _axes(height=3.4)
    times, glucose = trace.times_ms.tolist(), trace.glucose_mg_dl.tolist()
    apart = 3 * trace.coverage().nominal_interval_min
    drawn = 0
    at_minute: dict[int, list[float]] = {}
    for start, baseline, clean in zip(rows["time_ms"], rows["baseline_mg_dl"], rows["clean"]):
        if baseline is None:
            continue
        curve = [((t - start) / MINUTE_MS, g - baseline) for t, g in zip(times, glucose)
                 if -before_min <= (t - start) / MINUTE_MS <= after_min]  # fmt: skip
        xs, ys = _unjoined(curve, apart)
        axes.plot(xs, ys, color=BLUE if clean else GREY, alpha=0.45 if clean else 0.2, linewidth=0.9)
        drawn += 1
        if clean:
            for minute, rise in curve:
                at_minute.setdefault(5 * round(minute / 5), []).append(rise)
    if not drawn:
        raise _nothing("no meal has a baseline")
    mean = sorted((m, sum(v) / len(v)) for m, v in at_minute.items() if len(v) >= 5)
    if mean:
        axes.plot(*zip(*mean), color=INK, linewidth=2.2, label="mean of the meals alone")
        axes.legend(frameon=False, fontsize=8)
    target = responses.targets["rise_mg_dl"]
    if target is not None:
        axes.axhline(target, color=OCHRE, linewidth=1, linestyle=(0, (4, 3)))
        axes.annotate("target", (1, target), xycoords=("axes fraction", "data"), xytext=(3, 0),
                      textcoords="offset points", va="center", fontsize=8, color=OCHRE)  # fmt: skip
    axes.axvline(0, color=GREY, linewidth=0.8)
    axes.set(xlim=(-before_min, after_min), xlabel="minutes from the meal's start", ylabel="over the baseline, mg/dL")
    return _svg(figure, "meals", f"Glucose over the baseline after {drawn} meals, from {before_min:g} min before each")


def _unjoined(curve: list[tuple[float, float]], apart: float) -> tuple[list[float], list[float]]:
    """The curve with a hole where two readings are far apart."""
    xs: list[float] = []
    ys: list[float] = []
    for x, y in curve:
        if xs and x - xs[-1] > apart:
            xs.append(x)
            ys.append(float("nan"))
        xs.append(x)
        ys.append(y)
    return xs, ys


def tolerance(fit: Fit, probability: float = 0.8) -> Picture:
    """Mean rise by grams with its band, the meals, the target, the mean limit and the safe grams.

    Parameters
    ----------
    fit : Fit
        From `tolerance.fit`.
    probability : float
        Of the safe grams.

    Notes
    -----
    The mean limit: about half of such meals go over. For education, coaching and research; not a
    medical device, no advice to eat less.

    Examples
    --------
    >>> grams = [10, 20, 30, 45, 60] * 3
    >>> fit = gly.tolerance.fit({"net_carbs_g": grams, "rise_mg_dl": [5 + g for g in grams]}, 35)
    >>> gly.plots.tolerance(fit).startswith("<svg")
    True
    """
    from .plots import dose_response

    if fit.doses_g is None or fit.slope_mg_dl_per_g is None:
        raise _nothing(fit.reason or "the fit has no line")
    least, most = fit.doses_g
    grams = [min(most, least + (most - least) * i / 40) for i in range(41)]
    means = [fit.predict(g) for g in grams]
    curve = {
        "net_carbs_g": grams,
        "mean_rise_mg_dl": [m.value for m in means],
        "low_mg_dl": [m.low for m in means],
        "high_mg_dl": [m.high for m in means],
    }
    meals_of = {"net_carbs_g": fit.grams.tolist(), "rise_mg_dl": fit.rises_mg_dl.tolist()}
    limit, safe = fit.limit.to_dict(), fit.safe_g(probability).to_dict()
    return dose_response(curve, meals_of, fit.rise_mg_dl, limit, safe, probability)


def forest(source: Any, margin: float = 0.0) -> Picture:
    """What went with a higher or lower outcome: differences with their intervals, zero and the margin.

    The thin line is the interval of the difference alone, the broad one allows for the number of
    questions; the words come from the broad one.

    Parameters
    ----------
    source : Table or dict
        From `contrast.what_helps`.
    margin : float
        A difference within this either way is too small to matter; drawn as a band.

    Notes
    -----
    An observed difference *went with* the exposure; only a randomised one was caused by it. Open ends
    run to the edge.

    Examples
    --------
    >>> t = {"exposure": ["walk_after"], "planned": [True], "difference": [-8.0], "low": [-13.0], "high": [-3.0],
    ...      "adjusted_low": [-14.0], "adjusted_high": [-2.0], "n_exposed": [12], "verdict": ["helps"], "unit": ["mg/dL"]}
    >>> gly.plots.forest(t, margin=5).startswith("<svg")
    True
    """
    table = _columns(source, "to_dict")
    rows = [i for i, v in enumerate(table["difference"]) if v is not None]
    if not rows:
        raise _nothing("no contrast has a value")
    ends = ("low", "high", "adjusted_low", "adjusted_high")
    seen = [table[name][i] for name in ("difference", *ends) for i in rows if table[name][i] is not None]
    edges = (min([*seen, -margin]) - 3, max([*seen, margin]) + 3)
    figure, axes = _axes(height=1.1 + 0.42 * len(rows))
    if margin:
        axes.axvspan(-margin, margin, color=PALEST, linewidth=0, zorder=0)
    axes.axvline(0, color=GREY, linewidth=1, zorder=1)
    names = []
    for at, i in enumerate(reversed(rows)):
        for pair, width, colour in ((ends[2:], 6, PALE), (ends[:2], 1.6, BLUE)):
            low, high = (edge if table[name][i] is None else table[name][i] for name, edge in zip(pair, edges))
            axes.plot([low, high], [at, at], color=colour, linewidth=width, solid_capstyle="butt", zorder=2)
        axes.scatter([table["difference"][i]], [at], color=OCHRE if table["planned"][i] else BLUE, s=34, zorder=3)
        said = VERDICTS.get(table["verdict"][i], table["verdict"][i])
        axes.annotate(f"n {table['n_exposed'][i]}, {said}", (1, at), xycoords=("axes fraction", "data"),
                      xytext=(5, 0), textcoords="offset points", va="center", fontsize=8, color=INK)  # fmt: skip
        names.append(table["exposure"][i].replace("_", " "))
    axes.set_yticks(range(len(names)), names)
    axes.set(xlim=edges, ylim=(-0.7, len(rows) - 0.3))
    band = " (band: too small to matter)" if margin else ""
    axes.set_xlabel(f"with less without, {table['unit'][rows[0]]}{band}")
    return _svg(figure, "forest", f"{len(rows)} differences with and without an exposure, with their intervals")


def schedule(source: Any) -> Picture:
    """A drawn schedule: which meal of which day with the exposure, and which without.

    Parameters
    ----------
    source : Table or dict
        From `contrast.schedule`: columns `day`, `slot`, `pair`, `condition`, `exposed`.

    Examples
    --------
    >>> gly.plots.schedule(gly.contrast.schedule(14, 4, ["lunch"], "walk_after", "no_walk")).startswith("<svg")
    True
    """
    table = _columns(source, "to_dict")
    if not table["day"]:
        raise _nothing("the schedule is empty")
    slots = [s for s in dict.fromkeys(table["slot"]) if s is not None]
    figure, axes = _axes(height=1.3 + 0.45 * len(slots))
    words = {}
    for day, slot, pair, exposed, word in zip(*(table[k] for k in ("day", "slot", "pair", "exposed", "condition"))):
        if slot is None:
            axes.axvspan(day - 0.5, day + 0.5, color=PALEST, linewidth=0, zorder=0)
            continue
        up = len(slots) - 1 - slots.index(slot)
        axes.add_patch(_box(day, up, bool(exposed)))
        axes.text(day, up, str(pair), ha="center", va="center", fontsize=8, color="white" if exposed else INK)
        words[bool(exposed)] = word.replace("_", " ")
    last = max(table["day"])
    axes.set(xlim=(0.3, last + 0.7), ylim=(-0.7, len(slots) - 0.3))
    axes.set_xlabel(f"day of wear; number: pair; filled: {words.get(True, '')}, open: {words.get(False, '')}; shaded: free")
    axes.set_xticks(range(1, last + 1))
    axes.set_yticks(range(len(slots)), list(reversed(slots)))
    pairs = len({p for p in table["pair"] if p is not None})
    return _svg(figure, "schedule", f"Schedule of {pairs} pairs of meals over {last} days")


def _box(day: float, up: float, exposed: bool):
    from matplotlib.patches import Rectangle

    fill = BLUE if exposed else "white"
    return Rectangle((day - 0.4, up - 0.32), 0.8, 0.64, facecolor=fill, edgecolor=BLUE, linewidth=1.2)
