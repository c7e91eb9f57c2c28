"""Kinds of margin for the tests of the rules that every margin obeys."""

from __future__ import annotations

from typing import Any

from buildlog.physics.parts.margin import Kind, Rule

TEXTS = ("caution_source", "meaning", "formula", "source", "typical", "says_not")


def kind(name: str, rule: Rule = Rule.RATIO, caution: float = 0.10, **more: Any) -> Kind:
    """A kind of which only the rule and the width of the caution band matter."""
    texts = dict.fromkeys(TEXTS, "for the tests")
    return Kind(name=name, rule=rule, caution=caution, **({"unit": "1"} | texts | more))
