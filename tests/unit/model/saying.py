"""Small specs as text, and formulas as a person would say them (a prime marks the value before)."""

from __future__ import annotations

from fractions import Fraction

from prioritylogic.errors import Problem, SpecError
from prioritylogic.model import formula as f
from prioritylogic.model.build import build
from prioritylogic.model.system import System
from prioritylogic.syntax.reader import read

NAMES = """\
system: x
groups: {cabin: [left, right], mast: [fore, mid, aft]}
settings: {limit: 4 %, hold: 9 s}
inputs:
  take[cabin]: button
  go: button
  shut: signal
  lever[cabin]: -100 % to 100 %
  heading: 0 deg to 360 deg
  mode: [manual, automatic]
memory:
  last: {values: cabin, start: left}
  n[cabin]: {values: whole 0 to 3, start: 0}
  done: {values: yes_no, start: no}
terms:
  moved[c in cabin]: abs(lever[c]) > limit
  pushed: pressed(go)
machines:
  pilot:
    states: [standby, active]
    start: standby
    rules: [{id: engage, from: standby, if: pressed(go), to: active}]
  helm:
    states:
      - free
      - held[cabin]
    start: free
    rules:
      - id: grip
        each: c in cabin
        from: any
        if: pressed(take[c])
        to: held[c]
        set:
          last: c
alerts:
  jam: {raise: shut and go}
"""


def built(text: str) -> System:
    return build(read(text), text)


def problems(text: str) -> tuple[Problem, ...]:
    try:
        built(text)
    except SpecError as error:
        return error.problems
    return ()


def codes(text: str) -> list[str]:
    return [problem.code for problem in problems(text)]


def asked(expression: str, each: str = "") -> str:
    family = f", each: '{each}'" if each else ""
    return f"{NAMES}requirements: [{{id: R{family}, possible: {expression!r}}}]\n"


def lowered(expression: str, each: str = "") -> str:
    """What an expression becomes; of a family, the first member."""
    form = built(asked(expression, each)).requirements[0].form
    return say(form.condition)


def say(formula: f.Formula) -> str:
    match formula:
        case f.Const(bool() as value):
            return str(value).lower()
        case f.Const(Fraction() as value):
            return str(value)
        case f.Const(value):
            return str(value)
        case f.Read(name, before):
            return name + "'" * before
        case f.TimedRead(timer, operand, before):
            return f"timer{timer}'" if before else f"timer{timer}({say(operand)})"
        case f.AlertRead(alert, what, before):
            return f"{alert}.{what}" + "'" * before
        case f.Taken(rules):
            return f"taken({', '.join(rules)})"
        case f.Not(operand):
            return f"!{say(operand)}"
        case f.All(parts):
            return f"({' & '.join(map(say, parts))})"
        case f.Some(parts):
            return f"({' | '.join(map(say, parts))})"
        case f.Choose(condition, then, other):
            return f"({say(condition)} ? {say(then)} : {say(other)})"
        case f.Same(left, right):
            return f"{say(left)}={say(right)}"
        case f.Less(left, right, or_equal):
            return f"{say(left)}{'<=' if or_equal else '<'}{say(right)}"
        case f.Sum(parts):
            return f"({' + '.join(map(say, parts))})"
        case f.Product(left, right):
            return f"{say(left)}*{say(right)}"
        case f.Least(parts):
            return f"min({', '.join(map(say, parts))})"
        case f.Greatest(parts):
            return f"max({', '.join(map(say, parts))})"
