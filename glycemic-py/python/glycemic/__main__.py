"""Command line: ``glycemic review FOLDER``, ``glycemic check FOLDER``, ``glycemic demo``,
``glycemic init FOLDER``, ``glycemic plan FOLDER``, ``glycemic simulate FOLDER``,
``glycemic cohort FILE.csv``.

Exit codes: 0 done, 1 the data can't answer, 2 wrong use or unreadable input.
"""

from __future__ import annotations

import argparse
import datetime
import json
import sys
from pathlib import Path

import glycemic as gly
from glycemic import _cohort

CARE = (
    "For education, coaching and research. Not a medical device; not for dosing insulin or any "
    "treatment decision. Check a reading that disagrees with how someone feels with a meter. "
    "Local rules and licensed care come first."
)


def parser() -> argparse.ArgumentParser:
    top = argparse.ArgumentParser(prog="glycemic", description="Review two-week glucose-sensor trials.", epilog=CARE)
    top.add_argument("--version", action="version", version=f"glycemic {gly.__version__}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")

    review = commands.add_parser("review", help="answer the ten questions about a trial's folder", epilog=CARE)
    review.add_argument("folder", type=Path, help="folder with sensor.csv and what else there is")
    review.add_argument("--page", type=Path, help="where to write the page (default: FOLDER/review.html)")
    review.add_argument("--json", type=Path, dest="json_path", help="where to write the review as JSON")
    review.add_argument("--no-page", action="store_true", help="don't write the page")
    _reading(review)
    review.add_argument("--level", type=float, default=0.95, help="confidence level of intervals (default 0.95)")
    review.add_argument("--seed", type=int, default=1, help="key of the random streams (default 1)")

    check = commands.add_parser("check", help="read a trial's folder and say every row that can't be used")
    check.add_argument("folder", type=Path)

    init = commands.add_parser("init", help="make a folder with empty tables and a trial.json to fill in")
    init.add_argument("folder", type=Path)
    init.add_argument("--zone", help="IANA zone of the times, such as Europe/Lisbon")
    init.add_argument("--unit", choices=["mg/dL", "mmol/L"], default="mg/dL")

    plan = commands.add_parser("plan", help="draw a dated plan for the next wear from what this one showed", epilog=CARE)
    plan.add_argument("folder", type=Path, help="folder of the trial that was reviewed")
    plan.add_argument("--store", type=Path, metavar="FOLDER", help="write it into trial.json of the next wear, before it begins")
    plan.add_argument("--date", type=datetime.date.fromisoformat, default=None, help="date of the plan, YYYY-MM-DD (default: today)")
    plan.add_argument("--seed", type=int, default=1, help="key of the draw (default 1)")

    demo = commands.add_parser("demo", help="simulate the invented demo trial, review it, and set the truth beside it", epilog=CARE)
    demo.add_argument("folder", type=Path, nargs="?", default=Path("glycemic-demo"))
    demo.add_argument("--seed", type=int, default=1)

    simulate = commands.add_parser("simulate", help="write a simulated trial with its truth")
    simulate.add_argument("folder", type=Path)
    simulate.add_argument("--scenario", default="demo", choices=gly.simulate.scenarios())
    simulate.add_argument("--seed", type=int, default=1)
    simulate.add_argument("--people", choices=("healthy", "intermediate", "resistant"), help="draw a person of this kind by the seed")
    simulate.add_argument("--days", type=int, help="days of wear, 1 to 400")

    _cohort.add(commands, CARE)
    return top


def _reading(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--on-bad-rows", choices=["stop", "skip"], default="stop", help="stop, or read on and list them in the review (default stop)"
    )


