"""Well-formed texts that mean nothing: names, values, units, events, rules, requirements, stories.

Most rows put one line into a small spec that is otherwise right; `asked`, `rule` and `top` say where
the line stands.
"""

from __future__ import annotations

from rows import Row

HEAD = """\
system: x
groups: {cabin: [left, right], mast: [fore, mid, aft]}
inputs:
  take[cabin]: button
  go: button
  shut: signal
  lever: -100 % to 100 %
  heading: 0 deg to 360 deg
  mode: [manual, automatic]
memory:
  last: {values: cabin, start: left}
  n: {values: whole 0 to 3, start: 0}
  done: {values: yes_no, start: no}
machines:
  pilot:
    states: [standby, active]
    start: standby
    rules: [{id: engage, from: standby, if: pressed(go), to: active}]
  helm:
    states:
      - free
      - held[cabin]
    start: free
    rules:
      - id: grip
        from: free
"""
INDEXED = """\
system: x
groups: {{g: [a, b]}}
memory:
  l: {{values: g, start: a}}
  k[g]: {{values: yes_no, start: no}}
machines:
  m:
    states: [s]
    start: s
    rules:
      - id: r
        from: s
{}
"""
BODY = HEAD + "        to: held[left]\n"


def asked(expression: str) -> str:
    """A requirement with this expression, which begins at 30:13."""
    return f"{BODY}requirements:\n  - id: R\n    always: {expression}\n"


def rule(*lines: str) -> str:
    """The rule `grip` with these lines; the first key is at 27:9."""
    return HEAD + "".join(f"        {line}\n" for line in lines)


def top(*lines: str) -> str:
    """These lines below the rest, from 28:1 on."""
    return BODY + "".join(f"{line}\n" for line in lines)


def required(*lines: str) -> str:
    """A requirement with these lines, the first at 30:5."""
    return top("requirements:", "  - id: R", *(f"    {line}" for line in lines))


def story(*steps: str) -> str:
    """A story with these steps, the first at 31:9."""
    return top("stories:", "  - id: S", "    steps:", *(f"      - {step}" for step in steps))


