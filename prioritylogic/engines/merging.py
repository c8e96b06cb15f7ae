"""Facts that differ in one name, said as one.

`command is shared implies not asked` and `command is locked implies not asked` together say `asked
implies command is held`, if that is the third value. A fact is an `or` of parts; what it says of one
name is the set of values that it allows. Facts with the same other parts are joined to one that allows
what both do. Nothing is lost or gained, since a name always has exactly one value.
"""

from __future__ import annotations

from collections.abc import Mapping

from prioritylogic.engines.transition import Transition
from prioritylogic.semantics.terms import Term, Terms, variables


def merged(transition: Transition, facts: list[Term]) -> list[Term]:
    """The facts, as few as they can be said in, in the order of the first of each; and each fact's
    parts in the order in which the spec names things."""
    names = transition.symbolic.named
    while True:
        joined = _joined(transition.terms, names, facts)
        if len(joined) == len(facts):
            break
        facts = joined
    places = {name: place for place, name in enumerate(transition.everything)}

    def ordered(fact: Term) -> Term:
        if fact.op != "or":
            return fact
        parts = sorted(fact.args, key=lambda part: [places[name] for name in variables(part)])
        return transition.terms.any(*parts)

    return list(dict.fromkeys(map(ordered, facts)))


def _joined(terms: Terms, names: Mapping[str, tuple[Term, ...]], facts: list[Term]) -> list[Term]:
    """One round: the first pair of facts that can be one is."""
    known: dict[tuple[str, frozenset[int]], tuple[int, list[Term], set[Term]]] = {}
    for place, fact in enumerate(facts):
        parts = list(fact.args) if fact.op == "or" else [fact]
        for name, values in names.items():
            allowed, others = _split(parts, values)
            if allowed is None:
                continue
            key = (name, frozenset(map(id, others)))
            if key not in known:
                known[key] = (place, others, allowed)
                continue
            first, _, before = known[key]
            both = [is_ for is_ in values if is_ in before & allowed]
            one = terms.any(*others, *both)
            rest = [other for at, other in enumerate(facts) if at not in (first, place)]
            return [*rest[:first], one, *rest[first:]]
    return facts


def _split(parts: list[Term], values: tuple[Term, ...]) -> tuple[set[Term] | None, list[Term]]:
    """What a fact allows a name to be, if it says anything of it, and its other parts."""
    allowed: set[Term] = set()
    others: list[Term] = []
    told = False
    for part in parts:
        if part in values:
            allowed.add(part)
        elif part.op == "not" and part.args[0] in values:
            allowed |= {is_ for is_ in values if is_ is not part.args[0]}
        else:
            others.append(part)
            continue
        told = True
    return (allowed, others) if told else (None, parts)
