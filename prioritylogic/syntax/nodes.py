"""The syntax tree: what a spec says, before anything of it is understood.

Why: everything that may be written is defined here once. `keys(...)` beside a field holds the shape
of its YAML value and a sentence about it; the reader (text to tree) and the JSON Schema (for
editors) are both driven by these definitions, so they cannot drift apart.

Every node keeps its span. Names are not resolved, groups not expanded, units not converted here.
"""

# ruff: noqa: RUF009 - `key(...)` makes a dataclass field, as `field(...)` does

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Literal, TypeAlias

from prioritylogic.errors import NOWHERE, Span

# --------------------------------------------------------------------------- expressions


@dataclass(frozen=True, slots=True)
class Number:
    """`9 s`, `35 %`, `3`."""

    span: Span
    value: Fraction
    unit: str | None


@dataclass(frozen=True, slots=True)
class Name:
    """`mode`, `held[c]`, `both_moving.raised`, `jam[c].sounds`. An index is a name or `other(c)`."""

    span: Span
    base: str
    indices: tuple[Name | Call, ...] = ()
    attribute: str | None = None


@dataclass(frozen=True, slots=True)
class IfElse:
    """`then if condition else other`."""

    span: Span
    condition: Expression
    then: Expression
    other: Expression


Operator: TypeAlias = Literal[
    "implies", "or", "and", "is", "is not", "=", "!=", "<", "<=", ">", ">=", "+", "-", "*", "/"
]


@dataclass(frozen=True, slots=True)
class Binary:
    """Two operands; `span` is the whole, `at` the operator's own place."""

    span: Span
    operator: Operator
    left: Expression
    right: Expression
    at: Span


@dataclass(frozen=True, slots=True)
class Membership:
    """`left in (a, b)`, `left is not in (a, b)`; a single name without parentheses is a group."""

    span: Span
    left: Expression
    members: tuple[Expression, ...]
    negated: bool


@dataclass(frozen=True, slots=True)
class Unary:
    """`not operand` or `- operand`."""

    span: Span
    operator: Literal["not", "-"]
    operand: Expression


@dataclass(frozen=True, slots=True)
class Call:
    """`function(arguments)`; which functions there are is the grammar's matter."""

    span: Span
    function: str
    arguments: tuple[Expression, ...]


@dataclass(frozen=True, slots=True)
class Binder:
    """`c in cabin`."""

    span: Span
    name: str
    group: str


@dataclass(frozen=True, slots=True)
class Aggregate:
    """`any(E over c in cabin where C)`."""

    span: Span
    function: str
    body: Expression
    binders: tuple[Binder, ...]
    where: Expression | None


@dataclass(frozen=True, slots=True)
class Timed:
    """`operand for duration` (an on-delay) or `operand within last duration` (an off-delay)."""

    span: Span
    kind: Literal["for", "within last"]
    operand: Expression
    duration: Expression


Expression: TypeAlias = Number | Name | IfElse | Binary | Membership | Unary | Call | Aggregate | Timed

# --------------------------------------------------------------------------- small phrases


@dataclass(frozen=True, slots=True)
class Index:
    """One index of a declared name: `[cabin]` has no binder, `[c in cabin]` has one."""

    span: Span
    binder: str | None
    group: str


@dataclass(frozen=True, slots=True)
class Declared:
    """The key of an entry: `mode`, `take[cabin]`, `moved[c in cabin]`."""

    span: Span
    base: str
    indices: tuple[Index, ...] = ()


@dataclass(frozen=True, slots=True)
class Binders:
    """`c in cabin, d in cabin where d is not c`."""

    span: Span
    binders: tuple[Binder, ...]
    where: Expression | None


@dataclass(frozen=True, slots=True)
class Bound:
    """A duration with its strictness: `9 s`, `over 9 s` (after), `under 9 s` (within, every)."""

    span: Span
    duration: Expression
    strict: bool


@dataclass(frozen=True, slots=True)
class Takes:
    """`at most 3 s`, `under 3 s`, `1 s to 2 s`, `over 1 s to under 2 s`, `at least 5 s`, `over 2 s`,
    `some day` (neither bound)."""

    span: Span
    lower: Bound | None
    upper: Bound | None


@dataclass(frozen=True, slots=True)
class Range:
    """`-100 % to 100 %`; `whole` for `whole 0 to 3`."""

    span: Span
    low: Expression
    high: Expression
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Text:
    """Prose, kept as it is."""

    span: Span
    value: str


