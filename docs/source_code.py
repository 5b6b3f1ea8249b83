"""The code as it stands in its files: functions, classes, constants, and where each name comes from.

Law of this file: it reads and runs nothing, and decides nothing about what it finds. A module is called by its path
from its package on, ``records/adding.py``.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

CLONE = Path(__file__).resolve().parent.parent
ROOTS = ("spec", "reference", "conformance")

BUILT_IN = {
    "ValueError",
    "LookupError",
    "KeyError",
    "TypeError",
    "AttributeError",
    "RuntimeError",
    "OSError",
    "IndexError",
}


@dataclass
class Function:
    """A function of the code, with the module and class it stands in."""

    module: str
    owner: str
    node: ast.FunctionDef
    assigned: dict[str, list[ast.expr]] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """The name it is called by: that of its class, for what makes a value of the class."""
        return self.owner if self.node.name == "__init__" else self.node.name

    @property
    def parameters(self) -> list[str]:
        """The names of its parameters without ``self``."""
        names = [each.arg for each in (*self.node.args.posonlyargs, *self.node.args.args)]
        if self.owner and names[:1] in (["self"], ["cls"]):
            names = names[1:]
        return names + [each.arg for each in self.node.args.kwonlyargs]

    @property
    def texts(self) -> set[str]:
        """The names of its parameters that take a text."""
        arguments = self.node.args
        every = (*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs)
        return {each.arg for each in every if each.annotation and ast.unparse(each.annotation) in ("str", "str | None")}


class Code:
    """All that the three roots hold, by its names. ``own_init`` are the classes that say themselves how one is made."""

    def __init__(self) -> None:
        trees: dict[str, ast.Module] = {}
        for root in ROOTS:
            base = CLONE / root / "boardgauge"
            for path in sorted(base.rglob("*.py")):
                trees[path.relative_to(base).as_posix()] = ast.parse(path.read_text(encoding="utf-8"))
        self.functions: list[Function] = []
        self.by_name: dict[str, list[Function]] = {}
        self.called: dict[tuple[str, str], list[Function]] = {}
        self.exceptions: set[str] = set()
        self.classes: dict[str, set[str]] = {}
        self.imported: dict[tuple[str, str], str] = {}
        self.fields: dict[tuple[str, str], list[str]] = {}
        self.constants: dict[str, dict[str, ast.expr]] = {}
        self._find_exceptions(self._read(trees))
        self.own_init = {function.owner for function in self.functions if function.node.name == "__init__"}

    def _read(self, trees: dict[str, ast.Module]) -> dict[str, list[str]]:
        bases: dict[str, list[str]] = {}
        for module, tree in trees.items():
            self.constants[module] = {}
            for node in tree.body:
                target = node.targets[0] if isinstance(node, ast.Assign) else getattr(node, "target", None)
                if isinstance(node, (ast.Assign, ast.AnnAssign)) and isinstance(target, ast.Name) and node.value:
                    self.constants[module][target.id] = node.value
            self._functions_in(module, tree, "")
            for node in ast.walk(tree):
                if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("boardgauge"):
                    for each in node.names:
                        self.imported[module, each.asname or each.name] = node.module.partition(".")[2].replace(
                            ".", "/"
                        )
                if isinstance(node, ast.ClassDef):
                    self.classes.setdefault(node.name, set()).add(module)
                    bases[node.name] = [last_name(base) for base in node.bases]
                    fields = [
                        f.target.id
                        for f in node.body
                        if isinstance(f, ast.AnnAssign) and isinstance(f.target, ast.Name)
                    ]
                    self.fields[module, node.name] = fields
        return bases

    def _find_exceptions(self, bases: dict[str, list[str]]) -> None:
        roots = {"Exception", "BaseException", *BUILT_IN}
        grown = True
        while grown:
            grown = False
            for name, above in bases.items():
                if name not in self.exceptions and any(base in roots or base in self.exceptions for base in above):
                    self.exceptions.add(name)
                    grown = True

    def _functions_in(self, module: str, tree: ast.AST, owner: str) -> None:
        for node in ast.iter_child_nodes(tree):
            if isinstance(node, ast.ClassDef):
                self._functions_in(module, node, node.name)
                continue
            if isinstance(node, ast.FunctionDef):
                function = Function(module, owner, node)
                for name, value in _assignments(node):
                    function.assigned.setdefault(name, []).append(value)
                self.functions.append(function)
                self.by_name.setdefault(node.name, []).append(function)
                self.called.setdefault((module, function.name), []).append(function)
                self._functions_in(module, node, "")
                continue
            self._functions_in(module, node, owner)


def last_name(node: ast.expr) -> str:
    return node.attr if isinstance(node, ast.Attribute) else node.id if isinstance(node, ast.Name) else ""


def calls_in(function: ast.FunctionDef) -> Iterator[ast.Call]:
    """Give the calls of a function that stand in no function inside it."""
    waiting: list[ast.AST] = list(function.body)
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.FunctionDef):
            continue
        if isinstance(node, ast.Call):
            yield node
        waiting += ast.iter_child_nodes(node)


def _assignments(function: ast.FunctionDef) -> Iterator[tuple[str, ast.expr]]:
    for node in ast.walk(function):
        if isinstance(node, ast.Assign):
            for target in node.targets:
                yield from _pairs(target, node.value)
        elif isinstance(node, (ast.AnnAssign, ast.AugAssign, ast.NamedExpr)):
            if isinstance(node.target, ast.Name) and node.value:
                yield node.target.id, node.value
        elif isinstance(node, ast.For) and isinstance(node.iter, (ast.Tuple, ast.List)):
            for each in node.iter.elts:
                yield from _pairs(node.target, each)


def _pairs(target: ast.expr, value: ast.expr) -> Iterator[tuple[str, ast.expr]]:
    if isinstance(target, ast.Name):
        yield target.id, value
    elif isinstance(target, (ast.Tuple, ast.List)) and isinstance(value, (ast.Tuple, ast.List)):
        for one, each in zip(target.elts, value.elts, strict=False):
            yield from _pairs(one, each)
    elif isinstance(target, ast.Tuple) and isinstance(value, ast.IfExp):
        yield from _pairs(target, value.body)
        yield from _pairs(target, value.orelse)


def loose_names(function: ast.FunctionDef) -> set[str]:
    """Give the names that loops, ``except``, ``match`` and unpacking bind: their text comes from elsewhere."""
    found: set[str] = set()
    for node in ast.walk(function):
        if isinstance(node, (ast.ExceptHandler, ast.MatchAs, ast.MatchStar)) and node.name:
            found.add(node.name)
        elif isinstance(node, ast.Lambda):
            found |= {each.arg for each in node.args.args}
        elif isinstance(node, (ast.For, ast.comprehension)):
            found |= {each.id for each in ast.walk(node.target) if isinstance(each, ast.Name)}
        elif isinstance(node, ast.Assign):
            for target in node.targets:
                if isinstance(target, ast.Tuple):
                    found |= {each.id for each in ast.walk(target) if isinstance(each, ast.Name)}
    return found
