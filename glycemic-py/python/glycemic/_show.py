"""A review as a file, or in a notebook: which renderer, and nothing else."""

from __future__ import annotations

import html
import os
from pathlib import Path
from typing import TYPE_CHECKING

from ._error import GlycemicError

if TYPE_CHECKING:
    from ._glycemic import Review


def save(review: Review, path: str | os.PathLike[str]) -> None:
    """Writes a review to a file by its ending."""
    target = Path(path)
    kind = target.suffix.lower()
    if kind == ".json":
        text = review.to_json()
    elif kind == ".txt":
        text = review.text()
    elif kind in (".html", ".htm"):
        from . import page

        page.save(review.to_dict(), review.sentences(), target)
        return
    else:
        raise GlycemicError(
            f"path must end in .html, .json or .txt, got {target.name}", code="unknown_choice", argument="path"
        )
    try:
        target.write_text(text, encoding="utf-8")
    except OSError as error:
        raise GlycemicError(f"{target}: {error.strerror}", code="file", file=str(target)) from error


def notebook(review: Review) -> str:
    """What a notebook shows: the page in a frame, or the text where matplotlib is missing."""
    from . import page

    try:
        whole = page.render(review.to_dict(), review.sentences())
    except GlycemicError:
        return f"<pre>{html.escape(review.text())}</pre>"
    return f'<iframe title="review" style="width:100%;height:45rem;border:0" srcdoc="{html.escape(whole, quote=True)}"></iframe>'
