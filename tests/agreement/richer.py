"""Random specs with what the small ones do not have: a mode with three names, whole-number inputs, memory
of every kind (three names, analog), three machines that write it, strict delays, timed conditions inside
timed conditions, two alerts.

They are too big for the oracle, and need none: they are for asking the reference about single steps,
and about runs that an engine has found.
"""

from __future__ import annotations

from phrases import Spec
from systems import Maker

ORDER = ("m", "n", "o")


class Richer(Maker):
    """Makes one spec."""

    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        self.nested = 2
        self.machines["n"] = ["z0", "z1"]
        if self.chance(0.5):
            self.machines["o"] = ["e0", "e1", "e2", "e3"][: self.pick([1, 2, 4])]
        self.rules = {name: [] for name in self.machines}
        self.interleaved = self.chance(0.2)
        self.mode = self.chance(0.5)
        self.whole = self.chance(0.3)
        self.limits = [30, 70] if self.chance(0.4) else []
        self.memory = {}
        for name in self.random.sample(["k", "f", "l"], self.random.randint(0, 3)):
            self.memory[name] = self.some_machines()
        self.analog = self.some_machines() if self.limits and self.chance(0.7) else []
        self.timed_left = 2

    def some_machines(self) -> list[str]:
        return self.random.sample(list(self.machines), self.random.randint(1, len(self.machines)))

    def seen(self, machine: str, reader: str) -> bool:
        if reader in ("late", "assume", "ask") or reader == machine or self.interleaved:
            return True
        return reader in ORDER and ORDER.index(machine) < ORDER.index(reader)

    def simple(self, reader: str) -> str:
        options = [super().simple(reader)] * 3
        if self.mode:
            options.append(self.pick(["w is q", "w is not p", "w in (p, r)", "w is before(w)"]))
        if self.whole:
            options.append(self.pick(["j >= 1", "j + 1 = 3", "j < before(j)"]))
        if self.nested and self.chance(0.12):
            self.nested -= 1
            inner = super().simple(reader) if self.chance(0.5) else self.event(reader)
            word = "within last" if inner.endswith(")") and self.chance(0.7) else "for"
            word = "within last" if any(e in inner for e in ("pressed", "released", "changed")) else word
            return f"(({inner}) {word} {self.time(2)} or {self.pick(self.buttons)}) for {self.time(2)}"
        written = max((ORDER.index(machine) for machine in self.analog), default=9)
        if reader in ORDER and ORDER.index(reader) > written:
            options.append(self.pick(["r > x", "r >= 30 %"]))
        if self.analog and reader in ("ask", "assume", "late"):
            options.append(self.pick(["r > x", "r >= 30 %", "r = x", "before(r) < x"]))
        return str(self.pick(options))

    def rule(self, machine: str, number: int) -> Spec:
        made = super().rule(machine, number)
        if "after" in made and self.chance(0.3):
            made |= {"after": f"over {self.time(2)}", "may": "yes"}
        if "takes" in made and self.chance(0.15):
            made["takes"] = self.pick([f"under {self.time(3)}", f"over {self.time(1)}"])
        return made

    def writes(self, machine: str) -> Spec:
        written = super().writes(machine)
        if machine in self.memory.get("l", []) and self.chance(0.5):
            written["l"] = self.pick(["u", "v", "q", "u if b else q", "before(l)"])
        if machine in self.analog and self.chance(0.6):
            written["r"] = self.pick(["x", "x / 2", "min(r, x)", "r + 30 %", "0 %", "x if b else r"])
        return written

    def spec(self) -> Spec:
        made = super().spec()
        if self.mode:
            start = {"start": "p"} if self.chance(0.7) else {}
            made["inputs"]["w"] = {"values": ["p", "q", "r"]} | start
        if self.whole:
            made["inputs"]["j"] = {"values": "whole 0 to 2"}
        if "l" in self.memory:
            made["memory"]["l"] = {"values": ["u", "v", "q"], "start": "u"}
        if self.analog:
            made.setdefault("memory", {})["r"] = {"values": "0 % to 100 %", "start": "0 %"}
        if self.alert and self.chance(0.5):
            other = self.alarm()
            made["alerts"]["bell"] = other
        return made
