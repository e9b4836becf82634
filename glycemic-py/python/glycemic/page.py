"""A review as one self-contained HTML page: opens offline, prints, reads without pictures."""

from __future__ import annotations

import html
import os
import tempfile
from pathlib import Path

from . import plots

STYLE = """
:root { --ink:#22313f; --blue:#33628f; --pale:#e3ebf3; --ochre:#b2762a; }
* { box-sizing:border-box; }
body { font:16px/1.5 system-ui,"DejaVu Sans",sans-serif; color:var(--ink); margin:0 auto; max-width:54rem; padding:1.5rem; }
h1 { font-size:1.7rem; margin:0 0 .2rem; }
h2 { font-size:1.15rem; margin:0 0 .5rem; }
.care { border-left:.35rem solid var(--ochre); background:#fbf4ea; padding:.7rem 1rem; margin:1rem 0; }
.care p { margin:.25rem 0; }
section { border-top:1px solid #c6d0da; padding:1.1rem 0; break-inside:auto; }
.number { color:var(--blue); font-variant-numeric:tabular-nums; margin-right:.4rem; }
.said { font-size:1.05rem; }
.why { color:#52606d; }
figure { margin:1rem 0; break-inside:avoid; }
svg { max-width:100%; height:auto; }
figcaption { font-size:.85rem; color:#52606d; }
table { border-collapse:collapse; font-size:.85rem; font-variant-numeric:tabular-nums; margin:.5rem 0; }
th,td { text-align:left; padding:.15rem .7rem .15rem 0; border-bottom:1px solid var(--pale); vertical-align:top; }
.figures td:last-child { white-space:nowrap; }
.scroll { overflow-x:auto; }
details > summary { cursor:pointer; color:var(--blue); }
small.caution { display:block; color:#7a5420; margin:.2rem 0; }
footer { border-top:1px solid #c6d0da; font-size:.85rem; color:#52606d; padding-top:1rem; }
@media print { body { max-width:none; font-size:10.5pt; padding:0; } section { break-inside:auto; } .scroll { overflow:visible; } table { font-size:7pt; } th,td { padding:.1rem .3rem .1rem 0; } }
"""

# A page is not wide enough for every column of the meals; the JSON has them all.
MEAL_COLUMNS = (
    "local_time label net_carbs_g baseline_mg_dl peak_mg_dl rise_mg_dl rise_noise_aware_mg_dl time_to_peak_min "
    "iauc_positive_mg_dl_min recovery_min walk_minutes eating_out clean flags"
).split()

# Of 78 measures the page shows what people read; names and units of all are in the JSON.
PANEL_COLUMNS = "what value low high unit source note".split()

# Tables that stand with their picture further down, or are only drawn.
APART = {"modal_day", "episodes", "strips"}

# Every table opens when the page is printed; by default only short ones are open.
SCRIPT = "addEventListener('beforeprint',()=>document.querySelectorAll('details').forEach(d=>d.open=true));"


def render(review: dict, sentences: list[str]) -> str:
    """The page of a review's dictionary and its sentences, as HTML text."""
    person = review.get("person") or "one person"
    answers = "".join(
        _section(i + 1, a, s, review) for i, (a, s) in enumerate(zip(review["answers"], sentences))
    )
    cautions = "".join(f"<p>{html.escape(c['text'])}</p>" for c in review["cautions"])
    options = review["options"]
    return (
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>Sensor trial of {html.escape(person)}</title><link rel=\"icon\" href=\"data:,\">"
        f"<style>{STYLE}</style></head><body>"
        f"<h1>Two weeks with a sensor: {html.escape(person)}</h1>"
        f"<p class=\"why\">Ten questions. Intervals hold {100 * options['level']:g} % unless said otherwise; glucose in mg/dL (18.0156 mg/dL are 1 mmol/L).</p>"
        f'<div class="care" role="note"><strong>Before you read the numbers</strong>{cautions}</div>'
        f"<main>{answers}{_time_of_day(review)}</main>"
        f"<footer><h2>Methods</h2><p>{html.escape(review['methods'])}</p>"
        f"<p>Schema {html.escape(review['schema'])}, library {html.escape(review['library_version'])}, seed {options['seed']}.</p></footer>"
        f"<script>{SCRIPT}</script></body></html>\n"
    )