NAMES = (
    Row("declared-twice", "28:9", "'lever' is already an input", top("terms: {lever: go}")),
    Row(
        "declared-twice",
        "29:14",
        "already a rule's id",
        rule("to: held[left]", "") + "      - {id: engage, from: free}\n",
    ),
    Row(
        "declared-twice",
        "32:10",
        "already the id of a requirement",
        required("always: shut", "") + "  - {id: R, never: shut}\n",
    ),
    Row("listed-twice", "3:16", "'fore' twice", "system: x\ngroups:\n  mast: [fore, fore]\n"),
    Row("listed-twice", "3:13", "'a' twice", "system: x\ninputs:\n  i: [a, b, a]\n"),
    Row("unknown-name", "30:13", "no name is 'leverr'", asked("leverr > 5 %"), remedy="'lever'"),
    Row("unknown-name", "30:37", "no name is 'yess'", asked("shut and (yes or go) or yess")),
    Row(
        "unknown-group",
        "30:30",
        "no group is 'cabins'",
        asked("any(take[c] over c in cabins)"),
        remedy="'cabin'",
    ),
    Row("unknown-group", "29:5", "no group is 'cabins'", top("terms:", "  t[c in cabins]: shut")),
    Row("unknown-value", "30:21", "'manul' is no value", asked("mode is manul"), remedy="'manual'"),
    Row(
        "unknown-value",
        "28:21",
        "never a value",
        rule("to: held[left]", "set: {last: mode}"),
        remedy="left, right",
    ),
    Row("unknown-value", "28:21", "'middle' is no value", rule("to: held[left]", "set: {last: middle}")),
    Row("unknown-rule", "30:23", "'gripp'", asked("not taken(gripp)"), remedy="'grip'"),
    Row("unknown-rule", "28:16", "'let_go'", rule("to: held[left]", "beats: let_go")),
    Row(
        "unknown-rule", "29:16", "'let_go'", rule("to: held[left]", "takes: 1 s to 2 s", "since: let_go")
    ),
    Row(
        "unknown-rule",
        "28:17",
        "'grip[left]'",
        rule("to: held[left]", "beats: 'grip[left]'"),
        remedy="'grip'",
    ),
    Row(
        "unknown-state", "27:13", "no state 'hold[left]'", rule("to: hold[left]"), remedy="'held[left]'"
    ),
    Row("unknown-state", "27:13", "no state 'mode'", rule("to: mode")),
    Row("unknown-state", "27:13", "not one state", rule("to: held[last]"), remedy="held[left]"),
    Row("unknown-assumption", "31:15", "'CALM'", required("always: shut", "assuming: CALM")),
    Row("unknown-machine", "28:22", "'helms'", top("interleaved: [pilot, helms]"), remedy="'helm'"),
    Row("unknown-unit", "30:23", "'sec'", asked("heading > 3 sec"), remedy="units are"),
    Row(
        "bad-id",
        "6:18",
        "'my rule'",
        "system: x\nmachines:\n  m:\n    states: [a]\n    start: a\n"
        "    rules: [{id: my rule, from: a}]\n",
    ),
    Row("bad-id", "29:10", "'R 1'", top("requirements:", "  - {id: R 1, always: shut}")),
    Row("shadowed", "30:27", "the input 'go'", asked("any(shut over go in cabin)")),
    Row("shadowed", "30:27", "a member of a group", asked("any(shut over left in cabin)")),
    Row(
        "shadowed",
        "31:30",
        "a binder around it",
        required("each: c in cabin", "always: any(take[c] over c in cabin)"),
    ),
    Row("shadowed", "29:5", "the memory 'n'", top("terms:", "  t[n in cabin]: shut")),
    Row("shadowed", "29:17", "bound twice", top("terms:", "  t[c in cabin, c in mast]: shut")),
    Row("index-count", "30:13", "takes 1 index", asked("take"), remedy="'take[...]'"),
    Row("index-count", "30:13", "takes no index", asked("go[left]")),
    Row("bad-index", "30:18", "'mode' cannot be an index", asked("take[mode]"), remedy="left, right"),
    Row("bad-index", "30:18", "'helm' cannot be an index", asked("take[helm]")),
    Row(
        "not-a-member",
        "31:18",
        "'fore'",
        required("each: d in mast", "always: take[d]"),
        remedy="left, right",
    ),
    Row(
        "no-member",
        "30:11",
        "leaves no member",
        required("each: c in cabin where c is not c", "always: shut"),
    ),
    Row("no-member", "27:15", "leaves no member", rule("each: c in cabin where c is not c")),
    Row("not-readable", "30:21", "'cabin' is a group", asked("last is cabin"), remedy="left, right"),
    Row("not-readable", "30:13", "'go' is no alert", asked("go.raised")),
    Row(
        "not-readable",
        "31:6",
        "has no value of its own",
        top("alerts:", "  jam: {raise: shut}", "outputs:", "  o: jam"),
        remedy="jam.raised",
    ),
    Row("circular", "29:3", "a -> b -> a", top("terms:", "  a: b or go", "  b: a and shut")),
    Row("circular", "3:3", "t -> t", "system: x\nsettings:\n  t: t + 1 s\n"),
)

