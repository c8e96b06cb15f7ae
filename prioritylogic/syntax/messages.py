"""The codes of this layer: every fault that reading a spec's text can find, with its meaning.

Why a table: a code is a promise to scripts that filter on it, so a test asks that every code here
has a malformed example in `tests/invalid`, and that no other code is used.
"""

from __future__ import annotations

from types import MappingProxyType

CODES = MappingProxyType(
    {
        "too-large": "the text is longer than any spec needs to be",
        "too-deep": "lists, mappings or parentheses are nested too deeply",
        "too-long": "one line or one expression is too long to be read by a person",
        "too-many": "reading stopped, because there are more problems than anyone reads",
        "empty-spec": "there is nothing to read, or it is not a mapping",
        "yaml": "the layout is not YAML",
        "tab": "a tab stands where YAML wants spaces",
        "unprintable": "a character that no text should hold",
        "yaml-feature": "a part of YAML that specs do without: anchors, tags, merges, documents",
        "unknown-key": "no such key here",
        "repeated-key": "the same key twice in one mapping",
        "missing-key": "a key that must be there is not",
        "reserved-key": "a key kept for a later version",
        "wrong-kind": "a list, a mapping or a text where another of these belongs",
        "empty-value": "a key or a list item without a value",
        "unknown-choice": "not one of the words that may stand here",
        "syntax": "something stands where it cannot",
        "unfinished": "an expression ends too early",
        "wrong-operator": "an operator of another notation",
        "unbalanced": "a bracket without its partner",
        "missing-duration": "`for` or `within last` without its duration",
        "needs-parentheses": "a delay behind something other than a name, a call or a parenthesis",
        "chained-comparison": "a comparison of a comparison",
        "reserved-word": "a word of the notation used as a name",
        "unknown-function": "no such function",
        "wrong-arguments": "a function with arguments it does not take",
    }
)