def save(review: dict, sentences: list[str], path) -> str:
    """Writes the page; nothing is left behind if it can't be written whole. Returns the path."""
    path = Path(path)
    text = render(review, sentences)
    handle, part = tempfile.mkstemp(dir=path.parent if str(path.parent) else ".", suffix=".part")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as out:
            out.write(text)
        os.chmod(part, 0o644)
        os.replace(part, path)
    except BaseException:
        os.unlink(part)
        raise
    return str(path)


def _section(number: int, answer: dict, sentence: str, review: dict) -> str:
    reasons = "".join(f"<li>{html.escape(r['text'])}</li>" for r in answer["reasons"])
    cautions = "".join(
        f'<small class="caution">{html.escape(c["text"])}</small>' for c in answer["cautions"]
    )
    return (
        f'<section id="{answer["id"]}"><h2><span class="number">{number}</span>{html.escape(answer["question"])}</h2>'
        f'<p class="said">{html.escape(sentence)}</p>{cautions}'
        + _figures(answer["figures"])
        + (f'<div class="why">What can\'t be told, or is missing:<ul>{reasons}</ul></div>' if reasons else "")
        + "".join(_figure(svg, text) for svg, text in _pictures(answer, review))
        + "".join(_table(name, table) for name, table in answer["tables"].items() if name not in APART)
        + _strips(answer["tables"].get("strips"))
        + "</section>"
    )


def _figure(svg: str, text: str) -> str:
    return f"<figure>{svg}<figcaption>{html.escape(text)}</figcaption></figure>"


def _strips(table: dict | None) -> str:
    """The local days behind a fold."""
    if not table or not table["day"]:
        return ""
    text = "Each local day; every quarter hour from its lowest to its highest reading. A gap stays empty."
    return f"<details><summary>Picture: each local day</summary>{_figure(plots.daily(table), text)}</details>"


def _time_of_day(review: dict) -> str:
    """The modal day and the episodes under a heading of their own."""
    answer = next(a for a in review["answers"] if a["id"] == "levels")
    tables, figures = answer["tables"], {f["id"]: f for f in answer["figures"]}
    parts = []
    if "modal_day" in tables:
        width = figures.get("modal_day_bandwidth_min")
        smoothed = f" Smoothed by a tricube kernel that reaches {width['value']:g} minutes either way." if width else ""
        text = (
            "Glucose by local time of day, all days laid over one another: the median, and bands that hold the middle "
            f"half and the middle 90 % of readings.{smoothed} Below it the days behind each point; where they are fewer "
            "than five the outer band is left out."
        )
        parts += [_figure(plots.modal_day(tables["modal_day"]), text), _table("modal_day", tables["modal_day"])]
    rows = tables["episodes"]
    if any(rule in ("low", "high") for rule in rows["rule"]):
        text = "Episodes of at least 15 minutes by the hour they start in."
        parts.append(_figure(plots.episodes(rows), text))
    else:
        parts.append("<p>No episode of at least 15 minutes below 70 or above 180 mg/dL.</p>")
    pressure = [c["text"] for c in answer["cautions"] if c["code"] == "possibly_pressure"]
    parts += [f'<small class="caution">{html.escape(text)}</small>' for text in pressure]
    parts.append(_table("episodes", rows))
    return f'<section id="time-of-day"><h2>Time of day</h2>{"".join(parts)}</section>'


def _number(value) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        # Tags stand together; a sentence keeps its semicolons.
        return value if "; " in value else value.replace(";", ", ")
    if isinstance(value, int):
        return str(value)
    if value == round(value) and abs(value) < 1e15:
        return f"{value:.0f}"
    return f"{value:.1f}" if abs(value) >= 10 else f"{value:.2f}"


def _figures(figures: list[dict]) -> str:
    rows = "".join(
        f"<tr><td>{html.escape(f['label'])}</td><td>{_number(f['value'])}</td><td>{_number(f['low'])}</td>"
        f"<td>{_number(f['high'])}</td><td>{'' if f['unit'] == '1' else html.escape(f['unit'])}</td>"
        f"<td>{html.escape(f['basis'].replace('_', ' '))}</td></tr>"
        for f in figures
    )
    if not rows:
        return ""
    head = "".join(f'<th scope="col">{h}</th>' for h in ("figure", "value", "low", "high", "unit", "basis"))
    return f'<div class="scroll"><table class="figures"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div>'


