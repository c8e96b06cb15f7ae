"""Random expressions: what a reader may read, with the kinds of the notation (condition, event).

`reader` says who reads: a machine, "early" (an alert that the machines may read), "late" (an alert
that reads them), "assume" or "ask" (a requirement). A machine reads of the machines after it only
what was before; `before` is written where the notation wants it.
"""

from __future__ import annotations

import random
from typing import Any, TypeAlias

Spec: TypeAlias = dict[str, Any]


class Phrases:
    """The names of one spec, and expressions over them."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.more = self.pick(["", "", "levers", "pairs", "timed", "alerts"])  # what there is more of
        self.unit = self.pick(["s", "s", "s", "s", "half"])
        self.buttons = ["b"]
        self.signals: list[str] = []
        self.limits: list[int] = []
        if self.often("levers", 0.18):
            self.limits = self.pick([[30], [70], [30, 70]])
        elif self.chance(0.40):
            self.buttons.append("c")
        elif self.chance(0.40):
            self.signals.append("s")
        self.machines = {"m": ["a0", "a1", "a2"][: self.pick([2, 3, 3])]}
        if self.often("pairs", 0.4):
            self.machines["n"] = ["z0", "z1"]
        self.memory: dict[str, list[str]] = {}  # name -> machines that write it
        if self.chance(0.5 if self.more == "pairs" else 0.27):
            self.memory[self.pick(["k", "f", "l"])] = self.writers()
        self.alert = self.pick(["early", "late"]) if self.often("alerts", 0.3) else ""
        self.interleaved = len(self.machines) == 2 and self.chance(0.15)
        self.term = self.chance(0.15)
        self.one_at_a_time = self.chance(0.1) and not self.limits
        self.timed_left = 1 if self.often("timed", 0.3) else 0  # in rules; requirements have their own
        self.rules: dict[str, list[Spec]] = {name: [] for name in self.machines}
        self.made_alert: Spec = {}

    # ----------------------------------------------------------------- dice

    def chance(self, likely: float) -> bool:
        return self.random.random() < likely

    def often(self, what: str, likely: float) -> bool:
        """So likely, but in specs that have more of it most of the time."""
        return self.chance(0.9 if self.more == what else likely)

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
            if (
                reader in self.machines
                and reader not in writers
                and not (reader == "n" and writers == ["m"])
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
