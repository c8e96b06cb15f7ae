"""`System`: a checked spec, flat and frozen. The one thing every engine sees.

Groups are expanded (one entry per member, named `take[left]`), terms and settings are gone into the
formulas that read them, durations are seconds, own names in rules are marked `before`. Inputs,
machines and memory share one name space. Tuples are in the spec's order; `order` is the order in
which machines and alerts are evaluated in a reaction.

The meaning of each part is written beside it, in the words of the design's section 3; the
executable form of that meaning is `semantics/reference.py`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, TypeAlias

from prioritylogic.errors import NOWHERE, Level, Span
from prioritylogic.model.formula import Formula, Value

Seconds: TypeAlias = Fraction
RuleId: TypeAlias = str
Member: TypeAlias = tuple[tuple[str, str], ...]  # (("c", "left"),), in the order of the binders


# --------------------------------------------------------------------------- values


@dataclass(frozen=True, slots=True)
class Flag:
    """True or false. `word` says what kind of name it is: only a button can be pressed."""

    word: Literal["button", "signal", "yes_no"]


@dataclass(frozen=True, slots=True)
class OneOf:
    """One of these names."""

    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number, both ends included (its values are Fractions with denominator 1)."""

    low: int
    high: int


@dataclass(frozen=True, slots=True)
class Real:
    """An analog value, both ends included. `unit` is only for showing: shown = value / factor."""

    low: Fraction
    high: Fraction
    unit: str = ""
    factor: Fraction = Fraction(1)


Domain: TypeAlias = Flag | OneOf | Whole | Real


@dataclass(frozen=True, slots=True)
class Input:
    """Set by the environment. `start` None: any value that the assumptions allow (a button's start
    is always given, released unless the spec says otherwise)."""

    name: str
    domain: Domain
    start: Value | None
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Memory:
    """Written by rules. Writing a value outside the domain is an error finding and ends the run."""

    name: str
    domain: Domain
    start: Value
    span: Span = NOWHERE


# --------------------------------------------------------------------------- machines


@dataclass(frozen=True, slots=True)
class Delay:
    """`after: T`: the rule is enabled only once the machine has stayed in its state for T.

    Not strict: the stay's expiry for T is an event of the environment, due when the stay's clock is
    T; time may not pass it; it is stored for the stay; rules of one machine with the same T share
    it. Strict (`over T`): enabled while the clock is beyond T; there is nothing to expire.
    """

    time: Seconds
    strict: bool = False


@dataclass(frozen=True, slots=True)
class Takes:
    """`takes:`: offered from `low` on, owed at `high`.

    The clock runs, from 0, from the end of the first reaction after which the machine is in one of
    the rule's sources and the guard holds at rest; it starts over when that breaks, when the machine
    enters a state (even the same one), and when the rule is taken. With `since` (rule ids, any of
    them) it instead counts from when one of those was last taken or this rule itself was, whatever
    the state, and the rule is not offered before any was ever taken.

    Time may not pass `high` (or reach it, when `high_strict`) while the rule is owed: in a source,
    guard true at rest, clock there. `high` None: no upper end (safety reads it as `may`).
    """

    low: Seconds = Fraction(0)
    low_strict: bool = False
    high: Seconds | None = None
    high_strict: bool = False
    since: tuple[RuleId, ...] = ()


@dataclass(frozen=True, slots=True)
class Rule:
    """A transition. A candidate when the machine was in one of `sources` as the reaction starts,
    `guard` is true in the reaction, `delay` has passed, and, if optional, it is offered.

    `beats` holds the ids of rules of the same machine that drop out when this one is a candidate
    (`order: first` is already expanded into it). `target` None: no state is entered. `writes` are
    read as the guard is and written together.
    """

    id: RuleId
    family: str
    member: Member
    machine: str
    sources: frozenset[str]
    guard: Formula
    target: str | None
    writes: tuple[tuple[str, Formula], ...] = ()
    delay: Delay | None = None
    takes: Takes | None = None
    may: bool = False
    fair: bool = False
    beats: frozenset[RuleId] = frozenset()
    about: str = ""
    said: str = ""  # the guard as the spec writes it
    span: Span = NOWHERE

    @property
    def optional(self) -> bool:
        """Taken only when it is offered."""
        return self.may or self.takes is not None


@dataclass(frozen=True, slots=True)
class Machine:
    """A state machine instance. `tie_either`: a tie of its at-once rules is no conflict. `places`: where
    the spec lists each state."""

    name: str
    states: tuple[str, ...]
    start: str
    rules: tuple[Rule, ...]
    tie_either: bool = False
    about: str = ""
    span: Span = NOWHERE
    places: tuple[Span, ...] = ()

    def delays(self, state: str) -> tuple[Seconds, ...]:
        """The different expiries of a stay in `state`, earliest first (strict ones have none)."""
        here = [rule.delay for rule in self.rules if rule.delay and state in rule.sources]
        return tuple(sorted({delay.time for delay in here if not delay.strict}))


