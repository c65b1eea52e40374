"""Small changes to a Python file, each of which a test ought to notice.

Found in the syntax tree and made in the text, so that all else of the file stays as it is.
Docstrings, comments and annotations, imports, lists of public names and decorators that only
declare are left alone.
"""

from __future__ import annotations

import ast
import copy
import random
import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from pathlib import Path
from typing import NamedTuple

PACKAGE = "identify"
COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
CALLS = {
    "min": "max",
    "max": "min",
    "sorted": "list",
    "any": "all",
    "all": "any",
    "minimum": "maximum",
    "maximum": "minimum",
    "argmin": "argmax",
    "argmax": "argmin",
    "nanmin": "nanmax",
    "nanmax": "nanmin",
    "floor": "ceil",
    "ceil": "floor",
}
WORD = re.compile(r"[A-Za-z]{3,}")
# What only declares: how a class prints or is compared, what is kept, what a type checker reads.
DECLARING = ("dataclass", "cache", "lru_cache", "overload", "runtime_checkable", "total_ordering")
TYPING = ("cast", "TypeVar", "NewType", "NamedTuple")


class Change(NamedTuple):
    """One small change of one file."""

    path: str
    line: int
    kind: str
    start: int  # in characters of the file
    end: int
    before: str
    after: str
    function: str  # in which it lies; empty for what is only executed at import
    lines: range  # of the statement, as far as the change

    def apply(self, text: str) -> str:
        """Return the text of the file with the change made."""
        return text[: self.start] + self.after + text[self.end :]

    @property
    def place(self) -> str:
        """The file and the line."""
        return f"{self.path}:{self.line}"


@dataclass(frozen=True)
class _Around:
    """What lies around a node: the function, what it returns, and the f-string that holds it."""

    function: str = ""
    returns: str = ""
    statement: int = 0  # its line
    text: ast.JoinedStr | None = None


class _Found(NamedTuple):
    node: ast.AST
    kind: str
    changed: ast.AST | str


def changes(path: str, text: str) -> list[Change]:
    """Return all small changes to a file, in the order of their places."""
    tree = ast.parse(text)
    found = _Finder(path, text).block(tree.body, _Around())
    return sorted({(one.start, one.end, one.after): one for one in found}.values())


class _Finder:
    def __init__(self, path: str, text: str) -> None:
        self.path, self.text, self.lines = path, text, text.split("\n")
        self.starts = [0, *accumulate(len(line) + 1 for line in self.lines)]

    def block(self, body: list[ast.stmt], around: _Around) -> Iterator[Change]:
        for statement in body:
            yield from self.statement(statement, replace(around, statement=statement.lineno))

    def statement(self, node: ast.stmt, around: _Around) -> Iterator[Change]:
        if _declares(node):
            return
        inner = around
        if isinstance(node, ast.FunctionDef):
            inner = _Around(node.name, ast.unparse(node.returns) if node.returns else "")
        if around.function and _can_be_omitted(node):
            yield self.change(_Found(node, "statement", "pass"), around)
        if isinstance(node, ast.Return) and node.value is not None:
            value = ast.unparse(node.value)
            after = f"return {_another(value, around.returns)}"
            if value not in ("()", "[]", "''", "None"):
                yield self.change(_Found(node, "returned value", after), around)
        for name, value in ast.iter_fields(node):
            if name in ("annotation", "returns", "type_params"):
                continue
            if isinstance(value, list) and value and isinstance(value[0], ast.stmt):
                yield from self.block(value, inner)
                continue
            for one in value if isinstance(value, list) else [value]:
                yield from self.within(one, around)

    def within(self, node: object, around: _Around) -> Iterator[Change]:
        """Yield the changes in what is not a statement."""
        if not isinstance(node, ast.AST) or _only_types(node):
            return
        if isinstance(node, ast.match_case | ast.ExceptHandler):
            yield from self.block(node.body, around)
            return
        for found in _in_node(node, around):
            yield self.change(found, around)
        if isinstance(node, ast.JoinedStr) and around.text is None:
            around = replace(around, text=node)
        for name, value in ast.iter_fields(node):
            if name not in ("annotation", "returns", "format_spec"):
                for one in value if isinstance(value, list) else [value]:
                    yield from self.within(one, around)

    def change(self, found: _Found, around: _Around) -> Change:
        """Return a change in the text; a part of an f-string takes the place of it all."""
        node, after = found.node, found.changed
        # Before Python 3.12 the parts of an f-string have no places of their own.
        if around.text is not None and not isinstance(after, str):
            after, node = _replaced(around.text, node, after), around.text
        assert isinstance(node, ast.expr | ast.stmt)
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        start = self._place(node.lineno, node.col_offset)
        end = self._place(node.end_lineno, node.end_col_offset)
        written = after if isinstance(after, str) else f"({ast.unparse(after)})"
        before = self.text[start:end]
        lines = range(around.statement, node.lineno + 1)
        return Change(
            self.path, node.lineno, found.kind, start, end, before, written, around.function, lines
        )

    def _place(self, line: int, column: int) -> int:
        """Return a place in characters; the columns of a syntax tree count bytes."""
        before = self.lines[line - 1].encode()[:column].decode()
        return self.starts[line - 1] + len(before)


