"""Random requirements, of every form that an observer watches."""

from __future__ import annotations

import re

from phrases import Phrases, Spec

EVENTS = ("pressed", "released", "changed", "begins", "ends", "taken")


class Asking(Phrases):
    """Makes requirements about a spec whose machines are made."""

    def ask(self, number: int) -> Spec:
        """One requirement, of any form."""
        self.timed_left = 1 if self.chance(0.5 if self.more == "timed" else 0.2) else 0
        made: Spec = {"id": f"R{number}"}
        apt = self.apt() if self.chance(0.5) else None
        if apt:
            if self.chance(0.15):
                apt["unless"] = self.either("ask", 0.5)
            return made | apt
        form = self.random.random()
        start = self.either("ask", 0.5)
        lasting = self.condition("ask")
        if self.chance(0.3 if self.more == "timed" else 0.08):
            start = lasting = f"({self.condition('ask', 0)}) for {self.time(2)}"
            self.timed_left = 0
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
            made |= {"while": lasting, "expect": self.answer()}
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
        source = self.machines[machine][0] if source == "any" else source
        here, taken = f"{machine} is {source}", f"taken({rule['id']})"
        figure = self.near(str(rule.get("after", rule.get("takes"))))
        if figure is None:
            return None
        gone = self.pick([f"{machine} is not {source}", taken, f"changed({machine})"])
        ready = here + (f" and {rule['if']}" if "if" in rule and self.chance(0.6) else "")
        asked: list[Spec] = [
            {"after": ready, "expect": gone, "within": self.pick(["", "", "under "]) + figure},
            {"after": here, "keep": here, "for": figure},
            {"after": here, "keep": f"not {taken}", "for": figure},
            {"after": taken, "apart": figure},
        ]
        if not any(word in ready for word in EVENTS):
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
        figure = self.pick(known) + self.pick([-off, 0, off])
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
