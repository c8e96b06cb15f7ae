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
import random
import re
from collections.abc import Iterator
from typing import Any, TypeAlias

import prioritylogic
from prioritylogic.model.system import System

Spec: TypeAlias = dict[str, Any]


class Maker:
    """Makes one spec.

    `reader` in the methods below is who reads an expression: a machine, "early" (an alert that the
    machines may read), "late" (an alert that reads them), "assume" or "ask" (a requirement).
    """

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.unit = self.pick(["s", "s", "s", "s", "half"])
        self.buttons = ["b"]
        self.signals: list[str] = []
        self.limits: list[int] = []
        extra = self.random.random()
        if extra < 0.30:
            self.buttons.append("c")
        elif extra < 0.50:
            self.signals.append("s")
        elif extra < 0.68:
            self.limits = self.pick([[30], [70], [30, 70]])
        self.machines = {"m": ["a0", "a1", "a2"][: self.pick([2, 3, 3])]}
        if self.chance(0.45):
            self.machines["n"] = ["z0", "z1"]
        self.memory: dict[str, list[str]] = {}  # name -> machines that write it
        if self.chance(0.3):
            self.memory[self.pick(["k", "f", "l"])] = self.writers()
        self.alert = self.pick(["", "", "", "early", "late"])
        self.interleaved = len(self.machines) == 2 and self.chance(0.12)
        self.term = self.chance(0.15)
        self.one_at_a_time = self.chance(0.1)
        self.timed_left = 1 if self.chance(0.35) else 0  # in rules; requirements have their own
        self.rules: dict[str, list[Spec]] = {name: [] for name in self.machines}
        self.made_alert: Spec = {}

    # ----------------------------------------------------------------- dice

    def chance(self, likely: float) -> bool:
        return self.random.random() < likely

    def pick(self, options: list[Any]) -> Any:
        return self.random.choice(options)

    def writers(self) -> list[str]:
        if len(self.machines) == 2 and self.chance(0.6):
            return list(self.machines)
        return [self.pick(list(self.machines))]

    def time(self, most: int = 3) -> str:
        count = self.random.randint(1, most)
        return f"{count} s" if self.unit == "s" else f"{count * 500} ms"

    # ----------------------------------------------------------------- expressions

    def seen(self, machine: str, reader: str) -> bool:
        """Whether the reader may read the machine's state of now."""
        if reader in ("late", "assume", "ask") or reader == machine:
            return True
        return self.interleaved or (reader == "n" and machine == "m")

    def state_is(self, reader: str, others: bool = False) -> str | None:
        known = [m for m in self.machines if not (others and m == reader)]
        if not known:
            return None
        machine = self.pick(known)
        value = self.pick(self.machines[machine])
        word = self.pick(["is", "is", "is", "is not"])
        if not self.seen(machine, reader) or (machine != reader and self.chance(0.15)):
            return f"before({machine}) {word} {value}"
        if self.chance(0.1) and len(self.machines[machine]) == 3:
            left = [v for v in self.machines[machine] if v != value]
            return f"{machine} in ({', '.join(left)})"
        return f"{machine} {word} {value}"

    def lever_over(self) -> str:
        limit = self.pick(self.limits)
        plain = [
            f"x > {limit} %",
            f"x >= {limit} %",
            f"x < {limit} %",
            f"2 * x > {2 * limit} %",
            f"max(x, 0 %) <= {limit} %",
        ]
        if len(self.limits) == 2:
            plain += ["abs(x - 50 %) > 20 %", "clamp(x, 30 %, 70 %) = 70 %"]
        return str(self.pick(plain))

    def simple(self, reader: str) -> str:
        """A condition without parts."""
        options = [self.pick(self.buttons), "not " + self.pick(self.buttons)]
        options += self.signals
        options += [self.lever_over(), self.lever_over()] if self.limits else []
        state = self.state_is(reader, others=reader in self.machines)
        options += [state, state] if state else []
        for name, writers in self.memory.items():
            if reader in self.machines and reader not in writers and not (
                reader == "n" and writers == ["m"]
            ):
                continue
            if reader == "early":
                continue
            compared = {
                "k": [f"{name} >= 1", f"{name} = 2", f"{name} != 0"],
                "f": [name, f"not {name}"],
                "l": [f"{name} is u", f"{name} is not u"],
            }
            options.append(self.pick(compared[name]))
        if self.alert and self.alert_seen(reader):
            options.append(self.pick(["al.raised", "al.cleared", "not al.raised"]))
        if self.term and reader not in ("early",) and self.chance(0.3):
            options.append("t is hi")
        return str(self.pick(options))

    def alert_seen(self, reader: str) -> bool:
        if reader in ("early", "late"):
            return False
        return self.alert == "early" or reader in ("assume", "ask")

    def event(self, reader: str) -> str:
        button = self.pick(self.buttons)
        options = [f"pressed({button})"] * 3 + [f"released({button})", f"changed({button})"]
        options += [self.pick([f"begins({s})", f"ends({s})", f"changed({s})"]) for s in self.signals]
        options += [f"begins({self.lever_over()})"] * 2 if self.limits else []
        seen = [m for m in self.machines if m != reader and self.seen(m, reader)]
        for machine in seen:
            value = self.pick(self.machines[machine])
            options.append(self.pick([f"begins({machine} is {value})", f"changed({machine})"]))
            options += [f"taken({rule['id']})" for rule in self.rules[machine]][:1]
        if self.alert and self.alert_seen(reader):
            options.append("al.sounds")
        return str(self.pick(options))

    def condition(self, reader: str, depth: int = 1) -> str:
        dice = self.random.random()
        if depth and dice < 0.15:
            return f"({self.condition(reader, depth - 1)} and {self.simple(reader)})"
        if depth and dice < 0.28:
            return f"({self.condition(reader, depth - 1)} or {self.simple(reader)})"
        if depth and dice < 0.32:
            one, other, chooser = (self.simple(reader) for _ in range(3))
            return f"(({one}) if {chooser} else ({other}))"
        if dice < 0.37:
            return f"not ({self.condition(reader, 0)})"
        if dice < 0.43:
            return f"before({self.before_able()})"
        if dice < 0.47:
            return f"not {self.event(reader)}"
        if dice < 0.55 and self.timed_left > 0:
            return self.timed(reader)
        if dice < 0.59 and self.limits and reader != "early":
            state = self.state_is(reader, others=reader in self.machines)
            if state:
                return f"x > ({self.limits[0]} % if {state} else {self.limits[-1]} %)"
        return self.simple(reader)

    def before_able(self) -> str:
        return str(self.pick(self.buttons + self.signals + ([self.lever_over()] if self.limits else [])))

    def timed(self, reader: str) -> str:
        self.timed_left -= 1
        if self.chance(0.5):
            return f"({self.simple(reader)}) for {self.time(2)}"
        inner = self.event(reader) if self.chance(0.6) else self.simple(reader)
        return f"({inner}) within last {self.time(2)}"

    def either(self, reader: str, events: float) -> str:
        """An event (so often) or a condition, sometimes joined."""
        if self.chance(events):
            event = self.event(reader)
            return f"{event} and {self.condition(reader)}" if self.chance(0.3) else event
        return self.condition(reader)

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

    # ----------------------------------------------------------------- requirements

    def ask(self, number: int) -> Spec:
        """One requirement, of any form."""
        self.timed_left = 1 if self.chance(0.25) else 0
        made: Spec = {"id": f"R{number}"}
        apt = self.apt() if self.chance(0.45) else None
        if apt:
            if self.chance(0.15):
                apt["unless"] = self.either("ask", 0.5)
            return made | apt
        form = self.random.random()
        start = self.either("ask", 0.5)
        if form < 0.20:
            key = self.pick(["always", "always", "never"])
            two = f"{self.simple('ask')} and {self.state_is('ask')} and {self.condition('ask')}"
            strong = f"{two} and {self.state_is('ask')}" if self.chance(0.5) else two
            made[key] = strong if key == "never" else f"not ({strong})"
        elif form < 0.28:
            made["possible"] = f"{self.either('ask', 0.3)} and {self.state_is('ask')}"
            start = ""
        elif form < 0.36:
            made |= {"after": start, "at_once": self.answer()}
        elif form < 0.56:
            made |= {"after": start, "expect": self.answer()}
            made["within"] = self.pick(["", "", "under "]) + self.time()
        elif form < 0.66:
            made |= {"after": start, "keep": self.weak(), "until": self.answer()}
        elif form < 0.80:
            made |= {"after": start, "keep": self.weak(), "for": self.time()}
        elif form < 0.91:
            made |= {"while": self.condition("ask"), "expect": self.answer()}
            made["every"] = self.pick(["", "", "under "]) + self.time()
        else:
            made |= {"after": start, "apart": self.time()}
        if self.chance(0.2):
            made["during"] = self.condition("ask")
        if ("after" in made or "while" in made) and self.chance(0.35):
            made["unless"] = self.either("ask", 0.5)
        return made

    def apt(self) -> Spec | None:
        """A requirement about one rule's or alert's own time, with a figure near it; so that many
        hold for a reason, and one step tighter would not."""
        if self.alert and self.made_alert.get("repeat") and self.chance(0.4):
            period = self.near(self.made_alert["repeat"])
            made = {"while": "al.raised and not al.cleared", "expect": "al.sounds", "every": period}
            return made if period else None
        machine = self.pick(list(self.machines))
        timed = [rule for rule in self.rules[machine] if "after" in rule or "takes" in rule]
        if not timed:
            return None
        rule = self.pick(timed)
        source = rule["from"] if isinstance(rule["from"], str) else rule["from"][0]
        here = f"{machine} is {source}" if source != "any" else f"{machine} is {self.machines[machine][0]}"
        figure = self.near(str(rule.get("after", rule.get("takes"))))
        if figure is None:
            return None
        gone = self.pick([here.replace(" is ", " is not "), f"taken({rule['id']})", f"changed({machine})"])
        ready = here + (f" and {rule['if']}" if "if" in rule and self.chance(0.6) else "")
        asked: list[Spec] = [
            {"after": ready, "expect": gone, "within": self.pick(["", "", "under "]) + figure},
            {"after": here, "keep": here, "for": figure},
            {"after": here, "keep": f"not taken({rule['id']})", "for": figure},
            {"after": f"taken({rule['id']})", "apart": figure},
        ]
        if not any(word in ready for word in ("pressed", "released", "changed", "begins", "ends", "taken")):
            asked.append({"while": ready, "expect": gone, "every": figure})
            asked.append({"after": ready, "expect": gone, "within": figure, "unless": f"not ({ready})"})
        return self.pick(asked)  # type: ignore[no-any-return]

    def near(self, said: str) -> str | None:
        """A duration near one of those that a phrase names."""
        known = [int(number) for number in re.findall(r"(\d+) m?s", said)]
        if not known:
            return None
        unit = "s" if self.unit == "s" else "ms"
        off = 1 if self.unit == "s" else 500
        figure = self.pick(known) + self.pick([-off, 0, 0, 0, off])
        return f"{figure} {unit}" if figure > 0 else None

    def weak(self) -> str:
        """A condition that is true more often than not."""
        machine = self.pick(list(self.machines))
        state = f"{machine} is not {self.pick(self.machines[machine])}"
        return self.pick([state, f"({state} or {self.simple('ask')})", self.condition("ask")])

    def answer(self) -> str:
        parts = [self.pick([self.simple("ask"), self.event("ask"), self.state_is("ask")])]
        if self.chance(0.5):
            parts.append(str(self.state_is("ask")))
        return " or ".join(parts)

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


def limits_of(spec: Spec) -> list[int]:
    """The lever's limits in percent, if there is a lever."""
    text = text_of(spec)
    both = "abs(x" in text or "clamp(x" in text
    return [n for n in (30, 70) if both or f"{n} %" in text or f"{2 * n} %" in text]
