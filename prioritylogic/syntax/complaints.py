"""What is wrong with an expression that does not parse, in a person's words.

The parser says where it stopped and which terminals could have stood there. Here that becomes a
sentence about what was found, and a remedy. The questions are asked from the most telling mistake
to the most general (`_QUESTIONS`, in that order); the last one always has an answer. No name of a
terminal or rule is ever shown.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from prioritylogic.errors import Problem, nearest
from prioritylogic.syntax.functions import RESERVED
from prioritylogic.syntax.places import Passage, shortened

if TYPE_CHECKING:
    from lark.exceptions import UnexpectedInput

Answer: TypeAlias = tuple[str, str, str]  # code, message, remedy

_LEXEME = re.compile(
    r"[^\W\d]\w*|\d[\w.]*|==+|=>|=<|<>|->|:=|&&|\|\||\*\*|\"[^\"]*\"?|'[^']*'?|!=|<=|>=|\S",
    re.UNICODE,
)
_FOREIGN = {
    "==": "use `=` for quantities and `is` for names",
    "===": "use `=` for quantities and `is` for names",
    ":=": "use `=` for quantities and `is` for names",
    "&&": "write `and`",
    "&": "write `and`",
    "∧": "write `and`",
    "||": "write `or`",
    "|": "write `or`",
    "∨": "write `or`",
    "!": "write `not`",
    "~": "write `not`",
    "¬": "write `not`",
    "->": "write `implies`",
    "=>": "write `implies`, or `>=` for quantities",
    "→": "write `implies`",
    "⇒": "write `implies`",
    "=<": "write `<=`",
    "≤": "write `<=`",
    "≥": "write `>=`",
    "≠": "write `!=`, or `is not` for names",
    "<>": "write `!=`, or `is not` for names",
    "**": "there are no powers; write the product out",
    "^": "there are no powers; write the product out",
    "?": "write `X if C else Y`",
    "xor": "write `a and not b or b and not a`",
}
_DELAYS = {
    "after": "a duration, or `over` and a duration",
    "within": "a duration, or `under` and a duration",
    "takes": "`1 s to 2 s`, `over 1 s to under 2 s`, `at most 2 s`, `under 2 s` or `at least 1 s`",
}
_MARKS = {
    "LPAR": "`(`",
    "RPAR": "`)`",
    "LSQB": "`[`",
    "RSQB": "`]`",
    "COMMA": "`,`",
    "DOT": "`.`",
    "$END": "the end",
}
_NO_WORDS = frozenset(["NAME", "NUMBER", "UNIT", "COMPARE", "PLUS", "MINUS", "STAR", "SLASH"])
_OPERATORS = _NO_WORDS | {word.upper() for word in RESERVED - {"else"}} | {"LPAR", "LSQB", "DOT"}
_COMPARISONS = frozenset({"is", "in", "=", "!=", "<", "<=", ">", ">="})


@dataclass(frozen=True, slots=True)
class _Scene:
    """Where the parser stopped.

    Attributes:
        phrase: the start symbol.
        where: the whole text.
        at: index of what was found.
        found: its text; empty at the end.
        previous: the lexeme before it.
        allowed: the terminals that could have stood there.
    """

    phrase: str
    where: Passage
    at: int
    found: str
    previous: str
    allowed: frozenset[str]

    @property
    def operand_ended(self) -> bool:
        """An expression could end here."""
        return "AND" in self.allowed

    @property
    def operand_wanted(self) -> bool:
        """An expression must begin or go on here."""
        return {"NAME", "NUMBER"} <= self.allowed

    @property
    def quoted(self) -> str:
        """What was found, as a message shows it."""
        return f"`{shortened(self.found)}`"


def complain(phrase: str, where: Passage, error: UnexpectedInput, allowed: frozenset[str]) -> Problem:
    """The problem behind a parser's error; `allowed` are the terminals that could have stood there."""
    scene = _look(phrase, where, error, allowed)
    for question in _QUESTIONS:
        answer = question(scene)
        if answer:
            break
    assert answer is not None
    code, message, remedy = answer
    start, end = scene.at, scene.at + len(scene.found)
    if code == "unbalanced" and not scene.found:
        start = _open_brackets(where.value)[-1]
        end = start + 1
    elif not scene.found:  # point at the last thing written, not behind the line
        end = len(where.value.rstrip())
        start = max(0, end - max(1, len(scene.previous)))
    if where.flow and code in ("unbalanced", "unfinished"):
        remedy += "; inside [ ] and { } a comma ends the item: write one per line, or use quotes"
    return Problem(code, message, where.span(start, max(end, start + 1)), remedy)