def _noted(table: dict) -> dict:
    """The panel with a note: why something is missing, and for whom the measure is not."""
    notes = []
    for reason, outside in zip(table["reason"], table["outside_people_without_diabetes"]):
        marks = [f"without diabetes: {outside}"] if outside else []
        notes.append("; ".join(([reason] if reason else []) + marks))
    units = ["" if unit == "1" else unit for unit in table["unit"]]
    return {**table, "unit": units, "note": notes}


def _table(name: str, table: dict) -> str:
    if name == "panel":
        table = _noted(table)
    if name == "modal_day":
        times = [f"{m // 60:02d}:{m % 60:02d}" for m in table["minute_of_day"]]
        table = {"time": times, **{k: v for k, v in table.items() if k != "minute_of_day"}}
    if name == "sufficiency":
        # Two digits, so that what is just missed does not look as if it were met.
        table = {**table, "had": [f"{v:.2f}" for v in table["had"]]}
    chosen = {"meals": MEAL_COLUMNS, "panel": PANEL_COLUMNS}
    columns = chosen.get(name) or _shown(table)
    count = len(table[columns[0]]) if columns else 0
    if not count:
        return ""
    head = "".join(f'<th scope="col">{html.escape(c.replace("_", " "))}</th>' for c in columns)
    body = "".join(
        "<tr>" + "".join(f"<td>{html.escape(_number(table[c][i]))}</td>" for c in columns) + "</tr>" for i in range(count)
    )
    opened = " open" if count <= 16 and len(columns) <= 8 else ""
    title = html.escape(name.replace("_", " "))
    return (
        f"<details{opened}><summary>Table: {title} ({count} rows)</summary>"
        f'<div class="scroll"><table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div></details>'
    )


def _shown(table: dict) -> list[str]:
    """Local times first, in place of instants and day numbers."""
    local = [c for c in table if c.startswith("local_") or c == "date"]
    number = ("start_min", "day") if "date" in table else ("start_min",)
    return local + [c for c in table if c not in local and c not in number and not c.endswith("_ms")]


def _pictures(answer: dict, review: dict):
    """The pictures of an answer with their captions; none where there is nothing to draw."""
    tables, figures = answer["tables"], {f["id"]: f for f in answer["figures"]}
    target = review["targets"].get("rise_mg_dl")
    kind = answer["id"]
    if kind == "data":
        yield plots.days(tables["days"]), "Readings on each local day; the first and the last are seldom whole."
    if kind == "trust" and tables["pairs"]["meter_mg_dl"]:
        yield plots.pairs(tables["pairs"]), "A dot for each pair of meter and sensor; on the line both agree."
        moved = tables["changes_over_meals"]
        if moved["meter_mg_dl"]:
            text = "Change over each meal that the meter saw before and after: every meal answer rests on these."
            yield plots.changes(moved["meter_mg_dl"], moved["sensor_mg_dl"]), text
        if "agreement_by" in tables:
            text = "Sensor less meter by part of the wear and by rate of change, with intervals; few pairs make wide ones."
            yield plots.agreement_by(tables["agreement_by"]), text
    if kind == "levels":
        measures = dict(zip(tables["panel"]["measure"], tables["panel"]["value"]))
        yield plots.ranges(measures), "Shares of readings by level in mg/dL, darker where glucose is higher, and what they come to in a day."
        yield plots.histogram(tables["histogram"]), "All readings by level."
    if kind == "meals" and any(r is not None for r in tables["meals"]["rise_mg_dl"]):
        yield plots.rises(tables["meals"], target), "Each meal's rise as displayed against the grams in the diary."
    if kind == "tolerance" and tables.get("dose_response"):
        svg = plots.dose_response(tables["dose_response"], tables["doses"], target, figures.get("limit_g"), figures.get("safe_g"))  # type: ignore[arg-type]
        yield svg, "Mean rise by grams with its band, the target (dashed), and below it the mean limit and the safe grams with their intervals. Nothing is drawn outside the doses eaten."
    if kind == "misfits" and tables.get("equivalent_loads"):
        yield plots.loads(tables["equivalent_loads"]), "Meals eaten out: the diary's grams and the grams they behaved like."
    if kind == "helps":
        found = tables["what_helps"]
        if any(v is not None for v in found["difference"]):
            text = "Observed differences with their intervals, the broad ones for the number of questions; they went with the exposure."
            yield plots.forest(found), text
    if kind == "next" and tables.get("schedule"):
        yield plots.schedule(tables["schedule"]), "The schedule drawn for the next wear; store the plan with its date before it begins."