# --------------------------------------------------------------------------- timers and alerts


@dataclass(frozen=True, slots=True)
class TimedCondition:
    """An on-delay (`for`) or off-delay (`within last`) of `condition` over `time` seconds.

    `condition` has all names now; nested timed conditions have smaller indices. On-delay phases: idle,
    running (condition true at rest), done. Off-delay: idle, true (at rest), running (since it was last
    true). At the end of each reaction, from the condition in the reaction and at rest:

        for:          false at rest -> idle; false in the reaction but true at rest -> running from 0;
                      idle -> running from 0; running and expiring now -> done; else as it was.
        within last:  true at rest -> true; true in the reaction only, or phase was true -> running
                      from 0; running and expiring now -> idle; else as it was.

    A running timer is due when its clock is `time`. `observed`: only requirements and stories read
    it; then it is no part of the system (nothing expires or blocks): it changes last in its instant.
    """

    kind: Literal["for", "within last"]
    condition: Formula
    time: Seconds
    observed: bool
    said: str = ""
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Alert:
    """Idle, on or cleared, evaluated in `order` like a machine; its first matching line applies:

        raise begins (true now, not true at rest before; or true at time 0), in any state:
                                    on, sounds, repeat from 0, no silence
        on, clear now:              cleared if raise is true now, else idle; no sound
        on, no clear given, raise not true now: idle
        on:                         sounds if repeat expires now and it is not silenced; the repeat
                                    clock restarts when it expires; silence_by starts the silence
                                    (again), this reaction's sound included; a silence that expires
                                    now is over
        cleared, raise not true now: idle

    Repeat and silence clocks run only while on; both are due at their time.
    """

    name: str
    raise_: Formula
    repeat: Seconds | None
    clear: Formula | None
    silence_by: Formula | None
    silence_for: Seconds | None
    about: str = ""
    span: Span = NOWHERE


# --------------------------------------------------------------------------- around the logic


@dataclass(frozen=True, slots=True)
class Output:
    """Shown to the world; no rule depends on it except by reading the same formula."""

    name: str
    formula: Formula
    domain: Domain | None  # None: a number without a fixed range
    unit: str = ""
    factor: Fraction = Fraction(1)
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Cases:
    """A table of cases as written, for asking about gaps and overlaps."""

    name: str
    whens: tuple[Formula, ...]
    values: tuple[Formula, ...]  # one more than whens when there is an `otherwise`
    spans: tuple[Span, ...]
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Assumption:
    """`always`/`never`: `holds` is true after every reaction, in every run. A response (`after` ...)
    or `again_and_again` has `holds` None and binds only requirements that name it."""

    id: str
    member: Member
    text: str
    holds: Formula | None
    after: Formula | None = None
    expect: Formula | None = None
    within: Seconds | None = None
    under: bool = False
    again_and_again: Formula | None = None
    span: Span = NOWHERE


# --------------------------------------------------------------------------- requirements


@dataclass(frozen=True, slots=True)
class Always:
    """After every reaction, `condition` (for `never`, already negated)."""

    condition: Formula


@dataclass(frozen=True, slots=True)
class Possible:
    """Some run has a reaction after which `condition`."""

    condition: Formula


@dataclass(frozen=True, slots=True)
class Recoverable:
    """From every reachable state some run gets to `condition`."""

    condition: Formula


@dataclass(frozen=True, slots=True)
class Respond:
    """Each `after` is answered by `expect`: at once (`limit` 0), within `limit`, or (None) some day.
    Fails when more than `limit` (`under`: when `limit`) has passed since the oldest unanswered."""

    after: Formula
    expect: Formula
    limit: Seconds | None
    under: bool = False


@dataclass(frozen=True, slots=True)
class KeepUntil:
    """From `after` on, `keep` stays true until a reaction with `until`."""

    after: Formula
    keep: Formula
    until: Formula


@dataclass(frozen=True, slots=True)
class KeepFor:
    """`keep` is true in every reaction less than `time` after the newest `after`."""

    after: Formula
    keep: Formula
    time: Seconds


@dataclass(frozen=True, slots=True)
class Every:
    """While `while_` lasts, `expect` comes at least each `period` (`under`: sooner)."""

    while_: Formula
    expect: Formula
    period: Seconds
    under: bool = False