def _look(phrase: str, where: Passage, error: UnexpectedInput, allowed: frozenset[str]) -> _Scene:
    text = where.value
    position = error.pos_in_stream
    ended = getattr(getattr(error, "token", None), "type", "") == "$END"
    at = len(text) if ended or position is None else position
    lexeme = _LEXEME.match(text, at)
    before = [m.group() for m in _LEXEME.finditer(text, 0, at)]
    return _Scene(
        phrase, where, at, lexeme.group() if lexeme else "", before[-1] if before else "", allowed
    )


# ---------------------------------------------------------------------------- the questions


def _other_notation(scene: _Scene) -> Answer | None:
    found = scene.found
    if found in _FOREIGN and (found != "xor" or scene.operand_ended):
        return "wrong-operator", f"{scene.quoted} is no operator here", _FOREIGN[found]
    if found[:1] in ("'", '"'):
        return "syntax", f"{scene.quoted} is in quotes", "write names and numbers without quotes"
    if found == "not" and scene.operand_ended:
        return "wrong-operator", "`not` does not join two parts", "write `is not` or `is not in`"
    word = found.lower()
    if word != found and scene.operand_ended and word.upper() in scene.allowed:
        return (
            "wrong-operator",
            f"{scene.quoted} is no operator here",
            f"write `{word}` in small letters",
        )
    return None


def _brackets(scene: _Scene) -> Answer | None:
    opened = _open_brackets(scene.where.value[: scene.at])
    if scene.found in (")", "]") and not opened:
        return "unbalanced", f"{scene.quoted} closes nothing", "delete it, or open it where it belongs"
    if not opened:
        return None
    bracket = scene.where.value[opened[-1]]
    if not scene.found:
        return "unbalanced", f"`{bracket}` is never closed", f"add `{_partner(bracket)}` where it ends"
    if scene.found in (")", "]") and scene.found != _partner(bracket):
        return (
            "unbalanced",
            f"{scene.quoted} cannot close `{bracket}`",
            f"close with `{_partner(bracket)}` first",
        )
    return None


def _missing_duration(scene: _Scene) -> Answer | None:
    if scene.allowed == {"LAST"}:
        return "syntax", "`within` needs `last` in a condition", "write `within last 3 s`"
    if scene.previous in ("for", "last") and "AND" not in scene.allowed and scene.phrase != "name":
        said = "for" if scene.previous == "for" else "within last"
        return (
            "missing-duration",
            f"`{said}` needs a duration" + (f", not {scene.quoted}" if scene.found else ""),
            f"write `{said} 3 s`, `{said} name`, or `{said} (a + b)`",
        )
    return None


def _parentheses(scene: _Scene) -> Answer | None:
    if scene.found in ("for", "within") and scene.operand_ended:
        return (
            "needs-parentheses",
            f"{scene.quoted} may follow only a name, a call or a parenthesis",
            f"put what lasts into parentheses: `(x > 5) {scene.found} ...`",
        )
    if scene.found in _COMPARISONS and scene.operand_ended:
        return (
            "chained-comparison",
            f"{scene.quoted} follows what is already a comparison or a delay",
            "write `a < b and b < c`, or use parentheses",
        )
    if scene.found == "not" and scene.operand_wanted:
        return "needs-parentheses", "`not` cannot stand after an operator", "write `(not x)`"
    return None


def _reserved(scene: _Scene) -> Answer | None:
    if scene.found in RESERVED and "NAME" in scene.allowed and not scene.operand_wanted:
        return (
            "reserved-word",
            f"{scene.quoted} is a word of the notation and cannot be a name",
            f"choose another name, such as `{scene.found}_1`",
        )
    return None