def main(arguments: list[str] | None = None) -> int:
    options = parser().parse_args(arguments)
    try:
        return COMMANDS[options.command](options)
    except gly.GlycemicError as error:
        print(f"glycemic: {error}", file=sys.stderr)
        return 2
    except OSError as error:
        print(f"glycemic: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("glycemic: stopped", file=sys.stderr)
        return 2


def _review(o) -> int:
    trial = gly.Trial.read(o.folder, on_bad_rows=o.on_bad_rows)
    review = trial.review(level=o.level, seed=o.seed)
    print(review.text(), end="")
    if o.json_path:
        o.json_path.write_text(review.to_json() + "\n", encoding="utf-8")
    if not o.no_page:
        page = o.page or o.folder / "review.html"
        review.save(page)
        print(f"\npage: {page.resolve()}")
    figures = [f for a in review.to_dict()["answers"] for f in a["figures"]]
    # A number without an interval describes the data; it answers no question.
    return 0 if any(f["low"] is not None or f["high"] is not None for f in figures) else 1


def _check(o) -> int:
    trial = gly.Trial.read(o.folder, on_bad_rows="skip")
    for problem in trial.problems:
        print(f"{problem['file']}, line {problem['line']}, column \"{problem['column']}\": {problem['message']}", file=sys.stderr)
    print(f"{len(trial.sensor)} readings, {len(trial.meter)} by meter, {len(trial.meals)} meals; {len(trial.problems)} row(s) can't be used")
    return 2 if trial.problems else 0


TABLES = {
    "sensor.csv": "time,glucose",
    "meter.csv": "time,glucose,context",
    "meals.csv": "time,end,carbs_g,carbs_low_g,carbs_high_g,fiber_g,protein_g,fat_g,confidence,label,tags",
    "activity.csv": "start,minutes,kind,effort",
    "sleep.csv": "start,end,quality",
    "wear.csv": "time,event,sensor,site,value",
    "notes.csv": "time,kind,severity,text",
}


def _init(o) -> int:
    if o.folder.exists() and any(o.folder.iterdir()):
        print(f"glycemic: {o.folder} is not empty; nothing was written", file=sys.stderr)
        return 2
    o.folder.mkdir(parents=True, exist_ok=True)
    config = {"person": "", "unit": o.unit, "targets": {}, "files": {}}
    if o.zone:
        config["zone"] = o.zone
    for name, header in TABLES.items():
        (o.folder / name).write_text(header + "\n", encoding="utf-8")
    (o.folder / "trial.json").write_text(json.dumps(config, indent=2) + "\n", encoding="utf-8")
    print(f"made {o.folder}: fill in the tables, and the person's own targets in trial.json")
    return 0


def _plan(o) -> int:
    """Prints the plan and its schedule; with --store writes it into another folder's trial.json."""
    try:
        plan = gly.Trial.read(o.folder).next_plan(seed=o.seed)
    except gly.GlycemicError as error:
        if error.code not in ("too_few_meals", "spread_too_wide"):
            raise
        print(f"glycemic: can't plan: {error}", file=sys.stderr)
        return 1
    plan = {"date": (o.date or datetime.date.today()).isoformat(), **plan}
    wish = plan["schedule"]
    drawn = gly.contrast.schedule(
        wish["days"], wish["pairs"], wish["slots"], wish["with"], wish["without"], wish["masked_days"], wish["seed"]
    ).to_dict()
    print(json.dumps(plan, indent=2))
    print("\nday  meal       pair  what")
    for day, slot, pair, what in zip(drawn["day"], drawn["slot"], drawn["pair"], drawn["condition"]):
        print(f"{day:>3}  {slot or '-':<9}  {pair or '-':>4}  {what.replace('_', ' ')}")
    if o.store is None:
        return 0
    path = o.store / "trial.json"
    config = json.loads(path.read_text(encoding="utf-8"))
    if config.get("plan"):
        print(f"glycemic: {path} has a plan already; nothing was written", file=sys.stderr)
        return 2
    config["plan"] = plan
    path.write_text(json.dumps(config, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    print(f"\nstored in {path}: the review answers it apart from what is explored")
    return 0


def _demo(o) -> int:
    gly.simulate.write(o.folder, scenario="demo", seed=o.seed)
    beside_truth(o.folder, o.seed)
    return 0


def beside_truth(folder: Path, seed: int) -> None:
    """Reviews a simulated trial, prints the answers and the truth beside them, writes the page."""
    review = gly.Trial.read(folder).review(seed=seed)
    print(review.text())
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    figures = {f["id"]: f for a in review.to_dict()["answers"] for f in a["figures"]}
    print("The trial is invented, so its truth is known:")
    for name, label, value in truths(truth):
        print("  " + against_truth(label, figures.get(name), value))
    page = folder / "review.html"
    review.save(page)
    print(f"\nThe page: {page.resolve()}")


def truths(truth: dict):
    """Figures of the review and their truths."""
    meter_bias = truth["meter_bias_pct"] / 100 * truth["mean_blood_mg_dl"]
    yield "limit_g", "mean limit, g", truth["limits"]["mean_limit_sensor_g"]
    yield "safe_g", "safe grams at 80 %, g", truth["limits"]["safe80_sensor_g"]
    yield "mean_mg_dl", "mean as the sensor reads, mg/dL", truth["long_run"]["mean_sensor_mg_dl"]
    yield "mean_mg_dl_in_blood", "mean in blood, mg/dL", truth["long_run"]["mean_blood_mg_dl"]
    yield "bias_mg_dl", "sensor less meter, mg/dL", truth["mean_bias_mg_dl"] - meter_bias
    yield "lag_less_clock_min", "lag less clock, min", truth["lag_minus_clock_min"]
    yield "walk_difference_mg_dl", "rise with a walk less without, mg/dL", truth["walk"]["difference_mg_dl"]


def against_truth(label: str, figure: dict | None, truth: float | None) -> str:
    if figure is None or figure["value"] is None:
        return f"{label}: not told; truth {truth:.1f}"
    low = "open" if figure["low"] is None else f"{figure['low']:.1f}"
    high = "open" if figure["high"] is None else f"{figure['high']:.1f}"
    inside = (figure["low"] is None or figure["low"] <= truth) and (figure["high"] is None or truth <= figure["high"])
    return f"{label}: {figure['value']:.1f} ({low} to {high}); truth {truth:.1f}, {'inside' if inside else 'OUTSIDE'}"


def _simulate(o) -> int:
    gly.simulate.write(o.folder, scenario=o.scenario, seed=o.seed, people=o.people, days=o.days)
    print(f"wrote {o.folder}")
    return 0


COMMANDS = {
    "review": _review, "check": _check, "init": _init, "plan": _plan, "demo": _demo, "simulate": _simulate, "cohort": _cohort.run,
}  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