@dataclass(frozen=True, slots=True)
class Apart:
    """Two successive beginnings of `after` are at least `time` apart."""

    after: Formula
    time: Seconds


Form: TypeAlias = Always | Possible | Recoverable | Respond | KeepUntil | KeepFor | Every | Apart


@dataclass(frozen=True, slots=True)
class Requirement:
    """One member of a requirement's family.

    `form` has `during` already joined to its trigger (`after and during`, `while_ and during`,
    `during implies condition`, `condition and during` for possible); `during` is kept besides,
    because its end cancels. `keys` is the form as the table of forms writes it.
    """

    id: str
    member: Member
    text: str
    keys: str  # "never", "after keep until", ...
    form: Form
    during: Formula | None = None
    unless: Formula | None = None
    assuming: tuple[str, ...] = ()
    expected: Literal["holds", "fails"] = "holds"
    reason: str = ""
    said: tuple[tuple[str, str], ...] = ()  # (key, the expression as written), in the form's order
    span: Span = NOWHERE

    @property
    def formulas(self) -> tuple[Formula, ...]:
        """Every condition and event of the requirement."""
        match self.form:
            case Always(condition) | Possible(condition) | Recoverable(condition):
                own: tuple[Formula | None, ...] = (condition,)
            case Respond(one, other, _, _) | KeepFor(one, other, _) | Every(one, other, _, _):
                own = (one, other)
            case KeepUntil(after, keep, until):
                own = (after, keep, until)
            case Apart(after, _):
                own = (after,)
        return tuple(f for f in (*own, self.during, self.unless) if f is not None)


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a story. press/release: `name`. set: `name` and `value`. take: `rules` (offer any).
    wait: `time`. check: `condition`. together: `parts`."""

    verb: Literal["press", "release", "set", "take", "wait", "check", "together"]
    said: str
    name: str = ""
    value: Value | None = None
    rules: tuple[RuleId, ...] = ()
    time: Seconds = Fraction(0)
    condition: Formula | None = None
    parts: tuple[Step, ...] = ()
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Story:
    """A short run. Each step is one reaction, then stutters until settled unless `unsettled`."""

    id: str
    member: Member
    text: str
    steps: tuple[Step, ...]
    end: Formula | None
    unsettled: bool = False
    expected: Literal["holds", "fails"] = "holds"
    reason: str = ""
    said: str = ""  # the end as written
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Remark:
    """Something the model's checks saw that is no error of notation: an unused name, a mixed
    condition. Becomes a finding."""

    kind: str
    level: Level
    subject: str
    message: str
    span: Span


# --------------------------------------------------------------------------- the whole


@dataclass(frozen=True)
class System:
    """A checked spec."""

    name: str
    about: str
    file: str
    inputs: tuple[Input, ...]
    memory: tuple[Memory, ...]
    machines: tuple[Machine, ...]
    timed: tuple[TimedCondition, ...]
    alerts: tuple[Alert, ...]
    order: tuple[str, ...]  # names of machines and alerts, each after what it reads `now`
    outputs: tuple[Output, ...] = ()
    terms: tuple[Output, ...] = ()
    cases: tuple[Cases, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    requirements: tuple[Requirement, ...] = ()
    stories: tuple[Story, ...] = ()
    interleaved: frozenset[str] = frozenset()  # machine names
    one_input_at_a_time: bool = False
    waived: tuple[tuple[str, str], ...] = ()  # (finding id, reason)
    remarks: tuple[Remark, ...] = ()
    text: str = field(default="", repr=False)  # the source

    def __post_init__(self) -> None:
        named: dict[str, Input | Memory | Machine | Alert] = {}
        for group in (self.inputs, self.memory, self.machines, self.alerts):
            named.update((thing.name, thing) for thing in group)
        object.__setattr__(self, "_named", named)
        object.__setattr__(self, "_rules", {r.id: r for m in self.machines for r in m.rules})

    def machine(self, name: str) -> Machine:
        """The machine of this name."""
        found = self._named[name]  # type: ignore[attr-defined]
        assert isinstance(found, Machine)
        return found

    def alert(self, name: str) -> Alert:
        """The alert of this name."""
        found = self._named[name]  # type: ignore[attr-defined]
        assert isinstance(found, Alert)
        return found

    def domain(self, name: str) -> Domain:
        """The values of an input, a memory name or a machine (its states)."""
        found = self._named[name]  # type: ignore[attr-defined]
        return OneOf(found.states) if isinstance(found, Machine) else found.domain

    def rule(self, rule: RuleId) -> Rule:
        """The rule of this id."""
        found: Rule = self._rules[rule]  # type: ignore[attr-defined]
        return found