@dataclass(frozen=True, slots=True)
class Step:
    """One story step. `press`/`release`/`take`: a name; `set`: a name and a value; `wait`: a
    duration; `check`: a condition; `together`: the steps in `parts`."""

    span: Span
    verb: Literal["press", "release", "set", "take", "wait", "check", "together"]
    target: Expression | None = None
    value: Expression | None = None
    parts: tuple[Step, ...] = ()


# --------------------------------------------------------------------------- shapes of YAML values


@dataclass(frozen=True, slots=True)
class Prose:
    """A scalar read as Text."""


@dataclass(frozen=True, slots=True)
class Words:
    """A scalar that is one of these words; read as Text."""

    choices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Phrase:
    """A scalar parsed from the grammar's start symbol of this name."""

    start: str


@dataclass(frozen=True, slots=True)
class ListOf:
    """A sequence; read as a tuple. With `single`, one item may stand without the list."""

    item: Shape
    single: bool = False


@dataclass(frozen=True, slots=True)
class MapOf:
    """A mapping from keys parsed from grammar start `key` to values; read as a tuple of Entry."""

    key: str
    value: Shape


@dataclass(frozen=True, slots=True)
class RecordOf:
    """A mapping with the keys of this class's fields."""

    cls: type


@dataclass(frozen=True, slots=True)
class Either:
    """One of these, told apart by the kind of YAML node (scalar, sequence, mapping); for mappings,
    the first whose required keys are all there."""

    options: tuple[Shape, ...]


@dataclass(frozen=True, slots=True)
class Reserved:
    """A key kept for a later version: refused."""


Shape: TypeAlias = Prose | Words | Phrase | ListOf | MapOf | RecordOf | Either | Reserved


@dataclass(frozen=True, slots=True)
class Entry:
    """One pair of a mapping whose keys the author chose."""

    span: Span
    key: Any
    value: Any


def key(shape: Shape, about: str, *, word: str | None = None, required: bool = False) -> Any:
    """A field that is read from YAML: its shape, one sentence, and its key where Python needs
    another name. Optional ones default to None."""
    metadata = {"shape": shape, "about": about, "word": word, "required": required}
    return field(metadata=metadata) if required else field(default=None, metadata=metadata)


EXPRESSION = Phrase("expression")
VALUES = Phrase("values")
NAME = Phrase("name")

# --------------------------------------------------------------------------- records


@dataclass(frozen=True, kw_only=True)
class Record:
    """A mapping of the spec. `key_spans` gives the place of each key that was written."""

    span: Span = NOWHERE
    key_spans: dict[str, Span] = field(default_factory=dict, compare=False, repr=False)


@dataclass(frozen=True, kw_only=True)
class Setting(Record):
    """A named constant."""

    value: Expression = key(EXPRESSION, "the figure, with its unit", required=True)
    range: Range | None = key(Phrase("range"), "values worth trying, `5 s to 20 s` or `whole 1 to 4`")
    about: Text | None = key(Prose(), "what it is for")


@dataclass(frozen=True, kw_only=True)
class Variable(Record):
    """An input or a memory name with its values and its start."""

    values: Any = key(
        Either((VALUES, ListOf(NAME))),
        "button, signal, yes_no, `-100 % to 100 %`, `whole 0 to 3`, a group, or a list of values",
        required=True,
    )
    start: Expression | None = key(EXPRESSION, "the value at time 0")
    about: Text | None = key(Prose(), "what it is")


@dataclass(frozen=True, kw_only=True)
class Case(Record):
    """One line of a table of cases."""

    when: Expression | None = key(EXPRESSION, "the condition of this case")
    is_: Expression | None = key(EXPRESSION, "the value in this case", word="is")
    otherwise: Expression | None = key(EXPRESSION, "the value when no case above is true")


@dataclass(frozen=True, kw_only=True)
class Term(Record):
    """A named expression, as one formula or as a table of cases."""

    value: Expression | None = key(EXPRESSION, "the formula")
    cases: tuple[Case, ...] | None = key(ListOf(RecordOf(Case)), "the first true case wins")
    about: Text | None = key(Prose(), "what it means")