VALUES = (
    Row(
        "bad-values",
        "3:7",
        "'buton' says no values",
        "system: x\ninputs:\n  go: buton\n",
        remedy="'button'",
    ),
    Row(
        "bad-values",
        "3:15",
        "memory cannot be a button",
        "system: x\nmemory:\n  a: {values: button, start: no}\n",
    ),
    Row("bad-values", "3:6", "ends that are not whole", "system: x\ninputs:\n  a: whole 0 to 1.5\n"),
    Row("bad-values", "4:7", "no plain word", "system: x\ninputs:\n  a:\n    - b[c]\n"),
    Row("bad-range", "3:6", "upside down", "system: x\ninputs:\n  a: 5 % to 0 %\n"),
    Row(
        "bad-range",
        "3:24",
        "range of whole numbers",
        "system: x\nsettings:\n  a: {value: 1, range: whole 0 to 1.5}\n",
    ),
    Row("bad-range", "30:13", "lowest value above", asked("clamp(lever, 5 %, 0 %) > 0")),
    Row("bad-start", "3:3", "has no start", "system: x\nmemory:\n  a: {values: yes_no}\n"),
    Row(
        "bad-start",
        "3:36",
        "'5' is outside",
        "system: x\nmemory:\n  a: {values: whole 0 to 3, start: 5}\n",
    ),
    Row(
        "unknown-value",
        "3:30",
        "'c' is no value",
        "system: x\ninputs:\n  a: {values: [b, d], start: c}\n",
    ),
    Row(
        "bad-start",
        "3:30",
        "'1' is not one of its values",
        "system: x\ninputs:\n  a: {values: button, start: 1}\n",
        remedy="yes or no",
    ),
    Row("not-constant", "28:19", "'lever'", top("settings: {limit: lever}")),
    Row(
        "not-constant",
        "4:36",
        "'n' changes",
        "system: x\nmemory:\n  n: {values: whole 0 to 3, start: 0}\n"
        "  m: {values: whole 0 to 3, start: n}\n",
    ),
    Row("not-constant", "27:32", "after `where`", rule("each: c in cabin where shut")),
    Row("not-constant", "27:16", "'n * 1 s' is not known", rule("after: n * 1 s")),
    Row("not-constant", "30:47", "after `where`", asked("any(take[c] over c in cabin where last is c)")),
    Row(
        "outside-range",
        "3:26",
        "not in its range 5 s to 9 s",
        "system: x\nsettings:\n  t: {value: 2 s, range: 5 s to 9 s}\n",
    ),
    Row("bad-setting", "29:3", "no value for right", top("settings:", "  t[c in cabin]: {left: 3 s}")),
    Row(
        "bad-setting",
        "29:42",
        "'middle' is no member",
        top("settings:", "  t[c in cabin]: {left: 3 s, right: 3 s, middle: 2 s}"),
    ),
    Row("bad-setting", "29:3", "needs one index", top("settings:", "  t: {left: 3 s, right: 3 s}")),
    Row("bad-cases", "29:3", "either a value or cases", top("terms:", "  t: {about: nothing}")),
    Row(
        "bad-cases",
        "31:9",
        "`when` with `is`",
        top("terms:", "  t:", "    cases:", "      - otherwise: a", "      - {when: go, is: b}"),
    ),
)

TYPES = (
    Row("wrong-type", "30:13", "'mode' is a name", asked("mode and shut"), remedy="'mode is manual'"),
    Row("wrong-type", "30:13", "'lever' is a plain number", asked("lever or shut"), remedy="compare it"),
    Row("wrong-type", "30:13", "'shut' is true or false", asked("shut + 1 > 2"), remedy="count"),
    Row("wrong-type", "30:33", "but 'mode' is a name", asked("(lever if shut else mode) > 0")),
    Row(
        "wrong-type",
        "28:18",
        "may have a fraction",
        rule("to: held[left]", "set: {n: lever}"),
        remedy="whole number",
    ),
    Row(
        "wrong-type", "28:21", "the memory holds true or false", rule("to: held[left]", "set: {done: n}")
    ),
    Row(
        "wrong-comparison",
        "30:18",
        "'shut' is true or false",
        asked("shut is yes"),
        remedy="write 'shut'",
    ),
    Row(
        "wrong-comparison",
        "30:18",
        "'shut' is true or false",
        asked("shut is no"),
        remedy="write 'not shut'",
    ),
    Row("wrong-comparison", "30:15", "'n' is a plain number", asked("n is 3"), remedy="`=`"),
    Row("wrong-comparison", "30:18", "'mode' is a name", asked("mode = manual"), remedy="`is`"),
    Row("wrong-comparison", "30:18", "'mode' is a name", asked("mode < 3"), remedy="no order"),
    Row("wrong-comparison", "30:18", "'shut' is true or false", asked("shut = go"), remedy="'not shut'"),
    Row("wrong-comparison", "30:13", "'n' is a plain number", asked("n in (1, 2)")),
    Row("never-equal", "30:13", "never equal", asked("mode is last"), remedy="in common"),
    Row("never-equal", "30:21", "no member that is one of", asked("mode in mast")),
    Row("wrong-dimension", "30:19", "'4 deg' is an angle, beside a time", asked("3 s + 4 deg > 0")),
    Row("wrong-dimension", "30:22", "'5 deg' is an angle", asked("shut for 5 deg"), remedy="'2 s'"),
    Row("bare-number", "30:23", "'5' stands beside an angle", asked("heading > 5"), remedy="'5 deg'"),
    Row("bare-number", "30:13", "'2' stands beside a time", asked("2 + 3 s > 0")),
    Row("bad-division", "30:21", "'n' is not constant", asked("lever / n > 0")),
    Row("bad-division", "30:21", "'0' is 0", asked("lever / 0 > 0")),
    Row("wrong-arguments", "30:21", "'shut' is none", asked("pressed(shut)"), remedy="'begins(shut)'"),
    Row(
        "wrong-arguments", "31:19", "group of two", required("each: d in mast", "always: other(d) is d")
    ),
    Row(
        "nothing-to-compare",
        "30:13",
        "`min` of nothing",
        asked("min(1 over c in cabin where c is not c) > 0"),
    ),
)

