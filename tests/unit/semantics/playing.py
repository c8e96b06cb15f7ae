"""Small specs played on the reference, reaction by reaction, and judged.

`Play` is the environment: it presses, sets, lets time pass, lets some or all due timers expire, and
offers optional rules. It insists on one outcome unless a test asks for all of them (`ways`).
"""

from __future__ import annotations

import dataclasses
from fractions import Fraction

from prioritylogic import check, load
from prioritylogic.model.formula import Value
from prioritylogic.model.system import System
from prioritylogic.semantics.judgement import Failure, judge
from prioritylogic.semantics.reference import Reference
from prioritylogic.semantics.state import Moment, Run, State, Timer


def spec(machines: str = "", inputs: str = "", memory: str = "", **parts: str) -> str:
    """A spec of these parts; `rules` alone make one machine `m` with states a, b and c."""
    rules = parts.pop("rules", "")
    keys = parts.pop("machine", "")
    if rules:
        machines = f"  m:\n    states: [a, b, c]\n    start: a\n{keys}    rules:\n" + indented(rules, 6)
        machines += indented(parts.pop("machines_too", ""), 2)
    text = "system: tiny\n"
    text += f"inputs: {inputs or '{go: button, stop: button, on: {values: signal, start: no}}'}\n"
    text += f"memory: {memory}\n" if memory else ""
    for key, value in parts.items():
        block = "\n" in value or value.startswith("- ")
        text += f"{key}:\n{indented(value, 2)}" if block else f"{key}: {value}\n"
    return text + (f"machines:\n{machines}" if machines else "")


def indented(text: str, by: int) -> str:
    return "".join(" " * by + line + "\n" for line in text.strip("\n").split("\n") if text.strip("\n"))


class Play:
    """A run under way.

    Attributes:
        moments: the reactions so far, with their times.
        state: now.
        time: now.
    """

    def __init__(self, text: str, **inputs: Value) -> None:
        self.system: System = load(text)
        self.reference = Reference(self.system)
        self._inputs = [i.name for i in self.system.inputs]
        values = tuple(
            inputs.get(i.name, i.start if i.start is not None else False) for i in self.system.inputs
        )
        (first,) = [m for m in self.reference.starts(values) if not self._offered(m)]
        self.moments: list[Moment] = [first]
        self.state: State = first.after
        self.time = Fraction(0)

    def _offered(self, moment: Moment) -> set[str]:
        return {rule for rule in moment.taken if self.system.rule(rule).optional}

    def ways(
        self, *changes: str, expire: str | None = "none", take: str = "", offers: bool = False
    ) -> list[Moment]:
        """Every outcome of a reaction.

        Args:
            changes: "go" presses or sets, "-go" releases, "mode=x" sets.
            expire: the kind or name of the timers that expire; None for all that are due.
            take: the optional rule that must be taken ("": none is, unless `offers`).
            offers: whether any optional rule may be taken.
        """
        inputs = list(self.state.values[: len(self._inputs)])
        for change in changes:
            name, _, value = change.removeprefix("-").partition("=")
            inputs[self._inputs.index(name)] = figure(value) if value else not change.startswith("-")
        due = self.reference.due(self.state)
        chosen = due if expire is None else frozenset(t for t in due if matches(t, expire))
        found = self.reference.reactions(self.state, tuple(inputs), chosen)
        wanted = {take} if take else set()
        return [m for m in found if offers or self._offered(m) == wanted]

    def react(self, *changes: str, expire: str | None = "none", take: str = "") -> Moment:
        """The only outcome of a reaction, which then happens."""
        found = self.ways(*changes, expire=expire, take=take)
        assert len(found) == 1, found
        return self.follow(found[0])

    def follow(self, moment: Moment) -> Moment:
        """One of the `ways` happens."""
        self.moments.append(dataclasses.replace(moment, time=self.time))
        self.state = moment.after
        return self.moments[-1]

    def settle(self) -> None:
        """Stutters until settled."""
        while not self.reference.settled(self.state):
            self.react()

    def wait(self, seconds: float | str) -> None:
        """Time passes, without a reaction."""
        time = Fraction(str(seconds))
        assert self.reference.may_pass(self.state, time), "no time can pass so far"
        self.state, self.time = self.reference.passed(self.state, time), self.time + time

    def may_pass(self, seconds: float | str) -> bool:
        return self.reference.may_pass(self.state, Fraction(str(seconds)))

    @property
    def run(self) -> Run:
        return Run(tuple(self.moments), self.time)

    def __getitem__(self, name: str) -> Value:
        return self.reference.named(self.state)[name]

    def alert(self, name: str = "alarm") -> str:
        return self.reference.alerts_of(self.state)[name].status

    def failure(self, requirement: str = "R") -> Failure | None:
        (asked,) = [r for r in self.system.requirements if r.id == requirement]
        return judge(self.reference, asked, self.run)


def figure(text: str) -> Value:
    return Fraction(text) if text.lstrip("-").replace(".", "").isdigit() else text


def matches(timer: Timer, word: str) -> bool:
    return word in (timer.kind, timer.name, f"{timer.kind} {timer.name}")


def verdicts(text: str) -> dict[str, str]:
    """What `check` says of each requirement and story; of a family, `R[left]`."""
    result = check(load(text))
    return {
        a.id + (f"[{','.join(m for _, m in a.member)}]" if a.member else ""): a.verdict
        for a in (*result.requirements, *result.stories)
    }


NEVER = (
    "unused-name",
    "rule-never-taken",
    "state-never-reached",
    "lost-event",
    "needless-part",
    "vacuous",
)


def findings(text: str) -> set[str]:
    """The ids of the findings of `check` about what happens, not about what is never needed: these specs
    are cut down to what they show."""
    return {i.id for i in check(load(text)).findings if i.kind not in NEVER}
