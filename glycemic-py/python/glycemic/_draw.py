"""What the pictures share: colours, axes, and SVG text."""

from __future__ import annotations

import html
import io
import os
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ._error import GlycemicError

if TYPE_CHECKING:
    from collections.abc import Iterable

INK = "#22313f"
BLUE = "#33628f"
PALE = "#b9cde0"
PALEST = "#e3ebf3"
OCHRE = "#b2762a"
GREY = "#7b8794"
#: Lightness steps of one hue, from low glucose to high.
STEPS = ("#e6eef5", "#c3d5e6", "#98b6d2", "#6a92b8", "#3f6c98", "#1d4166")
#: Limits drawn for orientation, mg/dL.
LIMITS = (70, 140, 180)


class Picture(str):
    """One ``<svg>`` element as text; a notebook shows it."""

    def _repr_svg_(self) -> str:
        return str(self)

    def save(self, path: str | os.PathLike[str]) -> None:
        """Writes it to an ``.svg`` file."""
        Path(path).write_text(self, encoding="utf-8")


def _matplotlib():
    try:
        import matplotlib
    except ImportError as error:
        why = 'the page and its pictures need matplotlib: pip install "glycemic[page]"'
        raise GlycemicError(why, code="matplotlib_missing") from error
    return matplotlib


def _figure(width=7.2, height=3.0):
    """A figure of its own: neither the caller's backend nor any open figure is touched."""
    _matplotlib()
    from matplotlib.figure import Figure

    return Figure(figsize=(width, height), layout="constrained")


def _axes(width=7.2, height=3.0):
    figure = _figure(width, height)
    axes = figure.subplots()
    _plain(axes)
    return figure, axes


def _plain(axes) -> None:
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(GREY)
    axes.tick_params(colors=INK, labelsize=9)
    axes.xaxis.label.set_color(INK)
    axes.yaxis.label.set_color(INK)


def _svg(figure, name: str, alt: str) -> Picture:
    """SVG text with text as text, fixed ids, and the alternative text inside."""
    out = io.StringIO()
    with _matplotlib().rc_context({"svg.fonttype": "none", "svg.hashsalt": name, "font.family": "sans-serif"}):
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
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
    return Picture(re.sub(r"(<svg[^>]*>)", lambda m: m.group(1) + title, text, count=1))


def _columns(source: Any, method: str, *arguments: Any) -> dict:
    """The columns to draw: of a trace by `method`, of a table, or as they are."""
    if hasattr(source, method):
        source = getattr(source, method)(*arguments)
    return source if isinstance(source, dict) else source.to_dict()


def _nothing(what: str) -> GlycemicError:
    return GlycemicError(f"there is nothing to draw: {what}", code="nothing_to_draw", argument="source")


def _gaps(values: Iterable[float | None]) -> list[float]:
    return [float("nan") if v is None else v for v in values]


def _clock(axes, label: str = "local time of day") -> None:
    axes.set_xlim(0, 24)
    axes.set_xticks(range(0, 25, 3), [f"{h:02d}:00" for h in range(0, 25, 3)])
    axes.set_xlabel(label)


def _limits(axes, low: float, high: float) -> None:
    """Faint lines at the limits that lie inside."""
    for limit in LIMITS:
        if low < limit < high:
            axes.axhline(limit, color=GREY, linewidth=0.8, linestyle=(0, (1, 3)), zorder=0)
            axes.annotate(
                str(limit), (1, limit), xycoords=("axes fraction", "data"), xytext=(3, 0),
                textcoords="offset points", va="center", fontsize=8, color=GREY,
            )  # fmt: skip


def _shades(count: int) -> list[str]:
    """Of the outermost band to the innermost."""
    return ([PALEST, PALE] if count <= 2 else list(STEPS[:count]))[-count:] if count else []