EVENTS = (
    Row(
        "event-not-allowed",
        "30:13",
        "'pressed(go)' is an event",
        asked("pressed(go) for 3 s"),
        remedy="`within last`",
    ),
    Row("event-not-allowed", "30:20", "'pressed(go)' holds an event", asked("before(pressed(go))")),
    Row(
        "event-not-allowed",
        "30:20",
        "`begins` needs",
        asked("begins(pressed(go))"),
        remedy="the event itself",
    ),
    Row("event-not-allowed", "30:21", "'pressed(go)' holds an event", asked("changed(pressed(go))")),
    Row("event-not-allowed", "31:13", "`during` needs", required("always: shut", "during: pressed(go)")),
    Row(
        "event-not-allowed",
        "31:11",
        "`keep` needs",
        required("after: go", "keep: pressed(go)", "for: 3 s"),
    ),
    Row(
        "event-not-allowed",
        "30:12",
        "`while` needs",
        required("while: pressed(go)", "expect: shut", "every: 3 s"),
    ),
    Row("event-not-allowed", "31:15", "`check` needs", story("check pressed(go)")),
    Row(
        "event-with-takes",
        "27:13",
        "'pressed(go)' is an event",
        rule("if: pressed(go)", "takes: at most 3 s"),
        remedy="`since: its_id`",
    ),
    Row("nested-before", "30:28", "inside another `before`", asked("before(shut or before(go))")),
    Row(
        "never-begins",
        "27:13",
        "what stands still in the rules of 'helm'",
        rule("if: begins(helm is free)"),
        remedy="own state",
    ),
    Row("never-begins", "27:13", "never true", rule("if: ends(done)", "set: {done: yes}")),
    Row(
        "never-begins",
        "27:13",
        "machines that are `interleaved` move one at a time",
        rule("if: changed(pilot)") + "interleaved: [pilot, helm]\n",
        remedy="read the state",
    ),
    Row(
        "never-begins", "30:13", "never true", asked("begins(before(shut))"), remedy="leave out `before`"
    ),
    Row("own-rule", "27:13", "'taken(grip)'", rule("if: taken(grip)"), remedy="leaves behind"),
    Row(
        "own-rule",
        "27:13",
        "'taken(engage)'",
        rule("if: taken(engage)") + "interleaved: [pilot, helm]\n",
    ),
)