def _declares(node: ast.stmt) -> bool:
    """Say whether a statement does nothing: imports, a docstring, what only type checkers read."""
    if isinstance(node, ast.Import | ast.ImportFrom | ast.Pass):
        return True
    if isinstance(node, ast.Expr):
        return isinstance(node.value, ast.Constant)
    if isinstance(node, ast.If):
        return ast.unparse(node.test) in ("TYPE_CHECKING", "__name__ == '__main__'")
    targets = node.targets if isinstance(node, ast.Assign) else []
    return any(ast.unparse(one) in ("__all__", "__slots__") for one in targets)


def _only_types(node: ast.AST) -> bool:
    if isinstance(node, ast.Name | ast.Call | ast.Attribute):
        called = ast.unparse(node.func if isinstance(node, ast.Call) else node)
        return called.rpartition(".")[2] in (*DECLARING, *TYPING)
    return isinstance(node, ast.Subscript) and ast.unparse(node.value).rpartition(".")[2] in (
        "Literal",
        "NDArray",
        "Callable",
        "Annotated",
    )


def _can_be_omitted(node: ast.stmt) -> bool:
    if isinstance(node, ast.Assign):
        return all(isinstance(one, ast.Attribute | ast.Subscript) for one in node.targets)
    if isinstance(node, ast.Return):
        return node.value is None
    omitted = ast.Expr | ast.AugAssign | ast.Raise | ast.Continue | ast.Break | ast.Delete
    return isinstance(node, omitted)


def _another(value: str, returns: str) -> str:
    """Return another value than the one that a function returns, of the type that it says."""
    if "None" in returns.split(" | ") or returns in ("", "None"):
        return "None"
    if returns == "bool":
        return f"not ({value})"
    if returns == "str":
        return "''"
    if returns.startswith(("list", "tuple", "Sequence", "str")):
        return f"({value})[:0]"
    if returns in ("int", "float") or returns.endswith(("Array", "Floats")):
        return f"({value}) + 1"
    return "None"


def _in_node(node: ast.AST, around: _Around) -> Iterator[_Found]:
    if isinstance(node, ast.Compare):
        yield from _comparisons(node)
    elif isinstance(node, ast.BinOp):
        is_type = isinstance(node.op, ast.BitOr) and not around.function
        if (other := OPERATORS.get(type(node.op))) and not is_type:
            yield _Found(node, "operator", _with(node, op=other()))
    elif isinstance(node, ast.BoolOp):
        other_op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield _Found(node, "boolean", _with(node, op=other_op))
    elif isinstance(node, ast.UnaryOp):
        if isinstance(node.op, ast.Not | ast.USub | ast.Invert):
            kind = "operator" if isinstance(node.op, ast.USub) else "boolean"
            yield _Found(node, kind, node.operand)
    elif isinstance(node, ast.IfExp):
        yield _Found(node, "boolean", _with(node, test=ast.UnaryOp(ast.Not(), node.test)))
    elif isinstance(node, ast.Call):
        yield from _calls(node)
    elif isinstance(node, ast.Constant):
        yield from _constants(node, is_text=around.text is not None)


def _comparisons(node: ast.Compare) -> Iterator[_Found]:
    for place, operator in enumerate(node.ops):
        for other in COMPARISONS[type(operator)]:
            ops = [*node.ops[:place], other(), *node.ops[place + 1 :]]
            yield _Found(node, "comparison", _with(node, ops=ops))