def _delay_form(scene: _Scene) -> Answer | None:
    if scene.phrase == "takes" and not scene.found and "TO" in scene.allowed:
        return (
            "unfinished",
            "`takes` needs both ends of the delay",
            "write `1 s to 2 s`, `at most 2 s`, `at least 1 s` or `some day` (exact delays: `after`)",
        )
    if scene.phrase in _DELAYS and scene.previous in ("over", "under", "at"):
        return (
            "syntax",
            f"`{shortened(scene.previous)}` cannot stand there",
            f"write {_DELAYS[scene.phrase]}",
        )
    return None


def _name_form(scene: _Scene) -> Answer | None:
    if scene.phrase in ("name", "declared", "word") and not scene.allowed & {"RSQB", "NAME"}:
        if scene.previous.isidentifier() and re.match(r"[\w/-]", scene.found):
            return (
                "syntax",
                f"{scene.quoted} cannot stand in a name",
                "a name is one word of letters, digits and `_`",
            )
    return None


def _two_in_a_row(scene: _Scene) -> Answer | None:
    if not scene.operand_ended or not re.match(r"\w|\(|\[", scene.found):
        return None
    remedy = _guess(scene) or "write an operator such as `and`, `is` or `+` between them"
    return "syntax", f"{scene.quoted} cannot follow `{shortened(scene.previous)}`", remedy


def _number_form(scene: _Scene) -> Answer | None:
    text = scene.where.value
    if scene.found == "." and re.match(r"\.\d", text[scene.at :]):
        return "syntax", "a number begins with a digit", "write `0.5`, not `.5`"
    if scene.found == "." and scene.previous[:1].isdigit():
        return "syntax", "a number does not end in a point", "write `5` or `5.0`"
    return None


def _anything(scene: _Scene) -> Answer | None:
    remedy = _guess(scene) or f"expected {_choices(scene)}"
    if scene.found:
        where = f" after `{shortened(scene.previous)}`" if scene.previous else " here"
        return "syntax", f"{scene.quoted} cannot stand{where}", remedy
    said = f" after `{shortened(scene.previous)}`" if scene.previous else ""
    return "unfinished", f"something is missing{said}", remedy


_QUESTIONS: tuple[Callable[[_Scene], Answer | None], ...] = (
    _other_notation,
    _brackets,
    _missing_duration,
    _parentheses,
    _reserved,
    _delay_form,
    _name_form,
    _number_form,
    _two_in_a_row,
    _anything,
)


# ---------------------------------------------------------------------------- small helps


def _open_brackets(text: str) -> list[int]:
    """The places of the brackets that are still open, outermost first."""
    opened: list[int] = []
    for at, char in enumerate(text):
        if char in "([":
            opened.append(at)
        elif char in ")]" and opened:
            opened.pop()
    return opened


def _partner(bracket: str) -> str:
    return ")" if bracket == "(" else "]"


def _guess(scene: _Scene) -> str | None:
    """The word that was meant, if one that may stand here is near."""
    words = (name.lower() for name in scene.allowed - set(_MARKS) - _NO_WORDS)
    near = nearest(scene.found, words) if scene.found not in RESERVED else None
    return f"did you mean `{near}`?" if near else None


def _choices(scene: _Scene) -> str:
    """What could stand here, as a list in words."""
    left = set(scene.allowed)
    said = []
    if scene.operand_wanted:
        said += ["a name", "a number", "`(`"]
        left -= {"NAME", "NUMBER", "LPAR", "MINUS"}
    elif "NAME" in left:
        said.append("a name")
    elif "NUMBER" in left:
        said.append("a number")
    if scene.operand_ended:
        said.append("an operator such as `and`, `is` or `+`")
        left -= _OPERATORS
    elif "PLUS" in left:
        left -= _OPERATORS
    left -= {"NAME", "NUMBER", "UNIT"}
    said += sorted(_MARKS.get(word, f"`{word.lower()}`") for word in left)
    return " or ".join(filter(None, [", ".join(said[:-1]), said[-1]])) if said else "nothing more"
