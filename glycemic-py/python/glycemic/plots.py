"""Pictures of a review, as SVG text. They draw numbers that the review already holds.

Needs matplotlib (``pip install "glycemic[page]"``). Every function takes the dictionary of
``Review.to_dict()`` or a part of it and returns one ``<svg>`` element.
"""

from __future__ import annotations

import io
import re

INK = "#22313f"
BLUE = "#33628f"
PALE = "#b9cde0"
PALEST = "#e3ebf3"
OCHRE = "#b2762a"
GREY = "#7b8794"


def _pyplot():
    try:
        import matplotlib
    except ImportError as error:
        from ._error import GlycemicError

        why = 'the page and its pictures need matplotlib: pip install "glycemic[page]"'
        raise GlycemicError(why, code="matplotlib_missing") from error
    matplotlib.use("Agg", force=False)
    import matplotlib.pyplot as plt

    return plt


def _axes(width=7.2, height=3.0):
    plt = _pyplot()
    figure, axes = plt.subplots(figsize=(width, height), layout="constrained")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(GREY)
    axes.tick_params(colors=INK, labelsize=9)
    axes.xaxis.label.set_color(INK)
    axes.yaxis.label.set_color(INK)
    return figure, axes


def _svg(figure, name: str, alt: str) -> str:
    """SVG text with text as text, fixed ids, and the alternative text inside."""
    import html

    plt = _pyplot()
    out = io.StringIO()
    with plt.rc_context({"svg.fonttype": "none", "svg.hashsalt": name, "font.family": "sans-serif"}):
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    plt.close(figure)
    text = out.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.S)
    # Ids are made unique to this picture, since several stand on one page.
    text = re.sub(r'\bid="', f'id="{name}-', text)
    text = re.sub(r"url\(#", f"url(#{name}-", text)
    text = re.sub(r'href="#', f'href="#{name}-', text)
    head = f'<svg role="img" aria-label="{html.escape(alt, quote=True)}"'
    title = f"<title>{html.escape(alt)}</title>"
    text = text.replace("<svg", head, 1)
    return re.sub(r"(<svg[^>]*>)", lambda m: m.group(1) + title, text, count=1)


def days(table: dict) -> str:
    """Readings on each local day."""
    figure, axes = _axes(height=2.2)
    names = [d[5:] for d in table["day"]]
    axes.bar(range(len(names)), table["readings"], color=BLUE, width=0.7)
    axes.set_xticks(range(len(names)), names, rotation=45, ha="right")
    axes.set_ylabel("readings")
    return _svg(figure, "days", f"Readings on each of {len(names)} local days")


def pairs(table: dict) -> str:
    """Sensor against meter, with the line of equality."""
    figure, axes = _axes(width=4.6, height=4.2)
    x, y = table["meter_mg_dl"], table["sensor_mg_dl"]
    low, high = min(x + y) - 8, max(x + y) + 8
    axes.plot([low, high], [low, high], color=GREY, linewidth=1)
    axes.scatter(x, y, s=26, color=BLUE, alpha=0.8, linewidths=0)
    axes.set(xlim=(low, high), ylim=(low, high), xlabel="meter, mg/dL", ylabel="sensor, mg/dL")
    axes.set_aspect("equal")
    return _svg(figure, "pairs", f"Sensor against meter for {len(x)} pairs, with the line where both agree")


def modal_day(table: dict) -> str:
    """Percentiles of glucose by local time of day."""
    figure, axes = _axes()
    hours = [m / 60 for m in table["minute_of_day"]]
    nan = float("nan")
    column = {k: [nan if v is None else v for v in table[k]] for k in table}
    axes.fill_between(hours, column["p05_mg_dl"], column["p95_mg_dl"], color=PALEST, linewidth=0)
    axes.fill_between(hours, column["p25_mg_dl"], column["p75_mg_dl"], color=PALE, linewidth=0)
    axes.plot(hours, column["median_mg_dl"], color=BLUE, linewidth=2)
    axes.set(xlim=(0, 24), xlabel="local time of day, hours", ylabel="mg/dL")
    axes.set_xticks(range(0, 25, 3))
    alt = "Median glucose by half hour of the day, with the bands that hold the middle 50 and 90 percent of readings"
    return _svg(figure, "modal-day", alt)


def rises(table: dict, target: float | None) -> str:
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


def dose_response(curve: dict, doses: dict, target: float, limit: dict, safe: dict) -> str:
    """Mean rise by grams with its band, the meals it rests on, the target, and both limits."""
    figure, axes = _axes(height=3.4)
    axes.fill_between(curve["net_carbs_g"], curve["low_mg_dl"], curve["high_mg_dl"], color=PALE, linewidth=0)
    axes.plot(curve["net_carbs_g"], curve["mean_rise_mg_dl"], color=BLUE, linewidth=2)
    axes.scatter(doses["net_carbs_g"], doses["rise_mg_dl"], s=26, color=INK, alpha=0.7, linewidths=0)
    axes.axhline(target, color=INK, linewidth=1, linestyle=(0, (4, 3)))
    bottom = axes.get_ylim()[0]
    for figure_of, colour, name, lift in ((limit, BLUE, "mean limit", 0), (safe, OCHRE, "safe, 80 %", 1)):
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


def loads(table: dict) -> str:
    """Grams that meals eaten out behaved like, with intervals, beside the diary's."""
    count = len(table["diary_net_carbs_g"])
    figure, axes = _axes(height=0.9 + 0.4 * count)
    for i in range(count):
        ends = [table["equivalent_low_g"][i], table["equivalent_high_g"][i]]
        if None not in ends:
            axes.plot(ends, [i, i], color=PALE, linewidth=4, solid_capstyle="butt")
        if table["equivalent_g"][i] is not None:
            axes.scatter([table["equivalent_g"][i]], [i], color=BLUE, s=36, zorder=3)
        axes.scatter([table["diary_net_carbs_g"][i]], [i], color=OCHRE, marker="|", s=140, zorder=4)
    axes.set_yticks(range(count), [t or "meal" for t in table["label"]])
    axes.set_xlabel("net carbohydrate, g: diary (bar) and behaved like (dot)")
    return _svg(figure, "loads", f"Grams that {count} meals eaten out behaved like, beside the diary's grams")


def contrasts(figures: list[dict]) -> str:
    """Differences with their intervals, and zero."""
    figure, axes = _axes(height=0.9 + 0.5 * len(figures))
    axes.axvline(0, color=GREY, linewidth=1)
    for i, f in enumerate(figures):
        if f["low"] is not None and f["high"] is not None:
            axes.plot([f["low"], f["high"]], [i, i], color=PALE, linewidth=4, solid_capstyle="butt")
        axes.scatter([f["value"]], [i], color=BLUE, s=36, zorder=3)
    axes.set_yticks(range(len(figures)), [f["id"].replace("_difference_mg_dl", "") for f in figures])
    axes.set_xlabel("difference in rise, mg/dL")
    return _svg(figure, "contrasts", "Difference in rise with and without a walk, with its interval and zero")
