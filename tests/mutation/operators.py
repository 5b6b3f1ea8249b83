"""Small wrong changes of a module's text: what a slip of its author might have left there.

Law of this module: one change a mutant, told by line, and every mutant can be parsed. Text for people, annotations,
assertions and what only a type checker reads are left alone: no verdict hangs on them.

The operators: an edge of a comparison (``<`` for ``<=``), its sense (``==`` for ``!=``), ``and`` for ``or``, a ``not``
left out, a condition turned round, a whole number off by one, a truth value turned, plus for minus, ``min`` for
``max``, ``any`` for ``all``, and a statement left out. Only statements are left out that some run could do without: a
name that is never bound, or a function that gives nothing, falls over at once and would only flatter the score.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator

from attrs import field, frozen

_EDGES: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
_SUMS: dict[type[ast.operator], type[ast.operator]] = {ast.Add: ast.Sub, ast.Sub: ast.Add}
_NAMES = {"min": "max", "max": "min", "any": "all", "all": "any"}


@frozen
class Mutant:
    """One change of a module: from one byte to another of ``module`` stands ``code`` instead."""

    operator: str
    line: int
    before: str
    after: str
    module: bytes = field(repr=False)
    start: int
    stop: int
    code: str

    @property
    def text(self) -> str:
        """Give the module with the change."""
        return (self.module[: self.start] + self.code.encode() + self.module[self.stop :]).decode()

    def __str__(self) -> str:
        return f"line {self.line}: {self.before} -> {self.after}"


def mutants(text: str) -> Iterator[Mutant]:
    """Give every mutant of a module, in order of line."""
    module = text.encode()
    starts = [0]
    for line in module.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    found: dict[tuple[int, int, str], Mutant] = {}
    for operator, old, new in _changes(ast.parse(text), in_function=False):
        assert old.end_lineno is not None
        assert old.end_col_offset is not None
        start = starts[old.lineno - 1] + old.col_offset
        stop = starts[old.end_lineno - 1] + old.end_col_offset
        before, after = module[start:stop].decode(), ast.unparse(new)
        # Brackets keep what stands around an expression from taking it apart.
        code = f"({after})" if isinstance(old, (ast.Compare, ast.BoolOp, ast.UnaryOp, ast.BinOp)) else after
        if before not in (code, after):
            # Lines that go away leave empty ones, so that the lines of what follows stay what they were.
            code += "\n" * before.count("\n") if isinstance(old, ast.stmt) else ""
            mutant = Mutant(operator, old.lineno, _short(before), _short(after), module, start, stop, code)
            found.setdefault((start, stop, code), mutant)
    yield from sorted(found.values(), key=lambda mutant: (mutant.line, mutant.operator, mutant.after))


def _short(code: str) -> str:
    line = " ".join(code.split())
    return line if len(line) <= 90 else line[:87] + "..."


def _changes(node: ast.AST, in_function: bool) -> Iterator[tuple[str, ast.expr | ast.stmt, ast.AST]]:
    match node:
        case ast.Assert() | ast.JoinedStr() | ast.Import() | ast.ImportFrom():
            return
        case ast.If(test=ast.Name(id="TYPE_CHECKING")) | ast.keyword(arg="strict"):
            return  # of two rows that are as long as each other, "strict" only asserts that they are
        case ast.Raise() if in_function:
            yield "left out", node, ast.Pass()
            return  # what it says is for people
        case ast.AnnAssign(value=value):
            if value is not None:
                yield from _changes(value, in_function)
            return
        case ast.FunctionDef(body=body, decorator_list=decorators, args=args):
            for part in (*decorators, *args.defaults, *(d for d in args.kw_defaults if d is not None), *body):
                yield from _changes(part, True)
            return
        case ast.Expr(value=ast.Constant()):
            return
    yield from _here(node, in_function)
    for child in ast.iter_child_nodes(node):
        yield from _changes(child, in_function)


def _here(node: ast.AST, in_function: bool) -> Iterator[tuple[str, ast.expr | ast.stmt, ast.AST]]:
    match node:
        case ast.Compare(left=left, ops=ops, comparators=others):
            for index, op in enumerate(ops):
                if type(op) in _EDGES:
                    turned = [*ops[:index], _EDGES[type(op)](), *ops[index + 1 :]]
                    yield "comparison", node, ast.Compare(left, turned, others)
        case ast.BoolOp(op=op, values=values):
            yield "and/or", node, ast.BoolOp(ast.Or() if isinstance(op, ast.And) else ast.And(), values)
        case ast.UnaryOp(op=ast.Not(), operand=operand):
            yield "not left out", node, operand
        case ast.BinOp(left=left, op=op, right=right) if type(op) in _SUMS:
            yield "plus/minus", node, ast.BinOp(left, _SUMS[type(op)](), right)
        case ast.Constant(value=bool(value)):
            yield "truth", node, ast.Constant(not value)
        case ast.Constant(value=int(value)):
            yield "off by one", node, ast.Constant(value + 1)
        case ast.Call(func=ast.Name(id=name), args=args, keywords=keywords) if name in _NAMES:
            yield "min/max, any/all", node, ast.Call(ast.Name(_NAMES[name]), args, keywords)
        case ast.If(test=test) | ast.IfExp(test=test) if not isinstance(test, (ast.Compare, ast.UnaryOp)):
            yield "turned round", test, ast.UnaryOp(ast.Not(), test)
    if in_function and isinstance(node, ast.stmt) and _can_be_missing(node):
        yield "left out", node, ast.Pass()


def _can_be_missing(node: ast.stmt) -> bool:
    match node:
        case ast.AugAssign() | ast.Continue() | ast.Break() | ast.Return(value=None):
            return True
        case ast.Expr(value=value):
            return isinstance(value, ast.Call)
        case ast.Assign(targets=targets):
            return all(isinstance(target, (ast.Attribute, ast.Subscript)) for target in targets)
    return False
