"""How the pages become a site: `make site`. Nothing is fetched, neither here nor by a reader."""

from __future__ import annotations

import re
from typing import Any

from docutils import nodes
from docutils.utils.math.latex2mathml import tex2mathml
from pygments.lexers.special import TextLexer
from sphinx.application import Sphinx
from sphinx.transforms.post_transforms import SphinxPostTransform

from wellheard import __version__

FONTS = "../src/wellheard/data/fonts"

project = "Wellheard"
release = __version__
html_title = "Wellheard"

extensions = ["myst_parser"]
source_suffix = {".md": "markdown"}
root_doc = "index"
exclude_patterns = ["pictures/README.md", "_theme"]
smartquotes = False

myst_enable_extensions = ["dollarmath"]
myst_heading_anchors = 3
myst_dmath_double_inline = True

html_theme = "sheet"
html_theme_path = ["_theme"]
html_static_path = [
    *(f"{FONTS}/Barlow-{face}.woff2" for face in ("Regular", "Italic", "Medium", "SemiBold")),
    f"{FONTS}/OFL.txt",
]
html_math_renderer = "mathml"
html_copy_source = False
html_show_sourcelink = False
html_use_index = False
html_domain_indices = False
html_permalinks_icon = "#"
pygments_style = "bw"


def setup(app: Sphinx) -> dict[str, Any]:
    """Let formulas be MathML, which a browser draws by itself, and wide tables scroll."""
    app.add_html_math_renderer("mathml", (_inline_math, None), (_block_math, None))
    app.add_lexer("csv", TextLexer)
    app.add_post_transform(TablesScroll)
    return {"parallel_read_safe": True, "parallel_write_safe": True}


class TablesScroll(SphinxPostTransform):
    """Give every table a frame of its own, which scrolls where the page is narrow."""

    default_priority = 900

    def run(self, **_: Any) -> None:
        """Wrap the tables of one page."""
        for table in list(self.document.findall(nodes.table)):
            frame = nodes.container(classes=["wide-table"])
            table.replace_self(frame)
            frame += table


def _inline_math(writer: Any, node: nodes.math) -> None:
    writer.body.append(_one_line(tex2mathml(node.astext())))
    raise nodes.SkipNode


def _block_math(writer: Any, node: nodes.math_block) -> None:
    writer.body.append('<div class="formula">')
    writer.body.append(_one_line(tex2mathml(node.astext(), as_block=True)))
    writer.body.append("</div>\n")
    raise nodes.SkipNode


def _one_line(mathml: str) -> str:
    """Leave out the white space between elements, and entities that only MathML knows."""
    return re.sub(r">\s+<", "><", mathml).replace("&ApplyFunction;", "\u2061")
