"""Random small specs, as text, from a seed: the other half of every agreement test.

Why text: a failure is then readable, the whole way from notation to verdict is exercised, and a
shrunk failure can be pasted into a bug report. A spec is plain data (`Spec`: what YAML would give)
until `text_of` writes it, so that the shrinker can take parts away.

Small on purpose: one or two machines of two or three states, one or two buttons, sometimes a lever,
short delays. Kinds of everything rather than many of anything: priority logic breaks in twos.

What it does not do: promise that a spec is meaningful. A spec that is refused, or too big for the
oracle, is passed over (`specs`).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from asking import Asking
from phrases import Spec

import prioritylogic
from prioritylogic.model.system import System


class Maker(Asking):
    """Makes one spec."""

    # ----------------------------------------------------------------- machines

    def rule(self, machine: str, number: int) -> Spec:
        states = self.machines[machine]
        source = states[number] if number < len(states) else self.pick(states)
        made: Spec = {"id": f"{machine}{number}", "from": source}
        if self.chance(0.08):
            made["from"] = "any"
        elif self.chance(0.1):
            made["from"] = sorted({source, self.pick(states)})
        kind = self.random.random()
        target = self.pick([s for s in states if s != source] * 4 + [source])
        if kind < 0.42:
            made["if"] = self.either(machine, 0.7)
        elif kind < 0.70:
            made["after"] = self.time()
            if self.chance(0.4):
                made["if"] = self.either(machine, 0.3)
        elif kind < 0.93:
            made |= self.takes(machine)
        else:
            made["if"] = self.either(machine, 0.3)
            made |= self.pick([{"may": "yes"}, {"may": "yes", "fair": "yes"}])
        if kind >= 0.93 and self.chance(0.1):
            made["after"] = f"over {self.time(2)}"
        written = self.writes(machine)
        if written:
            made["set"] = written
        if not written or self.chance(0.8):
            made["to"] = target
        return made

    def takes(self, machine: str) -> Spec:
        made: Spec = {}
        earlier = [r["id"] for r in self.rules[machine]]
        if earlier and self.chance(0.3):
            made["since"] = self.pick(earlier)
        if self.chance(0.6):
            made["if"] = self.either(machine, 0.3) if "since" in made else self.condition(machine)
        low, high = (1, 2) if self.unit == "s" else (500, 1000)
        unit = "s" if self.unit == "s" else "ms"
        form = self.pick(["most", "most", "most", "between", "between", "least", "day", "strict"])
        if form == "strict" and self.chance(0.6):
            form = "between"
        made["takes"] = {
            "most": f"at most {self.time(2)}",
            "between": f"{low} {unit} to {high} {unit}",
            "least": f"at least {self.time(1)}",
            "day": "some day",
            "strict": self.pick([f"under {self.time(2)}", f"over {self.time(1)}"]),
        }[form]
        return made

    def writes(self, machine: str) -> Spec:
        written = {}
        for name, writers in self.memory.items():
            if machine in writers and self.chance(0.5):
                values = {
                    "k": ["min(k + 1, 2)", "0", "k + 1 if b else 0", "1", "k + 1"],
                    "f": ["yes", "no", "b", "not f"],
                    "l": ["u", "v", "u if b else v"],
                }
                written[name] = self.pick(values[name])
        return written

    def machine(self, name: str) -> Spec:
        rules = self.rules[name]
        for number in range(len(self.machines[name]) + self.random.randint(0, 1)):
            rules.append(self.rule(name, number))
        for one, other in itertools.permutations(rules, 2):
            if self.chance(0.1) and one["id"] not in other.get("beats", []):
                one.setdefault("beats", []).append(other["id"])
        made: Spec = {"states": self.machines[name], "start": self.machines[name][0]}
        if self.chance(0.15):
            made["order"] = "first"
        if self.chance(0.12):
            made["tie"] = "either"
        return made | {"rules": rules}

    def alarm(self) -> Spec:
        made = self.made_alert = {"raise": self.condition(self.alert)}
        if self.chance(0.5):
            made["repeat"] = self.time(2)
        if self.chance(0.5):
            made["clear"] = self.either(self.alert, 0.6)
        if self.chance(0.35) and "repeat" in made:
            made["silence"] = {"by": self.event(self.alert), "for": self.time(2)}
        return made

    # ----------------------------------------------------------------- the whole

    def spec(self) -> Spec:
        made: Spec = {"system": "random"}
        made["inputs"] = dict.fromkeys(self.buttons, "button") | dict.fromkeys(self.signals, "signal")
        if self.limits:
            lever: Any = "0 % to 100 %"
            made["inputs"]["x"] = {"values": lever, "start": "0 %"} if self.chance(0.5) else lever
        domains = {
            "k": {"values": "whole 0 to 2", "start": "0"},
            "f": {"values": "yes_no", "start": "no"},
            "l": {"values": ["u", "v"], "start": "u"},
        }
        if self.memory:
            made["memory"] = {name: domains[name] for name in self.memory}
        if self.term:
            whens = [self.pick(self.buttons), self.simple("early"), self.simple("early")]
            cases = [{"when": w, "is": self.pick(["hi", "lo"])} for w in whens[: self.pick([2, 3])]]
            ends = [[{"otherwise": "lo"}], [{"otherwise": "lo"}], []]
            made["terms"] = {"t": {"cases": cases + self.pick(ends)}}
        made["machines"] = {name: self.machine(name) for name in self.machines}
        if self.alert:
            made["alerts"] = {"al": self.alarm()}
        if self.interleaved:
            made["interleaved"] = list(self.machines)
        if self.one_at_a_time:
            made["inputs_change"] = "one at a time"
        self.timed_left = 0
        if self.chance(0.2):
            known = self.buttons + self.signals
            limit = [f"x <= {self.limits[-1]} %"] if self.limits else []
            tame = [f"not {self.pick(known)}", *limit, str(self.state_is("assume"))]
            kind = self.pick(["always", "always", "never"])
            body = f"{self.pick(tame)} or {self.simple('assume')}"
            body = f"not ({body})" if kind == "never" else body
            made["assume"] = [{"id": "A1", kind: body}]
        made["requirements"] = [self.ask(number) for number in range(1, 6)]
        return made


# --------------------------------------------------------------------------- text


def text_of(spec: Spec) -> str:
    """The spec as a person would write it."""
    return "\n".join(_lines(spec)) + "\n"


def _lines(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if isinstance(inner, dict | list) and inner:
                yield f"{key}:"
                yield from ("  " + line for line in _lines(inner))
            else:
                yield f"{key}: {inner}"
    else:
        for inner in value:
            lines = list(_lines(inner)) if isinstance(inner, dict) else [str(inner)]
            yield f"- {lines[0]}"
            yield from ("  " + line for line in lines[1:])


def load(spec: Spec) -> System | None:
    """The System of a spec, or None if it is refused."""
    try:
        return prioritylogic.load(text_of(spec))
    except prioritylogic.SpecError:
        return None


def figures_of(spec: Spec) -> list[Fraction]:
    """Figures of a lever that meet every cell of its limits: the ends, each limit, and between.

    Two levers are compared with each other as well, at multiples of 30 %; a grid of a quarter of that
    has a point inside each triangle between the lines.
    """
    text = text_of(spec)
    if "y" in spec.get("inputs", {}):
        return [Fraction(75 * n, 1000) for n in range(9)]
    both = "abs(x" in text or "clamp(x" in text
    limits = [n for n in (30, 70) if both or f"{n} %" in text or f"{2 * n} %" in text]
    points = {0, 100, *limits, *(sum(pair) // 2 for pair in itertools.pairwise(limits))}
    return [Fraction(point, 100) for point in sorted(points)]