def _calls(node: ast.Call) -> Iterator[_Found]:
    called = node.func
    name = called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")
    if other := CALLS.get(name):
        changed = (
            _with(called, attr=other)
            if isinstance(called, ast.Attribute)
            else ast.Name(other, ast.Load())
        )
        # A list is not sorted, and takes no key.
        keywords = [] if other == "list" else node.keywords
        yield _Found(node, "call", _with(node, func=changed, keywords=keywords))
    for place, keyword in enumerate(node.keywords):
        if keyword.arg not in (None, "strict"):
            fewer = [*node.keywords[:place], *node.keywords[place + 1 :]]
            yield _Found(node, "keyword", _with(node, keywords=fewer))


def _constants(node: ast.Constant, is_text: bool) -> Iterator[_Found]:
    value = node.value
    if isinstance(value, bool):
        yield _Found(node, "constant", ast.Constant(not value))
    elif isinstance(value, int):
        yield _Found(node, "constant", ast.Constant(value + 1))
    elif isinstance(value, float):
        yield _Found(node, "constant", ast.Constant(value * 1.1 if value else 1.0))
    elif isinstance(value, str) and value:
        words = list(WORD.finditer(value))
        is_text = is_text or " " in value.strip()
        if not (words and is_text):
            yield _Found(node, "constant", ast.Constant(f"{value}x" if words else f"{value}."))
        for word in words if is_text else []:
            other = f"{value[: word.start()]}{word.group()[:-1]}{value[word.end() :]}"
            yield _Found(node, "message", ast.Constant(other))


def _with(node: ast.AST, **fields: object) -> ast.AST:
    """Return a copy of a node with other fields."""
    changed = copy.copy(node)
    for name, value in fields.items():
        setattr(changed, name, value)
    return changed


def _replaced(text: ast.AST, node: ast.AST, other: ast.AST) -> ast.AST:
    """Return a copy of an f-string in which a node is another."""
    if text is node:
        return other
    changed = copy.copy(text)
    for name, value in ast.iter_fields(text):
        if isinstance(value, ast.AST):
            setattr(changed, name, _replaced(value, node, other))
        elif isinstance(value, list):
            setattr(
                changed,
                name,
                [_replaced(one, node, other) if isinstance(one, ast.AST) else one for one in value],
            )
    return changed


# -------------------------------------------------------------------------------------- drawing


def all_changes(tree: Path) -> dict[str, list[Change]]:
    """Return the changes that could be made to the package, by room."""
    rooms: dict[str, list[Change]] = defaultdict(list)
    for file in sorted((tree / PACKAGE).rglob("*.py")):
        path = file.relative_to(tree).as_posix()
        rooms[room_of(path)] += changes(path, file.read_text("utf-8"))
    return rooms


def room_of(path: str) -> str:
    """Return the room of a file; that of the package's own files is called as the package."""
    parts = path.split("/")
    return parts[1] if len(parts) > 2 else PACKAGE


def draw(rooms: dict[str, list[Change]], number: int, seed: int) -> Iterator[Change]:
    """Draw lines, over the rooms in proportion to their lines; of each line a kind; of that one."""
    for room, count in shares({room: len(_lines(of)) for room, of in rooms.items()}, number):
        chance = random.Random(f"{seed} {room}")
        lines = _lines(rooms[room])
        for place in chance.sample(sorted(lines), count):
            kind = chance.choice(sorted({change.kind for change in lines[place]}))
            yield chance.choice([change for change in lines[place] if change.kind == kind])


def _lines(of: Sequence[Change]) -> dict[tuple[str, int], list[Change]]:
    lines: dict[tuple[str, int], list[Change]] = defaultdict(list)
    for change in of:
        lines[change.path, change.line].append(change)
    return lines


def shares(weights: dict[str, int], number: int) -> list[tuple[str, int]]:
    """Share a number out in proportion to weights, the largest remainders rounded up."""
    exact = {name: number * weight / sum(weights.values()) for name, weight in weights.items()}
    whole = {name: int(share) for name, share in exact.items()}
    by_remainder = sorted(exact, key=lambda name: whole[name] - exact[name])
    for name in by_remainder[: number - sum(whole.values())]:
        whole[name] += 1
    return sorted(whole.items())