@dataclass(frozen=True, kw_only=True)
class Rule(Record):
    """One transition of a machine."""

    id: Text = key(Prose(), "unique in the spec", required=True)
    about: Text | None = key(Prose(), "the rule in prose")
    each: Binders | None = key(Phrase("binders"), "one rule for each member, `c in cabin`")
    from_: tuple[Name, ...] = key(
        ListOf(NAME, single=True), "states it starts from, or `any`", word="from", required=True
    )
    if_: Expression | None = key(EXPRESSION, "the guard", word="if")
    after: Bound | None = key(Phrase("after"), "and the state has lasted this long")
    takes: Takes | None = key(Phrase("takes"), "an uncertain delay, `1 s to 2 s`")
    since: Text | None = key(Prose(), "`takes` counts from when this rule was last taken")
    may: Text | None = key(Words(("yes", "no")), "can be put off for ever")
    fair: Text | None = key(Words(("yes", "no")), "not for ever available and never taken")
    to: Name | None = key(NAME, "the state entered")
    set: tuple[Entry, ...] | None = key(MapOf("name", EXPRESSION), "memory written")
    beats: tuple[Text, ...] | None = key(ListOf(Prose(), single=True), "rules that give way to it")


@dataclass(frozen=True, kw_only=True)
class Machine(Record):
    """A state machine, or one per member of a group."""

    about: Text | None = key(Prose(), "what it decides")
    states: tuple[Declared, ...] = key(
        ListOf(Phrase("declared")), "its states, `held[cabin]` for one per member", required=True
    )
    start: Name = key(NAME, "the state at time 0", required=True)
    rules: tuple[Rule, ...] | None = key(ListOf(RecordOf(Rule)), "its transitions")
    order: Text | None = key(Words(("first",)), "earlier rules win")
    tie: Text | None = key(Words(("either",)), "a tie is intended; either may win")


@dataclass(frozen=True, kw_only=True)
class Output(Record):
    """What the logic shows the world."""

    value: Expression | None = key(EXPRESSION, "the formula")
    cases: tuple[Case, ...] | None = key(ListOf(RecordOf(Case)), "the first true case wins")
    about: Text | None = key(Prose(), "what it drives")


@dataclass(frozen=True, kw_only=True)
class Silence(Record):
    """A way to quieten an alert for a while."""

    by: Expression = key(EXPRESSION, "what silences it", required=True)
    for_: Expression = key(EXPRESSION, "for how long", word="for", required=True)


@dataclass(frozen=True, kw_only=True)
class Alert(Record):
    """A call for attention with its repeat and what clears it."""

    raise_: Expression = key(EXPRESSION, "its cause", word="raise", required=True)
    repeat: Expression | None = key(EXPRESSION, "sounds again at this interval")
    clear: tuple[Expression, ...] | None = key(
        ListOf(EXPRESSION, single=True), "any one of these clears it"
    )
    silence: Silence | None = key(RecordOf(Silence), "stops the sound for a while")
    about: Text | None = key(Prose(), "what it tells whom")


@dataclass(frozen=True, kw_only=True)
class Assumption(Record):
    """What the environment is trusted to do."""

    id: Text = key(Prose(), "unique in the spec", required=True)
    text: Text | None = key(Prose(), "the assumption in prose")
    each: Binders | None = key(Phrase("binders"), "one for each member")
    always: Expression | None = key(EXPRESSION, "true after every reaction")
    never: Expression | None = key(EXPRESSION, "false after every reaction")
    after: Expression | None = key(EXPRESSION, "what starts a response")
    expect: Expression | None = key(EXPRESSION, "the response")
    within: Bound | None = key(Phrase("within"), "the response's time limit")
    again_and_again: Expression | None = key(EXPRESSION, "true time after time, for ever")


@dataclass(frozen=True, kw_only=True)
class Expected(Record):
    """A verdict other than holds, with its reason, for all members or some."""

    fails: Any = key(Either((Prose(), ListOf(NAME))), "all, or the members", required=True)
    reason: Text | None = key(Prose(), "why that is accepted")


@dataclass(frozen=True, kw_only=True)
class Requirement(Record):
    """What must be true. Exactly one form; see the table of forms in the README."""

    id: Text = key(Prose(), "unique in the spec", required=True)
    text: Text | None = key(Prose(), "the requirement in prose")
    each: Binders | None = key(Phrase("binders"), "one for each member")
    during: Expression | None = key(EXPRESSION, "asked only while this lasts")
    assuming: tuple[Text, ...] | None = key(ListOf(Prose(), single=True), "named assumptions")
    expected: Any = key(Either((Words(("fails", "holds")), RecordOf(Expected))), "`fails` if known to")
    reason: Text | None = key(Prose(), "why a failure is expected")
    always: Expression | None = key(EXPRESSION, "true after every reaction")
    never: Expression | None = key(EXPRESSION, "false after every reaction")
    possible: Expression | None = key(EXPRESSION, "some run gets there")
    recoverable: Expression | None = key(EXPRESSION, "from everywhere some run gets there")
    after: Expression | None = key(EXPRESSION, "what starts it")
    at_once: Expression | None = key(EXPRESSION, "the answer, in the same instant")
    expect: Expression | None = key(EXPRESSION, "the answer")
    within: Bound | None = key(Phrase("within"), "the answer's time limit")
    keep: Expression | None = key(EXPRESSION, "what must stay true")
    until: Expression | None = key(EXPRESSION, "what ends it")
    for_: Expression | None = key(EXPRESSION, "how long it must stay true", word="for")
    while_: Expression | None = key(EXPRESSION, "as long as this lasts", word="while")
    every: Bound | None = key(Phrase("within"), "the longest gap between answers")
    apart: Expression | None = key(EXPRESSION, "the shortest time between two beginnings")
    unless: Expression | None = key(EXPRESSION, "what cancels it")


