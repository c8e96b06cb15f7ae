"""Malformed texts: layout, keys and expressions."""

from __future__ import annotations

from rows import Row


def term(expression: str) -> str:
    """A spec whose only fault is this expression; it begins at 3:6."""
    return f"system: x\nterms:\n  a: {expression}\n"


def rule(key: str, value: str) -> str:
    """A spec whose only fault is this line of a rule; the key begins at 9:9."""
    return (
        "system: x\nmachines:\n  m:\n    states: [p]\n    start: p\n    rules:\n"
        f"      - id: r\n        from: p\n        {key}: {value}\n"
    )


LAYOUT = (
    Row("empty-spec", "1:1", "nothing to read", "# only a comment\n"),
    Row("empty-spec", "1:1", "a list, not a spec", "- system: x\n"),
    Row("empty-spec", "1:1", "a text, not a spec", "hello\n", remedy="system: its-name"),
    Row("too-large", "1:1", "at most 1048576", "system: x\n" + "#\n" * (1 << 19)),
    Row("too-large", "14286:11", "100000 keys and values", "a: [b, c, d, e, f]\n" * 15_000),
    Row("too-long", "2:1", "at most 10000 are read", "system: x\nabout: " + "a " * 5_000),
    Row("too-deep", "2:53", "more than 50 deep", "system: x\na: " + "[" * 60),
    Row("unprintable", "2:8", "U+0007", "system: x\nabout: \x07\n"),
    Row("tab", "3:1", "a tab in the indentation", "system: x\nterms:\n\ta: b\n", remedy="spaces"),
    Row("yaml-feature", "3:6", "`&x`, an anchor", term("&x b")),
    Row("yaml-feature", "3:6", "`*x`, an alias", term("*x")),
    Row("yaml-feature", "3:6", "`!ready`, a tag", term("!ready"), remedy="`not`"),
    Row("yaml-feature", "3:3", "a merge key", "system: x\nterms:\n  <<: b\n"),
    Row("yaml-feature", "2:1", "second document", "system: x\n---\nsystem: y\n"),
    Row("yaml-feature", "2:1", "directive", "%YAML 1.2\n---\nsystem: x\n"),
    Row("yaml", "2:12", "a second `: `", "system: x\nabout: this: that\n", remedy="quotes"),
    Row(
        "yaml",
        "4:2",
        "`b: d` does not belong",
        "system: x\nterms:\n  a: c\n b: d\n",
        remedy="same column",
    ),
    Row("yaml", "3:10", "`and y` does not belong", term('"x" and y'), remedy="closing quote"),
    Row("yaml", "2:8", "never closed", "system: x\nabout: 'open\n"),
    Row("yaml", "2:11", "`q` is no escape", 'system: x\nabout: "a\\q"\n'),
    Row("yaml", "3:6", "`@` cannot begin a value", term("@x")),
    Row("yaml", "3:6", "a list item", term("- b")),
    Row("yaml", "2:9", "text behind `|`", "system: x\nabout: |a\n"),
    Row(
        "yaml",
        "4:26",
        "holds brackets",
        "system: x\nmachines:\n  m:\n    states: [shared, held[left]]\n",
        remedy="line of its own",
    ),
)

KEYS = (
    Row(
        "unknown-key",
        "2:1",
        "`requirments` is no key of a spec",
        "system: x\nrequirments: y\n",
        "requirements",
    ),
    Row("unknown-key", "9:9", "`guard` is no key of a rule", rule("guard", "a"), remedy="`if`"),
    Row("repeated-key", "3:1", "first is in line 2", "system: x\nabout: a\nabout: b\n"),
    Row("missing-key", "1:1", "a spec needs `system`", "about: nothing\n"),
    Row("missing-key", "3:3", "a machine needs `states`", "system: x\nmachines:\n  m:\n    start: p\n"),
    Row("reserved-key", "2:1", "reserved for a later version", "system: x\nfaults:\n  - a\n"),
    Row("wrong-kind", "2:9", "a mapping belongs here, not a list", "system: x\ninputs: [a]\n"),
    Row(
        "wrong-kind",
        "3:3",
        "a mapping belongs here, not a text",
        "system: x\ninputs:\n  a:button\n",
        "after the colon",
    ),
    Row(
        "wrong-kind", "3:3", "a list belongs here", "system: x\nrequirements:\n  id: A\n", remedy="`- `"
    ),
    Row("wrong-kind", "3:5", "a key must be a text", "system: x\nterms:\n  ? [a]\n  : b\n"),
    Row("empty-value", "2:1", "no value", "system: x\nterms:\n"),
    Row("empty-value", "3:3", "no value", term("''")),
    Row(
        "unknown-choice", "9:14", "`true` cannot stand here", rule("may", "true"), remedy="`yes` or `no`"
    ),
    Row("unknown-choice", "2:11", "`2` cannot stand here", "system: x\nnotation: 2\n"),
    Row(
        "unknown-key",
        "5:9",
        "`press` is no key of a step",
        "system: x\nstories:\n  - id: s\n    steps:\n      - press: a\n",
        remedy="`press x`",
        beside=1,
    ),
    Row("too-many", "104:3", "after 100 problems", "system: x\nterms:\n" + "  a: b\n" * 102, beside=100),
)

