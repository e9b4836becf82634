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
        f"<main>{answers}</main>"
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
        + "".join(f"<figure>{svg}<figcaption>{html.escape(text)}</figcaption></figure>" for svg, text in _pictures(answer, review))
        + "".join(_table(name, table) for name, table in answer["tables"].items())
        + "</section>"
    )


def _number(value) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value.replace(";", ", ")
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
    return f'<div class="scroll"><table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div>'


def _table(name: str, table: dict) -> str:
    columns = MEAL_COLUMNS if name == "meals" else [c for c in table if c != "time_ms"]
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


def _pictures(answer: dict, review: dict):
    """The pictures of an answer with their captions; none where there is nothing to draw."""
    tables, figures = answer["tables"], {f["id"]: f for f in answer["figures"]}
    target = review["targets"].get("rise_mg_dl")
    kind = answer["id"]
    if kind == "data":
        yield plots.days(tables["days"]), "Readings on each local day; the first and the last are seldom whole."
    if kind == "trust" and tables["pairs"]["meter_mg_dl"]:
        yield plots.pairs(tables["pairs"]), "A dot for each pair of meter and sensor; on the line both agree."
    if kind == "levels":
        yield plots.modal_day(tables["modal_day"]), "Glucose by local time of day: median, the middle half, and the middle 90 % of readings."
    if kind == "meals" and any(r is not None for r in tables["meals"]["rise_mg_dl"]):
        yield plots.rises(tables["meals"], target), "Each meal's rise as displayed against the grams in the diary."
    if kind == "tolerance" and tables.get("dose_response"):
        svg = plots.dose_response(tables["dose_response"], tables["doses"], target, figures.get("limit_g"), figures.get("safe_g"))  # type: ignore[arg-type]
        yield svg, "Mean rise by grams with its band, the target (dashed), and below it the mean limit and the safe grams with their intervals. Nothing is drawn outside the doses eaten."
    if kind == "misfits" and tables.get("equivalent_loads"):
        yield plots.loads(tables["equivalent_loads"]), "Meals eaten out: the diary's grams and the grams they behaved like."
    if kind == "helps":
        told = [f for f in answer["figures"] if f["id"].endswith("_difference_mg_dl") and f["value"] is not None]
        if told:
            yield plots.contrasts(told), "Observed differences with their intervals; they went with the exposure."
