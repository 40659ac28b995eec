"""Small wrong changes to a module: comparisons, sums, numbers, words of logic. Each makes one mutant."""

import ast
import copy
from dataclasses import dataclass

COMPARISONS = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
SUMS = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}


@dataclass(frozen=True)
class Mutant:
    """One change: where, from what, to what, and the whole changed source."""

    line: int
    was: str
    now: str
    source: str


def mutants_of(source):
    """All mutants of a module's source, in order."""
    tree = ast.parse(source)
    skipped = _never_run(tree)
    places = [node for node in ast.walk(tree) if id(node) not in skipped]
    found = []
    for number, node in enumerate(places):
        for change in range(len(_changes(node))):
            changed = copy.deepcopy(tree)
            left_out = _never_run(changed)
            twin = [one for one in ast.walk(changed) if id(one) not in left_out][number]
            was = ast.unparse(twin)
            other = _changes(twin)[change]()
            found.append(Mutant(node.lineno, was, ast.unparse(other or twin), _source(changed, twin, other)))
    return sorted(found, key=lambda one: one.line)


def _changes(node):
    """What may be done to a node: each changes it in place, or gives what stands for it."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1 and type(node.ops[0]) in COMPARISONS:
        return [lambda: node.ops.__setitem__(0, COMPARISONS[type(node.ops[0])]())]
    if isinstance(node, ast.Compare):
        return [lambda at=at: node.ops.__setitem__(at, COMPARISONS[type(node.ops[at])]()) for at in (0, 1)]
    if isinstance(node, ast.BinOp | ast.AugAssign) and type(node.op) in SUMS:
        return [lambda: setattr(node, "op", SUMS[type(node.op)]())]
    if isinstance(node, ast.BoolOp):
        return [lambda: setattr(node, "op", ast.Or() if isinstance(node.op, ast.And) else ast.And())]
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub | ast.Invert):
        return [lambda: node.operand]
    if isinstance(node, ast.Constant) and isinstance(node.value, bool):
        return [lambda: setattr(node, "value", not node.value)]
    if isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        return [lambda by=by: setattr(node, "value", node.value + by) for by in (1, -1)]
    return []


def _source(tree, node, other):
    if other is None:
        return ast.unparse(tree)

    class Put(ast.NodeTransformer):
        def visit(self, one):
            return other if one is node else super().generic_visit(one)

    return ast.unparse(Put().visit(tree))


def _never_run(tree):
    """Nodes that say a type or mark a class, and change nothing when they change."""
    out = set()
    for node in ast.walk(tree):
        parts = []
        if isinstance(node, ast.FunctionDef):
            parts = [node.returns, *node.decorator_list, *(one.annotation for one in node.args.args)]
            parts += [one.annotation for one in (*node.args.kwonlyargs, node.args.vararg) if one]
        elif isinstance(node, ast.ClassDef):
            parts = node.decorator_list
        elif isinstance(node, ast.AnnAssign):
            parts = [node.annotation]
        elif isinstance(node, ast.Call) and ast.unparse(node.func) == "cast":
            parts = node.args[:1]
        elif isinstance(node, ast.Assign) and "TypeAlias" in ast.unparse(node):
            parts = [node]
        out |= {id(below) for part in parts if part for below in ast.walk(part)}
    return out
