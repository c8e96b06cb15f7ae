"""Random systems of truth values and names alone: no clocks, no numbers."""

from __future__ import annotations

from phrases import Spec
from richer import Richer


class Plain(Richer):
    """Makes one spec, and requirements that need no clock."""

    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        self.timed_left = self.nested = 0
        self.limits, self.analog, self.whole = [], [], False
        self.memory.pop("k", None)

    def rule(self, machine: str, number: int) -> Spec:
        made = super().rule(machine, number)
        if "takes" in made or "after" in made:
            made = {key: part for key, part in made.items() if key not in ("takes", "since", "after")}
            made.setdefault("if", self.either(machine, 0.7))
        return made

    def alarm(self) -> Spec:
        made = super().alarm()
        return {key: part for key, part in made.items() if key in ("raise", "clear")}

    def ask(self, number: int) -> Spec:
        self.timed_left = 0
        two = f"{self.simple('ask')} and {self.state_is('ask')} and {self.condition('ask')}"
        made: Spec = {"id": f"R{number}"}
        kind = self.pick(["never", "always", "possible", "keep", "keep"])
        if kind == "keep":
            made |= {"after": self.either("ask", 0.5), "keep": self.weak(), "until": self.answer()}
            if self.chance(0.3):
                made["unless"] = self.either("ask", 0.5)
        else:
            made[kind] = f"not ({two})" if kind == "always" else two
        if self.chance(0.2):
            made["during"] = self.condition("ask")
        return made
