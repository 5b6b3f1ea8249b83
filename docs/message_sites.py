"""Find every message in the code that a person can be told, as the words it is made of.

Law of this file: nothing is run and nothing is listed by hand that can be found. A message is what flows into the text
of an exception of ours, into the text of one of the values below, or onto standard error. From there it is followed
back: through names, both sides of a choice, helpers that pass it on, functions that return it. What changes in it is
written as "…". Where the way back is lost, the place is given as ``lost``, so that a test can ask about it.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from source_code import Code, Function, calls_in, last_name, loose_names

GAP = "…"

VALUES = {
    ("language/problems.py", "Problem"): ("error", "message"),
    ("language/advice.py", "Advice"): ("advice", "message"),
    ("machine/explore.py", "Finding"): ("error", "reason"),
    ("judging/judgement.py", "Doubt"): ("doubt", "reason"),
    ("traces/suspicions.py", "Suspicion"): ("remark", "what"),
    ("traces/remarks.py", "Finding"): ("remark", "text"),
    ("traces/remarks.py", "Remark"): ("remark", "text"),
    ("records/verifying.py", "Finding"): ("remark", "what"),
}
"""Values that hold a message: by module and class, what it is, and the field that holds it."""

RETURNED = {
    ("language/name_checks.py", "Verdict"): 0,
    ("language/name_checks.py", "Iterator[Finding]"): 1,
    ("language/lamp_advice.py", "Iterator[Found]"): 1,
    ("language/supply_words.py", "tuple[int, str] | None"): 1,
}
"""Functions that hand a message on inside a tuple: by module and what they return, its place in the tuple."""

TABLES = {
    ("language/expression_errors.py", "EXPLANATIONS"): "keys",
    ("language/expression_errors.py", "CHARACTERS"): "values",
}
"""Tables of messages."""

OF_PROBLEMS = {"UnusableSpec", "BadWiring", "BadCurve", "MissingTolerance"}
"""Exceptions that hold problems, each of which was made, and is found, by itself; or a place alone."""
PLACES = {"file", "path", "key", "where", "place", "given", "name", "line", "column", "at", "expected"}
"""Parameters that say where, not what."""
REASONS = {"message", "what", "reason", "why"}
"""Parameters that say what, wherever they are put."""
MOST_FORMS = 64
DEEPEST = 12


@dataclass(frozen=True, order=True)
class Message:
    """The words of a message, the module it stands in (from its package on), and what sort it is."""

    words: str
    module: str
    sort: str = "error"


class Sites:
    """What flows into messages in the code."""

    def __init__(self) -> None:
        self.code = Code()
        self.messages: set[Message] = set()
        self.lost: dict[str, str] = {}
        self._done: set[tuple[int, str]] = set()
        # What makes a message: by the name it is called by, its module and the parameter, what sort it makes. It grows
        # as it is found that a parameter of a function flows into one.
        self.makers: dict[str, dict[tuple[str, str], str]] = {}
        self._begin()
        self._follow()
        self.unseen = self._unseen()

    # -- following ---------------------------------------------------------------------------------------------------
    def _begin(self) -> None:
        for name in self.code.exceptions - self.code.own_init:
            for module in self.code.classes[name]:
                self._makes(name, module, "0", "error")
        for function in self.code.functions:
            if function.node.name == "__init__" and function.owner in self.code.exceptions:
                for parameter in {"message", "what", "reason"} & set(function.parameters):
                    self._makes(function.owner, function.module, parameter, "error")
        for (module, name), (sort, at) in VALUES.items():
            self._makes(name, module, at, sort)

    def _makes(self, name: str, module: str, parameter: str, sort: str) -> None:
        self.makers.setdefault(name, {}).setdefault((module, parameter), sort)

    def _follow(self) -> None:
        calls = [(function, call) for function in self.code.functions for call in calls_in(function.node)]
        done = self._done
        grown = True
        while grown:
            grown = False
            for function, call in calls:
                for maker, value, sort in list(self._told_by(function, call)):
                    if (id(call), maker) not in done:
                        done.add((id(call), maker))
                        grown = True
                        self._take(function, value, sort, call)
        for function in self.code.functions:
            for (module, returned), place in RETURNED.items():
                said = function.node.returns
                if function.module == module and said is not None and ast.unparse(said) == returned:
                    self._take_returned(function, place)
        for (module, table), part in TABLES.items():
            value = self.code.constants[module][table]
            assert isinstance(value, ast.Dict)
            for each in value.keys if part == "keys" else value.values:
                for words in self._words(None, each, 0) if each is not None else ():
                    self.messages.add(Message(words, module))

    def _told_by(self, function: Function, call: ast.Call) -> Iterator[tuple[str, ast.expr, str]]:
        """Give what a call makes a message of: the parameter, the value, and the sort."""
        name = last_name(call.func)
        if name == "__init__" and function.owner in self.code.exceptions and call.args:
            yield "super", call.args[0], "error"
        if (
            name == "echo"
            and any(k.arg == "err" and ast.unparse(k.value) == "True" for k in call.keywords)
            and call.args
        ):
            yield "echo", call.args[0], "error"
        if name == "print" and any(k.arg == "file" and "stderr" in ast.unparse(k.value) for k in call.keywords):
            yield "print", call.args[0], "error"
        makers = self.makers.get(name)
        if not makers:
            return
        for module in self._homes(call.func, name, function.module, {module for module, _ in makers}):
            for (home, parameter), sort in list(makers.items()):
                value = self._argument(call, name, parameter, home) if home == module else None
                if value is not None:
                    yield f"{home} {name} {parameter}", value, sort

    def _homes(self, called: ast.expr, name: str, module: str, makers: set[str]) -> set[str]:
        """Give the modules that a call can mean: its own where the name is at home there, else where it came from."""
        if any(each.module == module for each in self.code.by_name.get(name, ())) or module in self.code.classes.get(
            name, ()
        ):
            return makers & {module}
        if isinstance(called, ast.Attribute):
            return set() if name.startswith("_") and not name.startswith("__") else makers
        came_from = self.code.imported.get((module, name))
        if came_from is None:
            return set()
        exact = {each for each in makers if each == f"{came_from}.py"}
        return exact or {each for each in makers if each.startswith(f"{came_from}/")}

    def _argument(self, call: ast.Call, name: str, parameter: str, home: str) -> ast.expr | None:
        for keyword in call.keywords:
            if keyword.arg == parameter:
                return keyword.value
        if any(isinstance(arg, ast.Starred) for arg in call.args):
            return None
        order = self.code.fields.get((home, name), [])
        for function in self.code.called.get((home, name), ()):
            if parameter in function.parameters:
                order = function.parameters
        at = int(parameter) if parameter.isdigit() else order.index(parameter) if parameter in order else len(call.args)
        return call.args[at] if at < len(call.args) else None

    def _unseen(self) -> list[str]:
        """Give the places where an exception of ours is raised with a text that was not followed."""
        seen = {id_ for id_, _ in self._done}
        found = []
        for function in self.code.functions:
            for node in ast.walk(function.node):
                call = node.exc if isinstance(node, ast.Raise) else None
                name = last_name(call.func) if isinstance(call, ast.Call) else ""
                if (
                    name in self.code.exceptions - OF_PROBLEMS - self.code.own_init
                    and call.args
                    and id(call) not in seen
                ):
                    found.append(f"{function.module}:{function.node.name}: {ast.unparse(call)[:160]}")
        return sorted(set(found))

    def _take(self, function: Function, value: ast.expr, sort: str, call: ast.AST) -> None:
        found = list(self._words(function, value, 0, sort))
        for words in found:
            if _tells(words):
                self.messages.add(Message(" ".join(words.split()), function.module, sort))
        no_text = isinstance(value, ast.Tuple) or (isinstance(value, ast.Constant) and not isinstance(value.value, str))
        # A method of that name stands in other classes too, and one of those is meant.
        other = (
            isinstance(call, ast.Call)
            and isinstance(call.func, ast.Attribute)
            and len(self.code.by_name.get(last_name(call.func), ())) > 1
        )
        if not found and not no_text and not other:
            place = f"{function.module}:{function.node.name}"
            self.lost[f"{place}: {ast.unparse(value)}"] = ast.unparse(call)[:120]

    def _take_returned(self, function: Function, place: int) -> None:
        for node in ast.walk(function.node):
            if isinstance(node, (ast.Return, ast.Yield)) and isinstance(node.value, ast.Tuple):
                value = node.value.elts[place]
                if not isinstance(value, ast.Starred):
                    for words in self._words(function, value, 0):
                        sort = "advice" if "advice" in function.module else "error"
                        self.messages.add(Message(" ".join(words.split()), function.module, sort))

    # -- words -------------------------------------------------------------------------------------------------------
    def _words(self, function: Function | None, value: ast.expr, depth: int, sort: str = "") -> Iterator[str]:
        """Give the forms that a text can have; none where the way back is lost, a gap where it is told elsewhere."""
        if depth > DEEPEST:
            return
        again = depth + 1
        match value:
            case ast.Constant(value=str(text)):
                yield text
            case ast.JoinedStr(values=parts):
                self._passed_on(function, parts, sort)
                forms = [list(self._part(function, part, again)) for part in parts]
                for chosen in list(product(*forms))[:MOST_FORMS]:
                    yield "".join(chosen)
            case ast.IfExp(body=one, orelse=other):
                yield from self._words(function, one, again, sort)
                yield from self._words(function, other, again, sort)
            case ast.BoolOp(values=several):
                for each in several:
                    yield from self._words(function, each, again, sort)
            case ast.BinOp(left=left, op=ast.Add(), right=right):
                pairs = product(self._words(function, left, again) or (), self._words(function, right, again) or ())
                yield from (one + other for one, other in list(pairs)[:MOST_FORMS])
            case ast.Name(id=name):
                yield from self._named(function, name, again, sort)
            case ast.Call():
                yield from self._called(function, value, again)
            case ast.Subscript(value=ast.Name(id=name)) if function and name in self.code.constants[function.module]:
                table = self.code.constants[function.module][name]
                if isinstance(table, ast.Dict):
                    for each in table.values:
                        yield from self._words(function, each, again)
            case ast.Attribute() | ast.Subscript():
                # ``error.message`` and the like were made, and found, elsewhere.
                yield GAP

    def _passed_on(self, function: Function | None, parts: list[ast.expr], sort: str) -> None:
        """Where a text only puts a place before what it was given, or goes on with a reason, that is a message too."""
        own = "".join(str(part.value) for part in parts if isinstance(part, ast.Constant))
        if function is None or not sort:
            return
        alone = sum(letter.isalpha() for letter in own) < 4
        for part in parts:
            name = part.value.id if isinstance(part, ast.FormattedValue) and isinstance(part.value, ast.Name) else ""
            if name in function.texts and (name in REASONS or (alone and name not in PLACES)):
                self._makes(function.name, function.module, name, sort)

    def _part(self, function: Function | None, part: ast.expr, depth: int) -> Iterator[str]:
        if isinstance(part, ast.Constant):
            yield str(part.value)
            return
        assert isinstance(part, ast.FormattedValue)
        inner = part.value
        if isinstance(inner, ast.IfExp) and part.conversion == -1:
            forms = list(self._words(function, inner, depth))
            if forms and all(len(form.strip(GAP)) > 1 for form in forms):
                yield from forms
                return
        yield GAP

    def _named(self, function: Function | None, name: str, depth: int, sort: str) -> Iterator[str]:
        if function is None:
            return
        assigned = function.assigned.get(name)
        if assigned:
            for each in assigned:
                yield from self._words(function, each, depth, sort)
            return
        if name in function.parameters:
            if sort and name in function.texts:
                self._makes(function.name, function.module, name, sort)
            yield GAP
            return
        if name in self.code.constants[function.module]:
            yield from self._words(function, self.code.constants[function.module][name], depth, sort)
            return
        if name in loose_names(function.node):
            yield GAP

    def _called(self, function: Function | None, call: ast.Call, depth: int) -> Iterator[str]:
        name = last_name(call.func)
        if name in ("str", "repr", "join", "decode", "strip", "format", "capitalize", "next", "sorted"):
            yield GAP
            return
        if isinstance(call.func, ast.Attribute) and name in ("removeprefix", "replace", "removesuffix"):
            yield from self._words(function, call.func.value, depth)
            return
        fitting = self.code.by_name.get(name, [])
        near = [each for each in fitting if function is not None and each.module == function.module]
        for each in near or fitting:
            for node in ast.walk(each.node):
                if isinstance(node, ast.Return) and node.value is not None:
                    yield from self._words(each, node.value, depth)
        if not fitting:
            yield GAP


def _tells(words: str) -> bool:
    """Tell a message from a piece of one, or from the name of an option alone."""
    plain = [
        word for word in words.split() if sum(letter.isalpha() for letter in word) > 1 and not word.startswith("--")
    ]
    return len(plain) > 1 and sum(letter.isalpha() for word in plain for letter in word) > 7
