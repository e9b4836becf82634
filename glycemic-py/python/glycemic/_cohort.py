"""``glycemic cohort FILE.csv``: a row of measures for each person of a table of readings."""

from __future__ import annotations

import argparse
import csv
import importlib
import sys
from collections import Counter
from pathlib import Path
from typing import Any

from ._error import GlycemicError
from ._glycemic import panels

CAUTION = "For education, coaching and research; not a medical device."
#: Failed people that are printed one by one; all stand in the file.
SHOWN = 20


def add(commands: Any, care: str) -> None:
    """Adds the command to the parser."""
    cohort = commands.add_parser(
        "cohort",
        help="compute the measures of many people from one CSV file",
        description="Reads a CSV file with a row for each reading, writes one with a row for each person.",
        epilog=f"Exit codes: 0 done, 1 nobody could be answered, 2 wrong use or unreadable file. {care}",
    )
    cohort.add_argument("file", type=Path, metavar="FILE.csv", help="readings, comma-separated, with column names in the first line")
    cohort.add_argument("--person", default="person", metavar="COLUMN", help='column that says whose reading it is (default "person")')
    cohort.add_argument("--time", default="time", metavar="COLUMN", help='column of times: ISO 8601, or epoch milliseconds (default "time")')
    cohort.add_argument("--glucose", default="glucose", metavar="COLUMN", help='column of readings: numbers, LOW, HIGH, <40 or >400 (default "glucose")')
    cohort.add_argument("--unit", choices=["mg/dL", "mmol/L"], default="mg/dL", help="unit of the readings (default mg/dL)")
    cohort.add_argument("--zone", help="IANA zone in which times without an offset are read, such as Europe/Lisbon")
    cohort.add_argument("--out", type=Path, metavar="FILE", help="where to write the measures (default: FILE-panels.csv beside FILE.csv)")


def run(o: argparse.Namespace) -> int:
    out = o.out or o.file.with_name(f"{o.file.stem}-panels.csv")
    if out.exists() and out.samefile(o.file):
        raise GlycemicError(f"{out}: the measures would overwrite the readings", code="file", file=str(out))
    people, times, glucose = _read(o.file, [o.person, o.time, o.glucose])
    try:
        table = panels(people, _times(times), _numbers(glucose), o.unit, o.zone, progress=_progress())
    except GlycemicError as error:
        place = f"{o.file}" if error.index is None else f"{o.file}, row {error.index + 1} of readings"
        raise GlycemicError(f"{place}: {error}", code=error.code, index=error.index, file=str(o.file)) from None
    columns = table.to_dict()
    with out.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(columns)
        writer.writerows(zip(*columns.values()))
    answered = _summary(columns)
    print(f"\nmeasures: {out.resolve()}\n\n{CAUTION}")
    return 0 if answered else 1


def _summary(columns: dict[str, list[Any]]) -> int:
    """Prints who was answered and who was not; gives the number of those who were."""
    people = [row for row in zip(columns["person"], columns["error_code"], columns["error"], columns["given"]) if row[1] != "no_person"]
    failed = [row for row in people if row[1] is not None]
    print(f"{sum(columns['given'])} readings of {len(people)} people; {len(people) - len(failed)} answered, {len(failed)} not")
    set_aside = {name: sum(filter(None, columns[name])) for name in ("duplicates", "conflicts", "missing", "missing_time")}
    print("set aside: " + ", ".join(f"{count} {name.replace('_', ' ')}" for name, count in set_aside.items()))
    for count, code in zip(columns["given"], columns["error_code"]):
        if code == "no_person":
            print(f"{count} readings have no person")
    if failed:
        codes = Counter(code for _, code, _, _ in failed)
        print("not answered: " + ", ".join(f"{count} {code}" for code, count in sorted(codes.items())))
    for person, _, error, _ in failed[:SHOWN]:
        print(f"  {person}: {error}")
    if len(failed) > SHOWN:
        print(f"  and {len(failed) - SHOWN} more: see the column error of the file")
    return len(people) - len(failed)


def _read(path: Path, names: list[str]) -> list[list[str | None]]:
    """Columns of a CSV file as text; an empty field is None."""
    try:
        try:
            pandas = importlib.import_module("pandas")
        except ImportError:
            found, columns = _by_module(path, names)
        else:
            found = list(pandas.read_csv(path, nrows=0, encoding="utf-8-sig").columns)
            columns = _by_pandas(pandas, path, names) if set(names) <= set(found) else []
    except (ValueError, csv.Error) as error:
        raise GlycemicError(f"{path}: {error}", code="file", file=str(path)) from None
    for name in names:
        if name not in found:
            message = f'{path}: there is no column "{name}"; the columns are: {", ".join(map(str, found))}'
            raise GlycemicError(message, code="missing_column", file=str(path), column=name)
    return columns


def _by_pandas(pandas: Any, path: Path, names: list[str]) -> list[list[str | None]]:
    frame = pandas.read_csv(path, usecols=list(set(names)), dtype=str, keep_default_na=False, encoding="utf-8-sig")
    return [[text.strip() or None for text in frame[name].tolist()] for name in names]


def _by_module(path: Path, names: list[str]) -> tuple[list[str], list[list[str | None]]]:
    with path.open(newline="", encoding="utf-8-sig") as file:
        reader = csv.reader(file, strict=True)
        found = next(reader, [])
        if not set(names) <= set(found):
            return found, []
        places = [found.index(name) for name in names]
        columns: list[list[str | None]] = [[] for _ in names]
        for row in filter(None, reader):
            for column, place in zip(columns, places):
                column.append(row[place].strip() or None if place < len(row) else None)
    return found, columns


def _times(texts: list[str | None]) -> list[Any]:
    """Text, or epoch milliseconds where all of it is digits."""
    if all(text is None or text.isdecimal() for text in texts):
        return [None if text is None else int(text) for text in texts]
    return list(texts)


def _numbers(texts: list[str | None]) -> list[Any]:
    """Numbers where all are, else text such as LOW."""
    try:
        return [float("nan") if text is None else float(text) for text in texts]
    except ValueError:
        return list(texts)


def _progress() -> Any:
    """Counts people on the terminal, if there is one."""
    if not sys.stderr.isatty():
        return None
    return lambda done: print(f"\r{done} people", end="\n" if done % 256 else "", file=sys.stderr, flush=True)
