"""Reviews the demo trial and sets the known truth beside the answers: ``demo.py FOLDER``."""

import json
import sys
from pathlib import Path

import glycemic as gly
from glycemic.__main__ import against_truth, truths

folder = Path(sys.argv[1])
trial = gly.Trial.read(folder)
review = trial.review(seed=1)
print(review.text())

truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
figures = {f["id"]: f for a in review.to_dict()["answers"] for f in a["figures"]}
print("The trial is invented, so its truth is known:")
for name, label, value in truths(truth):
    print("  " + against_truth(label, figures.get(name), value))

review.save(folder / "review.html")
print(f"\nThe page: {(folder / 'review.html').resolve()}")
