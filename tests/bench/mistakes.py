"""The small mistakes that can be made in a module, and its code with one of them in it. Used by mutants.py."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import CodeType

ROOT = Path(__file__).resolve().parents[2]

COMPARISONS: dict[type[ast.cmpop], list[type[ast.cmpop]]] = {
    ast.Lt: [ast.LtE, ast.GtE],
    ast.LtE: [ast.Lt, ast.Gt],
    ast.Gt: [ast.GtE, ast.LtE],
    ast.GtE: [ast.Gt, ast.Lt],
    ast.Eq: [ast.NotEq],
    ast.NotEq: [ast.Eq],
    ast.Is: [ast.IsNot],
    ast.IsNot: [ast.Is],
    ast.In: [ast.NotIn],
    ast.NotIn: [ast.In],
}
ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.LShift: ast.RShift,
    ast.RShift: ast.LShift,
}
RETURNED = {"bool": ["True", "False"], "int": ["0"], "float": ["0.0"], "str": ["''"]}


@dataclass(frozen=True)
class Mutant:
    """One mistake: which file, where, and what to exchange for what."""

    file: str
    line: int
    inside: str
    in_function: bool
    node: int
    replacement: ast.AST
    said: str

    @property
    def key(self) -> str:
        """What it is called in the list of those that change nothing: lines move, this stays."""
        return f"{self.file} | {self.inside or 'module'} | {self.said}"


def short(node: ast.AST) -> str:
    """Return a node as one line of source."""
    return " ".join(ast.unparse(node).split())


def replaced(node: ast.AST, **fields: object) -> ast.AST:
    """Return a node of the same kind and place with other fields."""
    made = copy.copy(node)
    for name, value in fields.items():
        setattr(made, name, value)
    return made


def of_comparison(node: ast.Compare) -> Iterator[ast.AST]:
    """Turn each comparison, and move each bound."""
    for place, operator in enumerate(node.ops):
        for other in COMPARISONS[type(operator)]:
            yield replaced(node, ops=[*node.ops[:place], other(), *node.ops[place + 1 :]])


def of_constant(node: ast.Constant) -> Iterator[ast.AST]:
    """Make a whole number one more and one less, another one twice and half as large."""
    value = node.value
    if type(value) is int:
        others: list[float] = [value + 1, value - 1]
    elif type(value) is float:
        others = [2 * value, value / 2] if value else [1.0]
    else:
        return
    yield from (replaced(node, value=other) for other in others)


def is_text(node: ast.AST) -> bool:
    """Say whether a node is a text, which is joined by a plus and filled in by a percent."""
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str | bytes))


def of_arithmetic(node: ast.BinOp | ast.AugAssign) -> Iterator[ast.AST]:
    """Exchange the operation for its opposite."""
    operands = [node.left, node.right] if isinstance(node, ast.BinOp) else [node.value]
    other = ARITHMETIC.get(type(node.op))
    if other is not None and not any(map(is_text, operands)):
        yield replaced(node, op=other())


def of_return(node: ast.Return, returns: str) -> Iterator[ast.AST]:
    """Return something else: the other truth, nothing, nought."""
    if node.value is None or (isinstance(node.value, ast.Constant) and node.value.value is None):
        return
    for other in RETURNED.get(returns, ["None"]):
        if short(node.value) != other:
            yield replaced(node, value=ast.parse(other, mode="eval").body)


def mistakes_at(node: ast.AST, returns: str) -> Iterator[ast.AST]:
    """Make every mistake that can be made at one node."""
    match node:
        case ast.Compare():
            yield from of_comparison(node)
        case ast.Constant():
            yield from of_constant(node)
        case ast.BinOp() | ast.AugAssign():
            yield from of_arithmetic(node)
        case ast.BoolOp():
            yield replaced(node, op=ast.Or() if isinstance(node.op, ast.And) else ast.And())
        case ast.UnaryOp(op=ast.Not()):
            yield node.operand
        case ast.Return():
            yield from of_return(node, returns)


NOT_BEHAVIOUR = {"annotation", "returns", "decorator_list", "type_params", "format_spec", "bases"}
LOOKS = {
    *("alpha", "bottom", "color", "figsize", "fontsize", "gridspec_kw", "height_ratios", "hspace", "left", "linewidth"),
    *("markersize", "right", "rotation", "strokeWidth", "top", "width", "wspace", "xytext"),
}
"""Arguments by name that say how something looks: eyes judge those."""


def is_passed_over(node: ast.AST, *, in_function: bool) -> bool:
    """Say whether a whole node is left as it is: types, what only a type checker or a script runs, docstrings."""
    match node:
        case ast.If(test=ast.Name(id="TYPE_CHECKING")) | ast.If(test=ast.Compare(left=ast.Name(id="__name__"))):
            return True
        case ast.Subscript(value=ast.Name(id="Literal" | "Annotated" | "tuple" | "dict" | "list")):
            return True
        case ast.keyword(arg=name):
            return name in LOOKS
        case ast.BinOp(op=ast.BitOr()):
            return not in_function  # a union of types
    return False


class Finder:
    """All mistakes of one module, numbered by the node in the order in which the tree is walked."""

    def __init__(self, file: str, tree: ast.Module) -> None:
        self.file = file
        self.numbers = {id(node): number for number, node in enumerate(ast.walk(tree))}
        self.found: list[Mutant] = []
        self._visit(tree, (), in_function=False, returns="")

    def _visit(self, node: ast.AST, inside: tuple[str, ...], *, in_function: bool, returns: str) -> None:
        if is_passed_over(node, in_function=in_function):
            return
        for mistake in mistakes_at(node, returns):
            self._keep(node, mistake, inside, in_function=in_function)
        for field, value in ast.iter_fields(node):
            if field in NOT_BEHAVIOUR or (isinstance(node, ast.ClassDef) and field == "keywords"):
                continue
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST):
                    self._enter(node, field, child, inside, in_function=in_function, returns=returns)

    def _enter(
        self, node: ast.AST, field: str, child: ast.AST, inside: tuple[str, ...], *, in_function: bool, returns: str
    ) -> None:
        if isinstance(node, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) and field == "body":
            inside = (*inside, node.name)
            if not isinstance(node, ast.ClassDef):
                in_function = True
                returns = short(node.returns) if node.returns else ""
        self._visit(child, inside, in_function=in_function or isinstance(node, ast.Lambda), returns=returns)

    def _keep(self, node: ast.AST, mistake: ast.AST, inside: tuple[str, ...], *, in_function: bool) -> None:
        said = f"{short(node)} -> {short(mistake)}"
        line = getattr(node, "lineno", 0)
        number = self.numbers[id(node)]
        self.found.append(Mutant(self.file, line, ".".join(inside), in_function, number, mistake, said))


def mutants_of(file: str) -> list[Mutant]:
    """Return every mistake of a module."""
    return Finder(file, ast.parse((ROOT / file).read_text("utf-8"))).found


class Exchange(ast.NodeTransformer):
    """Puts one node in the place of another."""

    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        """Return the new node where the old one is met."""
        return self.new if node is self.old else self.generic_visit(node)


def code_with(mutant: Mutant) -> CodeType:
    """Compile a module with one mistake in it."""
    path = ROOT / mutant.file
    tree = ast.parse(path.read_text("utf-8"))
    old = next(node for number, node in enumerate(ast.walk(tree)) if number == mutant.node)
    made = ast.fix_missing_locations(Exchange(old, ast.copy_location(mutant.replacement, old)).visit(tree))
    return compile(made, str(path), "exec")