EXPRESSIONS = (
    Row("wrong-operator", "3:8", "`==` is no operator", term("a == b"), remedy="use `=` for quantities"),
    Row("wrong-operator", "3:8", "`&&` is no operator", term("a && b"), remedy="`and`"),
    Row("wrong-operator", "3:8", "`||` is no operator", term("a || b"), remedy="`or`"),
    Row("wrong-operator", "3:12", "`!` is no operator", term("a and !b"), remedy="`not`"),
    Row("wrong-operator", "3:8", "`->` is no operator", term("a -> b"), remedy="`implies`"),
    Row("wrong-operator", "3:8", "`AND` is no operator", term("a AND b"), remedy="small letters"),
    Row("wrong-operator", "3:8", "`not` does not join", term("a not in b"), remedy="`is not in`"),
    Row("syntax", "3:14", '`"manual"` is in quotes', term('mode is "manual"'), remedy="without quotes"),
    Row("syntax", "3:8", "`b` cannot follow `a`", term("a b")),
    Row("syntax", "3:8", "`adn` cannot follow `a`", term("a adn b"), remedy="did you mean `and`?"),
    Row("syntax", "3:10", "a number begins with a digit", term("a > .5")),
    Row("syntax", "3:21", "`within` needs `last`", term("(a > b) within 3 s"), remedy="within last 3 s"),
    Row("syntax", "3:18", "cannot stand after `c`", term("any(a over c)"), remedy="`in`"),
    Row("syntax", "3:3", "`1` cannot stand here", "system: x\nterms:\n  1: a\n", remedy="a name"),
    Row(
        "syntax",
        "3:7",
        "`-` cannot stand in a name",
        "system: x\ninputs:\n  take-over: button\n",
        remedy="`_`",
    ),
    Row(
        "syntax",
        "9:22",
        "`under` cannot stand there",
        rule("after", "under 3 s"),
        remedy="`over` and a duration",
    ),
    Row(
        "syntax",
        "5:9",
        "`pres` cannot stand here",
        "system: x\nstories:\n  - id: s\n    steps:\n      - pres a\n",
        "`press`",
    ),
    Row("unfinished", "3:8", "missing after `and`", term("a and"), remedy="a name"),
    Row("unfinished", "3:11", "missing after `b`", term("a if b"), remedy="`else`"),
    Row("unfinished", "9:18", "needs both ends", rule("takes", "2 s"), remedy="`1 s to 2 s`"),
    Row("unbalanced", "3:6", "`(` is never closed", term("(a and b")),
    Row("unbalanced", "3:13", "`)` closes nothing", term("a and b)")),
    Row("unbalanced", "3:8", "`]` cannot close `(`", term("(a]")),
    Row(
        "unbalanced",
        "3:17",
        "`(` is never closed",
        "system: x\nterms: {\n  a: 'b', c: max(d, e: f\n  }\n",
        remedy="a comma ends the item",
    ),
    Row("missing-duration", "3:12", "`for` needs a duration", term("moved for")),
    Row("missing-duration", "3:16", "not `and`", term("moved for and b")),
    Row("missing-duration", "3:19", "`within last` needs", term("moved within last")),
    Row(
        "needs-parentheses", "3:12", "`for` may follow only", term("x > 5 for 3 s"), remedy="(x > 5) for"
    ),
    Row("needs-parentheses", "3:10", "`not` cannot stand after", term("a = not b"), remedy="(not x)"),
    Row("chained-comparison", "3:12", "`<` follows", term("a < b < c"), remedy="a < b and b < c"),
    Row("chained-comparison", "3:13", "`is` follows", term("a is b is c")),
    Row("reserved-word", "3:3", "`in` is a word of the notation", "system: x\ninputs:\n  in: button\n"),
    Row("reserved-word", "2:10", "`or` is a word of the notation", "system: x\ngroups: {or: [a, b]}\n"),
    Row("unknown-function", "3:6", "no function `presed`", term("presed(a)"), remedy="pressed"),
    Row("unknown-function", "3:6", "no function `held`", term("held(a)"), remedy="functions are"),
    Row(
        "wrong-arguments",
        "3:6",
        "takes 3 arguments, not 2",
        term("clamp(a, b)"),
        remedy="clamp(x, lowest, highest)",
    ),
    Row("wrong-arguments", "3:14", "takes a name", term("pressed(a or b)")),
    Row("wrong-arguments", "3:6", "does not run `over` a group", term("abs(a over c in g)")),
    Row("wrong-arguments", "3:11", "cannot be an index", term("held[min(a, b)]"), remedy="other(c)"),
    Row("too-deep", "3:66", "nested too deeply", term("(" * 61 + "a" + ")" * 61)),
    Row("too-deep", "3:6", "nested too deeply", term(" or ".join("a" * 130)), remedy="any(a, b, c)"),
    Row("too-long", "3:6", "at most 4000", term("a " * 2001)),
    # places inside quoted, escaped, folded and broken values
    Row("syntax", "5:7", "`z` cannot follow", "system: x\nterms:\n  a: >-\n    x and\n    y z\n"),
    Row(
        "syntax",
        "6:9",
        "`z` cannot follow",
        "system: x\nterms:\n  a: |2\n      x and\n      y\n        z\n",
    ),
    Row("syntax", "4:10", "`z` cannot follow", "system: x\nterms:\n  a: 'x and\n      y  z'\n"),
    Row("syntax", "3:20", "`z` cannot follow", term('"x \\u0061nd y z"')),
    Row("syntax", "3:8", "`y` cannot follow", "system: x\r\nterms:\r\n  a: x y\r\n"),
    Row(
        "syntax", "3:7", "`of` cannot stand after", "system: x\nterms:\n  a[c of d]: x\n", remedy="`in`"
    ),
)

ROWS = LAYOUT + KEYS + EXPRESSIONS
