"""Random small specs with a machine for each member of a group, all of them alike.

Made from the plain ones: the machine `m` becomes `m[i]` and the button `b` becomes `b[i]`, in rules
sometimes that of the other member; requirements, alerts and assumptions speak of single members.
"""

from __future__ import annotations

import re
from typing import Any

from phrases import Spec
from systems import Maker

MEMBERS = ("p", "q")
INDEXED = re.compile(r"\b[bm]\b(?!\[)")


class Families(Maker):
    """Makes one spec."""

    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        self.buttons, self.signals = ["b"], []
        self.machines = {"m": ["a0", "a1", "a2"][: self.pick([2, 2, 3])]}
        self.rules = {"m": []}
        self.memory = {name: ["m"] for name in self.memory if name != "l"}
        self.alert = self.alert and "late"
        self.interleaved = self.chance(0.2)

    def spec(self) -> Spec:
        made = super().spec()
        for key in ("alerts", "assume", "requirements", "terms"):
            if key in made:
                made[key] = self._indexed(made[key], MEMBERS)
        for rule in made["machines"]["m"]["rules"]:
            if self.chance(0.3) and "since" not in rule:
                other = f"before(m[other(i)]) is {self.pick(self.machines['m'])}"
                rule["if"] = f"({rule['if']}) and {other}" if "if" in rule else other
        family = self._indexed(made["machines"].pop("m"), ("i", "i", "i", "other(i)"))
        made["machines"] = {"m[i in g]": family}
        if "memory" in made:
            made["memory"] = self._indexed(made["memory"], MEMBERS)
        made["inputs"] = {"b[g]" if name == "b" else name: v for name, v in made["inputs"].items()}
        return {"system": made.pop("system"), "groups": {"g": list(MEMBERS)}, **made}

    def _indexed(self, value: Any, members: tuple[str, ...]) -> Any:
        """The same, each `b` and `m` with one of these indices."""
        if isinstance(value, dict):
            return {key: self._indexed(inner, members) for key, inner in value.items()}
        if isinstance(value, list):
            return [self._indexed(inner, members) for inner in value]
        return INDEXED.sub(lambda found: f"{found[0]}[{self.pick(list(members))}]", str(value))
