"""A fold guide as one HTML page that loads nothing and runs no scripts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from packer.drawing.guide_panels import panels
from packer.drawing.writers.html import page, paragraphs, picture, section, text
from packer.drawing.writers.svg import svg_text

if TYPE_CHECKING:
    from packer.drawing.panel import Panel
    from packer.landmarks.fold_guide import FoldGuide

WIDTHS: Final = {"quarter": (110.0, 110.0), "half": (150.0, 150.0), "full": (170.0, 170.0)}
"""Room for a picture in mm, by the size of its panel."""

STYLES: Final = """
.steps { display: grid; gap: 1.4rem; grid-template-columns: repeat(auto-fit, minmax(min(100%, 24rem), 1fr)); align-items: start }
.steps.large { grid-template-columns: 1fr }
.step { break-inside: avoid }
.step h3 { margin: .2rem 0 }
.step.two .pictures { display: grid; gap: .8rem; grid-template-columns: repeat(auto-fit, minmax(min(100%, 20rem), 1fr)) }
"""


def guide_html(guide: FoldGuide, version: str = "") -> str:
    """Return a guide as HTML: the same steps and pictures as its printed pages."""
    title = guide.pattern.title or "Fold guide"
    body = [f"<header>\n<h1>{text(title)}: fold guide</h1>\n</header>\n<main>\n"]
    count = 0
    for heading, rows in panels(guide):
        steps = []
        for panel in rows:
            count += 1
            steps.append(_step(panel, f"step{count}-"))
        large = "" if rows[0].size == "quarter" else " large"
        body.append(section(heading, f'<div class="steps{large}">\n{"".join(steps)}</div>\n'))
    body.append(f"</main>\n<footer>Made with packer {text(version)}.</footer>\n")
    return page(f"{title}: fold guide", f"How to fold {title}", "".join(body), STYLES)


def _step(panel: Panel, prefix: str) -> str:
    pictures = "".join(
        picture(svg_text(draw(*WIDTHS[panel.size]), f"{prefix}{k}-"), "")
        for k, draw in enumerate(panel.pictures)
    )
    turn = paragraphs(["Turn the paper over."]) if panel.turn else ""
    two = " two" if len(panel.pictures) > 1 else ""
    return (
        f'<article class="step{two}">\n<h3>{text(panel.heading)}</h3>\n{turn}'
        f'<div class="pictures">\n{pictures}</div>\n{paragraphs(panel.lines)}</article>\n'
    )
