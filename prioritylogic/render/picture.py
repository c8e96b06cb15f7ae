"""A picture: its DOT text, laid out as SVG or PNG.

The layout is done by a system `dot` where there is one, else by the program that the package
graphviz-pure installs beside Python. An SVG stands alone (no outside fonts, styles or images), has a
white ground, and begins with a title and a description for whoever cannot see it.
"""

from __future__ import annotations

import re
import shutil
import sysconfig
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeAlias

from prioritylogic.errors import RequestError
from prioritylogic.render.dot import escaped

Kind: TypeAlias = Literal["svg", "png", "dot"]
KINDS: tuple[Kind, ...] = ("svg", "png", "dot")
SCALE = 192  # dots per inch of a PNG: sharp on screens of today
FAMILY = "Helvetica, Arial, 'Liberation Sans', sans-serif"
LONGEST = 150_000  # signs of DOT text; that takes 10 s to lay out, and nobody can read more


@dataclass(frozen=True, slots=True)
class Picture:
    """Something drawn.

    Attributes:
        name: what its files are called, without an ending.
        title: one line.
        about: the description for screen readers.
        dot: its canonical text.
    """

    name: str
    title: str
    about: str
    dot: str

    def svg(self) -> str:
        """The picture as SVG text.

        Raises:
            RequestError: no layout program is installed, or it cannot lay this out.
        """
        return _spoken(_laid_out(self.dot, "svg").decode("utf-8"), self.title, self.about)

    def png(self) -> bytes:
        """The picture as PNG.

        Raises:
            RequestError: no layout program is installed, or it cannot lay this out.
        """
        sharp = self.dot.replace("  graph [", f'  graph [dpi="{SCALE}", ', 1)
        return _laid_out(sharp, "png")

    def data(self, kind: Kind) -> bytes:
        """The bytes of its file of a kind."""
        if kind == "png":
            return self.png()
        return (self.svg() if kind == "svg" else self.dot).encode("utf-8")


def _laid_out(dot: str, kind: str) -> bytes:
    import graphviz
    from graphviz.backend import dot_command

    if len(dot) > LONGEST:
        raise RequestError("this is too much for one picture; its DOT text can still be written")
    if not shutil.which(str(dot_command.DOT_BINARY)):
        dot_command.DOT_BINARY = _installed_beside_python()
    try:
        return bytes(graphviz.pipe("dot", kind, dot.encode("utf-8"), quiet=True))
    except (OSError, graphviz.ExecutableNotFound, graphviz.CalledProcessError) as error:
        told = getattr(error, "stderr", None) or str(error).encode("utf-8")
        said = bytes(told).decode("utf-8", "replace").strip().partition("\n")[0]
        raise RequestError(f"the layout program failed: {said or 'it does not say why'}") from error


def _installed_beside_python() -> Path:
    found = shutil.which("graphviz-pure", path=sysconfig.get_path("scripts"))
    found = found or shutil.which("graphviz-pure")
    if not found:
        raise RequestError(
            "no layout program is here; `pip install graphviz-pure` brings one (DOT texts need none)"
        )
    return Path(found)


def _spoken(svg: str, title: str, about: str) -> str:
    """The SVG with a title and a description, without the program's own remarks and tooltips."""
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<!--.*?-->\n?", "", svg, flags=re.DOTALL)
    svg = re.sub(r"<title>.*?</title>\n?", "", svg, flags=re.DOTALL)
    svg = re.sub(r'font-family="[^"]*"', f'font-family="{FAMILY}"', svg)
    spoken = f"<title>{escaped(title)}</title>\n<desc>{escaped(about)}</desc>\n"
    head, rest = svg.split(">", 1)
    return f'{head} role="img">\n{spoken}{rest.lstrip()}'
