"""Terms as SMT-LIB 2.6 text, always the same text for the same terms.

Why a printer of our own: what one solver prints is not stable (names of shared parts, the order of
declarations) and not always what another reads. Here a part that occurs more than once is defined
before it is used, names are quoted as they are, and numbers are exact quotients.

Source: Barrett, Fontaine, Tinelli, "The SMT-LIB Standard: Version 2.6".
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from fractions import Fraction

from prioritylogic.semantics.terms import Term, subterms, variables


def script(facts: Iterable[Term], comment: str = "") -> str:
    """A script that asks whether all these facts can be true together.

    >>> from prioritylogic.semantics.terms import Terms
    >>> t = Terms()
    >>> x = t.var("x", "Real")
    >>> print(script([t.below(t.zero, x), t.below(x, t.zero)]), end="")
    (set-logic QF_LRA)
    (declare-const |x| Real)
    (assert (< 0.0 |x|))
    (assert (< |x| 0.0))
    (check-sat)
    """
    facts = tuple(facts)
    everything = list(subterms(facts))
    uses = Counter(id(arg) for term in everything for arg in term.args)
    lines = [f"; {line}" for line in comment.splitlines()]
    lines.append(f"(set-logic {_logic(everything)})")
    lines += [f"(declare-const {_name(v)} {v.sort})" for v in variables(*facts).values()]
    written: dict[int, str] = {}
    for term in everything:
        text = _written(term, [written[id(arg)] for arg in term.args])
        if term.args and uses[id(term)] > 1:
            name = f"${len(lines)}"  # no name of a spec begins so
            lines.append(f"(define-fun {name} () {term.sort} {text})")
            text = name
        written[id(term)] = text
    lines += [f"(assert {written[id(fact)]})" for fact in facts]
    return "\n".join([*lines, "(check-sat)", ""])


def _logic(terms: list[Term]) -> str:
    """The smallest standard logic that has all of these."""
    sorts = {term.sort for term in terms} | {arg.sort for term in terms for arg in term.args}
    if any(term.op in ("is_int", "to_int") for term in terms):
        sorts.add("Int")
    products = (t for t in terms if t.op == "*")
    linear = all(any(arg.op == "const" for arg in term.args) for term in products)
    kinds = ("I" if "Int" in sorts else "") + ("R" if "Real" in sorts else "")
    return f"QF_{'L' if linear else 'N'}{kinds}A" if kinds else "QF_UF"


def _name(variable: Term) -> str:
    return f"|{variable.leaf}|"


def _written(term: Term, args: list[str]) -> str:
    if term.op == "var":
        return _name(term)
    if term.op == "const":
        return _constant(term)
    return f"({term.op} {' '.join(args)})"


def _constant(term: Term) -> str:
    if isinstance(term.leaf, bool):
        return "true" if term.leaf else "false"
    assert not isinstance(term.leaf, str)
    value = Fraction(term.leaf)
    point = ".0" if term.sort == "Real" else ""
    text = f"{abs(value.numerator)}{point}"
    if value.denominator != 1:
        text = f"(/ {text} {value.denominator}.0)"
    return f"(- {text})" if value < 0 else text
