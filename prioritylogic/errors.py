"""What can go wrong, and how it is said.

    PriorityLogicError           anything this package raises on purpose
    ├── SpecError                the text of a spec is wrong; carries every Problem found
    ├── RequestError             the call or command line asks for something that is not there
    ├── LimitError               a time, memory or work limit ended a computation
    └── DisagreementError        two of our own answers differ; carries the path of a reproducer

A Problem is data (code, message, span, remedy); turning it into text with its source line and a
caret is `show_problem`, so that the terminal, the JSON output and the notebooks say the same.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

Level = Literal["error", "warning", "note"]


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A stretch of one line of a spec.

    Attributes:
        file: the name as the user gave it.
        line: counted from 1.
        column: counted from 1, in characters.
        length: in characters, at least 1.
    """

    file: str = "<text>"
    line: int = 1
    column: int = 1
    length: int = 1

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


NOWHERE = Span()


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault in a spec's text.

    Attributes:
        code: a short stable name, such as "unknown-name".
        message: one sentence that quotes the offending value.
        span: where it is.
        remedy: one sentence: what to write instead, or what to look at.
    """

    code: str
    message: str
    span: Span
    remedy: str


class PriorityLogicError(Exception):
    """Anything this package raises on purpose."""


class SpecError(PriorityLogicError):
    """The spec's text is wrong.

    Attributes:
        problems: every fault found, in the order of the text, without repeats.
        text: the whole source, for showing the lines.
    """

    def __init__(self, problems: Iterable[Problem], text: str = "") -> None:
        self.problems = tuple(sorted(set(problems), key=lambda p: (p.span, p.code, p.message)))
        self.text = text
        super().__init__("\n\n".join(show_problem(p, text) for p in self.problems))


class RequestError(PriorityLogicError):
    """A call or command line that asks for something that is not there."""


class LimitError(PriorityLogicError):
    """A limit ended a computation; `limit` says which one, in a person's words. `final`: it is one on
    time or memory, so nothing else need be tried."""

    def __init__(self, limit: str, final: bool = False) -> None:
        self.limit = limit
        self.final = final
        super().__init__(limit)


class DisagreementError(PriorityLogicError):
    """Two of our own answers differ. A bug of ours, never of the spec's author."""

    def __init__(self, message: str, reproducer: str = "") -> None:
        self.reproducer = reproducer
        super().__init__(message)


def show_problem(problem: Problem, text: str) -> str:
    """The problem as a person reads it: place, message, source line, caret, remedy.

    >>> print(show_problem(Problem("unknown-unit", "no unit is called 'sec'",
    ...                            Span("a.yaml", 1, 7, 3), "did you mean 's'?"), "wait: sec"))
    a.yaml:1:7: no unit is called 'sec' [unknown-unit]
        wait: sec
              ^^^
      did you mean 's'?
    """
    span = problem.span
    lines = text.split("\n")
    shown = [f"{span}: {problem.message} [{problem.code}]"]
    if 1 <= span.line <= len(lines):
        line = lines[span.line - 1].rstrip("\r")
        start = min(span.column - 1, len(line))
        length = max(1, min(span.length, len(line) - start))
        first = max(0, start - 90)
        excerpt = line[first : first + 200].replace("\t", " ")
        shown += [f"    {excerpt}", "    " + " " * (start - first) + "^" * min(length, 200)]
    shown.append(f"  {problem.remedy}")
    return "\n".join(shown)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that is most like `word`, if one is near enough to suggest."""
    found = difflib.get_close_matches(word, sorted(set(known)), n=1, cutoff=0.6)
    return found[0] if found else None


def did_you_mean(word: str, known: Iterable[str], otherwise: str) -> str:
    """A remedy: the nearest known word, or else the given sentence."""
    near = nearest(word, known)
    return f"did you mean '{near}'?" if near else otherwise


@dataclass(slots=True)
class Problems:
    """Collects the faults of one spec, so that all of them are shown at once."""

    found: list[Problem] = field(default_factory=list)

    def add(self, code: str, message: str, span: Span, remedy: str) -> None:
        """Note a fault and go on."""
        self.found.append(Problem(code, message, span, remedy))

    def stop_if_any(self, text: str) -> None:
        """Raise SpecError with everything found so far, if anything was."""
        if self.found:
            raise SpecError(self.found, text)