RULES = (
    Row("bad-timing", "28:9", "cannot both say when", rule("after: 3 s", "takes: 1 s to 2 s")),
    Row("bad-timing", "27:9", "no first instant", rule("after: over 3 s"), remedy="`may: yes`"),
    Row("bad-timing", "27:9", "there is no `takes`", rule("since: grip")),
    Row("bad-timing", "28:9", "must be taken by then", rule("takes: at most 3 s", "may: yes")),
    Row("bad-timing", "27:9", "taken at once", rule("fair: yes")),
    Row("bad-duration", "27:16", "'3 s - 5 s' is negative", rule("after: 3 s - 5 s")),
    Row("bad-duration", "30:22", "'0 s' is zero", asked("shut for 0 s")),
    Row("bad-duration", "27:16", "leaves no time", rule("takes: 3 s to 1 s")),
    Row("bad-duration", "27:16", "leaves no time", rule("takes: 3 s to under 3 s")),
    Row("bad-write", "27:15", "'go' is an input, not memory", rule("set: {go: yes}")),
    Row("bad-write", "27:15", "'helm' is a machine", rule("set: {helm: free}"), remedy="`to:`"),
    Row(
        "bad-write",
        "16:11",
        "'k[a]' is set twice",
        INDEXED.format(
            "        each: c in g where c is a\n        set:\n          k[a]: yes\n          k[c]: no"
        ),
    ),
    Row("bad-write", "27:15", "'lasst' is not declared", rule("set: {lasst: left}"), remedy="'last'"),
    Row(
        "bad-timing",
        "13:9",
        "one rule for each value of 'l'",
        INDEXED.format("        takes: at most 3 s\n        set:\n          k[l]: yes"),
        remedy="'l is' that binder",
    ),
    Row(
        "bad-timing",
        "14:9",
        "`fair` would start over",
        INDEXED.format("        may: yes\n        fair: yes\n        set:\n          k[l]: yes"),
    ),
    Row(
        "bad-index",
        "14:13",
        "cannot be the index of what is set",
        INDEXED.format("        set:\n          k[chosen]: yes")
        + "terms:\n  chosen: l if k[a] else other(l)\n",
    ),
    Row(
        "bad-write",
        "15:11",
        "'k[a]' is set twice",
        INDEXED.format("        set:\n          k[a]: yes\n          k[l]: no"),
    ),
    Row("beats-elsewhere", "27:16", "rule of another machine, 'pilot'", rule("beats: engage")),
    Row(
        "beats-circle",
        "27:16",
        "grip -> ",
        rule("beats: drop", "") + "      - {id: drop, from: any, beats: grip}\n",
    ),
    Row("beats-circle", "27:16", "grip -> grip", rule("beats: grip")),
    Row(
        "circular-order",
        "15:3",
        "'pilot' reads 'helm', 'helm' reads 'pilot'",
        BODY.replace("if: pressed(go)", "if: helm is free") + "        if: pilot is active\n",
        remedy="'before(helm)'",
    ),
)

REQUIREMENTS = (
    Row("no-form", "29:9", "asks nothing", required("text: what now?")),
    Row(
        "no-form",
        "29:9",
        "`after` with `until`",
        required("after: go", "until: shut"),
        remedy="`after` `keep` `until`",
    ),
    Row("no-form", "29:9", "`always` with `never`", required("always: go", "never: shut")),
    Row(
        "no-form", "29:10", "`after`, which", top("assume:", "  - {id: A, after: go}"), remedy="`expect`"
    ),
    Row("bad-unless", "31:5", "'always' begins nothing", required("always: go", "unless: shut")),
    Row(
        "bad-expected",
        "32:24",
        "'middle' is no member",
        required("each: c in cabin", "always: take[c]", "expected: {fails: [middle], reason: so}"),
    ),
    Row(
        "bad-expected",
        "31:24",
        "'left' is no member",
        required("always: go", "expected: {fails: [left], reason: so}"),
        remedy="fails: all",
    ),
    Row(
        "bad-step",
        "31:9",
        "only a button can be pressed",
        story("press shut"),
        remedy="'set shut to ...'",
    ),
    Row("bad-step", "31:9", "'helm' is no input", story("set helm to free")),
    Row("bad-step", "31:9", "cannot be set to '200 %'", story("set lever to 200 %"), remedy="within"),
    Row("bad-step", "31:9", "'grip' is taken at once", story("take grip"), remedy="may: yes"),
    Row("bad-step", "31:20", "'wait' cannot be one", story("together: [wait 2 s, press go]")),
    Row("bad-step", "31:32", "two values at once", story("together: [release go, press go]")),
    Row("bad-step", "31:10", "'take[last]' is not one input", story("'press take[last]'")),
)

MANY = "system: x\ngroups:\n  g: [" + ", ".join(f"m{i}" for i in range(200)) + "]\n"
BOUNDS = (
    Row("too-large", "5:3", "more than 20000 instances", MANY + "inputs:\n  a[g, g, g]: button\n"),
    Row(
        "too-large",
        "6:17",
        "more than 20000 instances",
        MANY + "inputs: {a: button}\noutputs:\n  o: any(a over c in g, d in g, e in g)\n",
    ),
    Row(
        "too-large",
        "16:8",
        "too large a formula",
        "system: x\ninputs: {a: button}\nterms:\n  t0: a\n"
        + "".join(f"  t{i + 1}: t{i} and not t{i} or a\n" for i in range(30)),
    ),
)

ROWS = NAMES + VALUES + TYPES + EVENTS + RULES + REQUIREMENTS + BOUNDS
