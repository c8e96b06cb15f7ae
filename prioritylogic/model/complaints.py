"""The faults a spec can have once its notation is right: one code each, said in one sentence.

Why a registry: a code that no test shows is a message nobody has read. `tests/invalid` holds a
malformed spec for every code here, and a test compares the two lists.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from prioritylogic.errors import Problems, Span

CODES: dict[str, str] = {
    # names
    "declared-twice": "two things have one name",
    "listed-twice": "a list names one thing twice",
    "unknown-name": "a name is not declared",
    "unknown-group": "an index or binder names no group",
    "unknown-value": "a name is none of the values it is compared with or given to",
    "unknown-rule": "no rule has this id",
    "unknown-state": "the machine has no such state",
    "unknown-assumption": "`assuming` names no assumption",
    "unknown-machine": "`interleaved` names no machine",
    "unknown-unit": "a unit is not in the table of units",
    "bad-id": "an id that could not be written in an expression",
    "shadowed": "a binder has the name of something else",
    "no-member": "a family of which `where` leaves no member",
    "index-count": "a name has more or fewer indices than it was declared with",
    "bad-index": "an index that is no binder, member or memory over the group",
    "not-a-member": "an index is no member of the group",
    "not-readable": "a group, an alert or a rule where a value is needed",
    "circular": "a setting or term that is defined by itself",
    # values
    "bad-values": "the values of an input or memory name are no domain",
    "bad-range": "the low end of a range is above its high end",
    "bad-start": "a start is missing or is none of the values",
    "not-constant": "a value that must be known beforehand is not",
    "outside-range": "a setting is outside its own range",
    "bad-setting": "an indexed setting does not give one value for each member",
    "bad-cases": "a line of a table of cases without its parts, or `otherwise` not at its end",
    # types and units
    "wrong-type": "a truth value, a name or a number where another is needed",
    "wrong-comparison": "`is` for numbers, `=` for names, or either for a truth value",
    "never-equal": "two names are compared that have no value in common",
    "wrong-dimension": "seconds and degrees are added or compared",
    "bare-number": "a number without unit beside a quantity with one",
    "bad-division": "division by something that is not a constant other than 0",
    "wrong-arguments": "a function with too many, too few or unfitting arguments",
    "nothing-to-compare": "`min` or `max` of nothing",
    # conditions and events
    "event-not-allowed": "an event where a condition is needed",
    "event-with-takes": "an event in the guard of a rule with an uncertain delay",
    "nested-before": "`before` inside `before`",
    "never-begins": "`begins` or `ends` of what stands still where it is read",
    "own-rule": "`taken` of a rule that is chosen only after this is read",
    # rules
    "bad-timing": "keys about time that do not go together",
    "bad-duration": "a duration that is negative, zero where it must not be, or upside down",
    "bad-write": "`set` of what is not memory, or twice of the same memory",
    "beats-elsewhere": "`beats` names a rule of another machine",
    "beats-circle": "rules that beat each other in a circle",
    "circular-order": "machines or alerts that read each other in the same reaction",
    # requirements and stories
    "no-form": "the keys of a requirement or assumption make up none of the forms",
    "bad-unless": "`unless` with a form that has nothing to cancel",
    "bad-expected": "`expected` is not understood",
    "bad-step": "a story step that cannot be done",
    # bounds
    "too-large": "a spec whose expansion is beyond all reason",
}


@dataclass(slots=True)
class Complaints:
    """Collects faults; of those with one code at one place (members of a family) only the first."""

    problems: Problems = field(default_factory=Problems)
    seen: set[tuple[str, Span]] = field(default_factory=set)

    def add(self, code: str, message: str, span: Span, remedy: str) -> None:
        """Note a fault and go on."""
        assert code in CODES, code
        if (code, span) not in self.seen:
            self.seen.add((code, span))
            self.problems.add(code, message, span, remedy)
