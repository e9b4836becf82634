"""The README's Python examples run as printed."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_the_python_examples_run(tmp_path, monkeypatch, capsys):
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    monkeypatch.chdir(tmp_path)
    blocks = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), flags=re.S)
    assert len(blocks) == 2
    for block in blocks:
        exec(compile(block, "README.md", "exec"), {})
    assert (tmp_path / "review.html").exists() and (tmp_path / "modal_day.svg").exists()
    printed = capsys.readouterr().out
    assert "Not a medical device" in printed and "Estimate(" in printed
