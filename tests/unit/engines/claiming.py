"""Questions, facts and answers of provers over small specs, for their tests."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import z3

from prioritylogic import load
from prioritylogic.engines.lemmas import Lemmas
from prioritylogic.engines.limits import Limits
from prioritylogic.engines.part import Options
from prioritylogic.engines.proving import Bounded, Reaching
from prioritylogic.engines.solving import Translated
from prioritylogic.engines.transition import Transition
from prioritylogic.model.system import System
from prioritylogic.requirements.observer import Observer, observer
from prioritylogic.semantics.terms import Term, Terms

PLENTY = 50_000_000  # more of Z3's work than any spec here takes

# Something of every kind that a state has, with letters that are not ASCII and indices.
EVERY_KIND = """
system: winde
groups:
  seite: [links, rechts]
inputs:
  knopf[seite]: button
  modus: {values: [auto, hand, über], start: auto}
  zwei: {values: [ja, nein]}
  eins: {values: [nur]}
  hebel[seite]: -100 % to 100 %
  winkel: -30 deg to 30 deg
  zahl: -1 to 2.5
memory:
  wer: {values: seite, start: links}
  anzahl[seite]: {values: whole -3 to 3, start: 0}
  gut: {values: yes_no, start: no}
machines:
  steuer:
    states:
      - frei
      - hält[seite]
      - gesperrt[seite]
    start: frei
    rules:
      - id: nimm
        each: c in seite
        from: frei
        if: pressed(knopf[c])
        to: hält[c]
        set:
          anzahl[c]: min(anzahl[c] + 1, 3)
      - {id: sperr, each: c in seite, from: "hält[c]", after: 2 s, to: "gesperrt[c]"}
      - {id: spaet, each: c in seite, from: "hält[c]", after: 5 s, to: frei}
      - {id: lös, each: c in seite, from: "gesperrt[c]", takes: 1 s to 3 s, to: frei}
      - {id: seit, from: frei, since: nimm, takes: 1 s to 3 s, set: {gut: not gut, wer: rechts}}
  lampe[c in seite]:
    states: [an, aus]
    start: aus
    rules:
      - {id: hell, from: aus, if: "(knopf[c]) for 3 s and winkel > 3 deg and hebel[c] > 2 %", to: an}
      - {id: dunkel, from: an, if: "zwei is ja and eins is nur and zahl > 0 and modus is hand", to: aus}
alerts:
  ruf[c in seite]:
    raise: lampe[c] is an
    repeat: 2 s
    silence:
      by: pressed(knopf[c])
      for: 4 s
requirements:
  - id: R
    after: lampe[links] is an and wer is links and gut and modus is über or anzahl[rechts] > 1
    expect: steuer is frei or ruf[links].sounds
    within: 3 s
"""


def watching(system: System, number: int = 0) -> Observer:
    """The observer of a requirement that has one."""
    found = observer(system.requirements[number])
    assert found is not None
    return found


def question(text: str | System, number: int = 0) -> Transition:
    """What is asked by a requirement of a spec."""
    system = load(text) if isinstance(text, str) else text
    return Transition(system, watching(system, number))


def prover(
    engine: type[Reaching | Bounded], system: System, limits: Limits | None = None
) -> Reaching | Bounded:
    """An engine that can be asked about each requirement of a system."""
    requirements = list(system.requirements)
    watched = {number: observer(r) for number, r in enumerate(requirements)}
    known = {number: found for number, found in watched.items() if found is not None}
    return engine(system, requirements, known, limits or Limits(), Options())


def alike(transition: Transition, one: Term, other: Term) -> bool:
    """Whether two facts are true in the same states."""
    context = z3.Context()
    translated = Translated(context)
    solver = z3.Solver(ctx=context)
    solver.add(*(translated.of(fact) for fact in transition.symbolic.typing))
    solver.add(translated.of(one) != translated.of(other))
    return bool(solver.check() == z3.unsat)


class Facts:
    """Random facts over a question's variables."""

    def __init__(self, transition: Transition, seed: int) -> None:
        self.terms: Terms = transition.terms
        self.random = Random(seed)
        variables = list(transition.everything.values())
        self.truths = [v for v in variables if v.sort == "Bool"]
        lemmas, kinds = Lemmas(transition), dict[object, list[Term]]()
        for variable in variables:
            if variable.sort != "Bool":
                kinds.setdefault(lemmas.dimension(str(variable.leaf)), []).append(variable)
        self.kinds = list(kinds.values())  # figures that can be compared

    def fact(self, depth: int = 3) -> Term:
        """A fact as a solver might find it: anything of the logical and linear operations."""
        t, random = self.terms, self.random
        kind = random.randrange(9) if depth else random.choice((0, 1))
        parts = [self.fact(depth - 1) for _ in range(random.randint(2, 4))] if kind > 1 else []
        match kind:
            case 0:
                return random.choice(self.truths)
            case 1:
                return self.compared()
            case 2 | 3:
                return t.any(*parts)
            case 4:
                return t.all(*parts)
            case 5 | 6:
                return t.negation(parts[0])
            case 7:
                return t.choose(parts[0], parts[1], parts[-1])
        return t.same(parts[0], parts[1])

    def compared(self) -> Term:
        """A comparison of two sums."""
        t = self.terms
        numbers = self.random.choice(self.kinds)
        left, right = self.total(numbers), self.total(numbers)
        if self.random.random() < 0.25:
            return t.same(left, right)
        return t.below(left, right, self.random.random() < 0.5)

    def total(self, numbers: list[Term]) -> Term:
        """A sum of a few variables, each with a factor, and a figure."""
        t, random = self.terms, self.random
        parts = [t.const(self.figure())] if random.random() < 0.6 else []
        for variable in random.sample(numbers, min(len(numbers), random.choice((0, 1, 1, 2)))):
            part = t.real(variable) if random.random() < 0.5 else variable
            parts.append(t.multiply(t.const(self.figure()), part) if random.random() < 0.5 else part)
        return t.add(*parts)

    def figure(self) -> int | Fraction:
        """A figure, plain or less so."""
        whole = self.random.randint(-5, 5)
        return (
            whole
            if self.random.random() < 0.4
            else Fraction(whole, self.random.choice((1, 2, 3, 7, 10)))
        )
