"""Every rule stands once: a second one of the same name would silently take the place of the first."""

from __future__ import annotations

import ast
from collections import Counter
from pathlib import Path

from tideover.answers import limits


def test_no_rule_has_the_name_of_another() -> None:
    tree = ast.parse(Path(limits.__file__).read_text(encoding="utf-8"))
    names = Counter(
        target.id
        for node in tree.body
        if isinstance(node, ast.Assign)
        for target in node.targets
        if isinstance(target, ast.Name)
    )
    assert [name for name, count in names.items() if count > 1] == []
