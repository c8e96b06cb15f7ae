"""Terms as Z3 sees them, and Z3 kept within limits.

Z3 is asked through one `Solving` per question: it turns terms into Z3's objects, counts work in Z3's
own resource units (the same on every machine), and turns a time limit or a work limit into
`LimitError`. Both end inside Z3 as an exception that says "canceled", which never leaves here.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from functools import reduce
from typing import Any

import z3

from prioritylogic.engines.limits import Limits
from prioritylogic.errors import LimitError
from prioritylogic.evidence.words import grouped
from prioritylogic.semantics.terms import Figure, Term, subterms

LOOK_EVERY = 0.05  # seconds


class Translated:
    """Terms as Z3 expressions of one context; variables may be called otherwise by a prefix."""

    def __init__(self, context: z3.Context) -> None:
        self.context = context
        self._done: dict[tuple[int, str], tuple[Term, Any]] = {}

    def of(self, root: Term, prefix: str = "") -> Any:
        """One term."""
        for term in subterms([root]):
            key = (id(term), prefix)
            if key not in self._done:
                args = [self._done[id(arg), prefix][1] for arg in term.args]
                self._done[key] = (term, self._made(term, args, prefix))
        return self._done[id(root), prefix][1]

    def _made(self, term: Term, args: list[Any], prefix: str) -> Any:
        match term.op:
            case "var":
                return self.variable(term, prefix)
            case "const":
                return self.constant(term.leaf)
            case "not":
                return z3.Not(args[0])
            case "and":
                return z3.And(*args)
            case "or":
                return z3.Or(*args)
            case "ite":
                return z3.If(*args)
            case "=":
                return args[0] == args[1]
            case "<":
                return args[0] < args[1]
            case "<=":
                return args[0] <= args[1]
            case "+":
                return reduce(lambda a, b: a + b, args)
            case "*":
                return args[0] * args[1]
            case "to_real":
                return z3.ToReal(args[0])
            case "to_int":
                return z3.ToInt(args[0])
            case "is_int":
                return z3.IsInt(args[0])
        raise AssertionError(term.op)

    def variable(self, term: Term, prefix: str = "") -> Any:
        """A variable."""
        name = prefix + str(term.leaf)
        match term.sort:
            case "Bool":
                return z3.Bool(name, self.context)
            case "Int":
                return z3.Int(name, self.context)
        return z3.Real(name, self.context)

    def constant(self, value: str | Figure) -> Any:
        """A constant."""
        if isinstance(value, bool):
            return z3.BoolVal(value, self.context)
        if isinstance(value, int):
            return z3.IntVal(value, self.context)
        assert isinstance(value, Fraction)
        return z3.RealVal(f"{value.numerator}/{value.denominator}", self.context)


@contextmanager
def limited(context: z3.Context, limits: Limits) -> Iterator[None]:
    """Stops Z3 when a limit on time or memory is reached, wherever in its work it is.

    Raises:
        LimitError: it was.
    """
    over = threading.Event()

    def watch() -> None:
        while not over.wait(LOOK_EVERY):
            try:
                limits.check()
            except LimitError:
                context.interrupt()  # again and again: one that comes between two calls is lost

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield
    except z3.Z3Exception as error:
        limits.check()
        raise LimitError(f"the solver gave up ({_said(error)})") from None
    finally:
        over.set()
        watcher.join()
    limits.check_time()


def _said(error: z3.Z3Exception) -> str:
    said = error.args[0] if error.args else ""
    return said.decode() if isinstance(said, bytes) else str(said)


def work_limit(work: int) -> LimitError:
    """The error for a solver that has used up its work."""
    return LimitError(f"the work limit of {grouped(work)} solver steps was reached")
