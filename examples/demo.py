"""Reviews the demo trial and sets the known truth beside the answers: ``demo.py FOLDER``."""

import sys
from pathlib import Path

from glycemic.__main__ import beside_truth

beside_truth(Path(sys.argv[1]), seed=1)