@dataclass(frozen=True, kw_only=True)
class Together(Record):
    """Several steps in one reaction; the reader turns it into a Step."""

    together: tuple[Step, ...] = key(
        ListOf(Phrase("step")), "steps that happen in one reaction", required=True
    )


@dataclass(frozen=True, kw_only=True)
class Story(Record):
    """A short run with its expected end."""

    id: Text = key(Prose(), "unique in the spec", required=True)
    text: Text | None = key(Prose(), "what it shows")
    each: Binders | None = key(Phrase("binders"), "one for each member")
    steps: tuple[Step, ...] = key(
        ListOf(Either((Phrase("step"), RecordOf(Together)))),
        "press, release, set, take, wait, check, or `together:` a list of them",
        required=True,
    )
    end: Expression | None = key(EXPRESSION, "what is true at the end")
    unsettled: Text | None = key(Words(("yes", "no")), "yes: no settling after each step")
    expected: Any = key(Either((Words(("fails", "holds")), RecordOf(Expected))), "`fails` if known to")
    reason: Text | None = key(Prose(), "why a failure is expected")


@dataclass(frozen=True, kw_only=True)
class Waiver(Record):
    """A finding that is accepted."""

    id: Text = key(Prose(), "the finding's id, as `check` prints it", required=True)
    reason: Text = key(Prose(), "why it is accepted", required=True)


@dataclass(frozen=True, kw_only=True)
class Spec(Record):
    """A whole spec."""

    notation: Text | None = key(Words(("1",)), "the version of this notation")
    system: Text = key(Prose(), "its name", required=True)
    about: Text | None = key(Prose(), "what it is, in a sentence or two")
    groups: tuple[Entry, ...] | None = key(
        MapOf("word", ListOf(Phrase("word"))), "named lists of members"
    )
    settings: tuple[Entry, ...] | None = key(
        MapOf("declared", Either((EXPRESSION, RecordOf(Setting), MapOf("word", EXPRESSION)))),
        "named constants",
    )
    inputs: tuple[Entry, ...] | None = key(
        MapOf("declared", Either((VALUES, ListOf(NAME), RecordOf(Variable)))),
        "what the environment sets",
    )
    memory: tuple[Entry, ...] | None = key(MapOf("declared", RecordOf(Variable)), "what rules write")
    terms: tuple[Entry, ...] | None = key(
        MapOf("declared", Either((EXPRESSION, RecordOf(Term)))), "named expressions"
    )
    machines: tuple[Entry, ...] | None = key(MapOf("declared", RecordOf(Machine)), "the logic")
    outputs: tuple[Entry, ...] | None = key(
        MapOf("declared", Either((EXPRESSION, RecordOf(Output)))), "what the logic shows the world"
    )
    alerts: tuple[Entry, ...] | None = key(MapOf("declared", RecordOf(Alert)), "calls for attention")
    assume: tuple[Assumption, ...] | None = key(
        ListOf(RecordOf(Assumption)), "what the environment is trusted to do"
    )
    requirements: tuple[Requirement, ...] | None = key(
        ListOf(RecordOf(Requirement)), "what must be true"
    )
    stories: tuple[Story, ...] | None = key(ListOf(RecordOf(Story)), "short runs, judged")
    interleaved: tuple[Text, ...] | None = key(
        ListOf(Prose(), single=True), "machines of which one moves at a time"
    )
    inputs_change: Text | None = key(
        Words(("one at a time", "together")), "`one at a time`: one input in a reaction at most"
    )
    waive: Any = key(
        Either((ListOf(RecordOf(Waiver)), MapOf("finding", Prose()))), "findings that are accepted"
    )
    faults: Any = key(Reserved(), "how parts may fail")
