"""Terms as Z3 sees them, and Z3 kept within limits.

Z3 is asked through one `Solving` per question: it turns terms into Z3's objects, counts work in Z3's
own resource units (the same on every machine), and turns a time limit or a work limit into
`LimitError`. Both end inside Z3 as an exception that says "canceled", which never leaves here.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from fractions import Fraction
from typing import Any

import z3

from prioritylogic.engines.limits import Limits
from prioritylogic.errors import LimitError
from prioritylogic.evidence.words import grouped
from prioritylogic.semantics.terms import Figure, Term

LOOK_EVERY = 0.05  # seconds
MANY = {"and": z3.Z3_mk_and, "or": z3.Z3_mk_or, "+": z3.Z3_mk_add, "*": z3.Z3_mk_mul}
FEW = {
    "not": z3.Z3_mk_not,
    "ite": z3.Z3_mk_ite,
    "=": z3.Z3_mk_eq,
    "<": z3.Z3_mk_lt,
    "<=": z3.Z3_mk_le,
    "to_real": z3.Z3_mk_int2real,
    "to_int": z3.Z3_mk_real2int,
    "is_int": z3.Z3_mk_is_int,
}


class Translated:
    """Terms as Z3 expressions of one context; variables may be called otherwise by a prefix."""

    def __init__(self, context: z3.Context) -> None:
        self.context = context
        self._done: dict[tuple[int, str], tuple[Term, Any]] = {}

    def of(self, root: Term, prefix: str = "") -> Any:
        """One term."""
        done = self._done
        stack = [root]
        while stack:
            term = stack[-1]
            if (id(term), prefix) in done:
                stack.pop()
                continue
            missing = [arg for arg in term.args if (id(arg), prefix) not in done]
            if missing:
                stack += missing
                continue
            args = [done[id(arg), prefix][1] for arg in term.args]
            done[id(term), prefix] = (term, self._made(term, args, prefix))
        return done[id(root), prefix][1]

    def _made(self, term: Term, args: list[Any], prefix: str) -> Any:
        """One operation; by Z3's C interface, since its Python one looks at every sort again."""
        if term.op == "var":
            return self.variable(term, prefix)
        if term.op == "const":
            return self.constant(term.leaf)
        context = self.context.ref()
        handles = [arg.as_ast() for arg in args]
        many = MANY.get(term.op)
        if many is not None:
            made = many(context, len(handles), (z3.Ast * len(handles))(*handles))
        else:
            made = FEW[term.op](context, *handles)
        kind = z3.BoolRef if term.sort == "Bool" else z3.ArithRef
        return kind(made, self.context)

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


def asked(context: z3.Context, limits: Limits, question: Callable[[], Any], work: int = 0) -> Any:
    """Z3's answer to a question, put in a thread of its own: so this one can look at the limits, and
    hears when a person stops the program, while Z3 works. (Whoever asks tells Z3 to leave Ctrl-C alone.)

    Raises:
        LimitError: a limit was reached, or Z3 gave up.
    """
    limits.check()
    with ThreadPoolExecutor(1) as threads:
        answer = threads.submit(question)
        try:
            while wait([answer], LOOK_EVERY).not_done:
                limits.check()
            return answer.result()
        except z3.Z3Exception as error:
            limits.check()
            raise given_up(_said(error), work) from None
        finally:
            while wait([answer], LOOK_EVERY / 10).not_done:
                context.interrupt()  # again and again: one that comes between two calls is lost


def _said(error: z3.Z3Exception) -> str:
    said = error.args[0] if error.args else ""
    return said.decode() if isinstance(said, bytes) else str(said)


def given_up(why: str, work: int) -> LimitError:
    """The error for a solver that has no answer, by the reason that it gives."""
    if "resource" in why or "canceled" in why:
        return LimitError(f"the work limit of {grouped(work)} solver steps was reached")
    return LimitError("the solver cannot decide it, as happens where figures are multiplied")
