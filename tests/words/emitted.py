"""Which codes the source emits, and with which values: read from the source itself."""

from __future__ import annotations

import ast
import importlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import lodestarch

SOURCE = Path(lodestarch.__file__).parent


@dataclass(frozen=True)
class Emitted:
    """One place that makes a finding; ``keys`` is None where the values cannot be read from the source."""

    code: str
    place: str
    keys: frozenset[str] | None


Bindings = list[tuple[int, str, frozenset[str] | None]]
"""Line, name and keys of every dict that a function binds to a name, in the order of lines."""


def _dict_keys(node: ast.expr | None, bound: Bindings, line: int) -> frozenset[str] | None:
    """Keys of a dict made of literals and of names last bound to such; None where one part is not."""
    if node is None:
        return frozenset()
    if isinstance(node, ast.Name):
        return next((keys for at, name, keys in reversed(bound) if name == node.id and at <= line), None)
    if not isinstance(node, ast.Dict):
        return None
    keys: set[str] = set()
    for key, value in zip(node.keys, node.values, strict=True):
        if key is None:
            inner = _dict_keys(value, bound, line)
            if inner is None:
                return None
            keys |= inner
        elif isinstance(key, ast.Constant) and isinstance(key.value, str):
            keys.add(key.value)
        else:
            return None
    return frozenset(keys)


def _bindings(function: ast.AST) -> Bindings:
    bound: Bindings = []
    nodes = [n for n in ast.walk(function) if isinstance(n, (ast.Assign, ast.AnnAssign, ast.AugAssign))]
    for node in sorted(nodes, key=lambda n: n.lineno):
        target = node.targets[0] if isinstance(node, ast.Assign) else node.target
        if isinstance(target, ast.Subscript) and isinstance(target.value, ast.Name):
            # values["key"] = ...: one key more, even where it stands under an if
            key, before = target.slice, _dict_keys(target.value, bound, node.lineno - 1)
            if isinstance(key, ast.Constant) and isinstance(key.value, str) and before is not None:
                bound.append((node.lineno, target.value.id, before | {key.value}))
            continue
        if not isinstance(target, ast.Name):
            continue
        keys = _dict_keys(node.value, bound, node.lineno - 1) if isinstance(node.value, ast.Dict) else None
        if isinstance(node, ast.AugAssign):
            before = _dict_keys(target, bound, node.lineno - 1)
            keys = keys | before if keys is not None and before is not None else None
        bound.append((node.lineno, target.id, keys))
    return bound


def _texts(node: ast.expr, function: ast.AST) -> set[str]:
    """Every text that an expression can be: a constant, a choice of two, a name bound to such."""
    if isinstance(node, ast.Constant):
        return {node.value} if isinstance(node.value, str) else set()
    if isinstance(node, ast.IfExp):
        return _texts(node.body, function) | _texts(node.orelse, function)
    if not isinstance(node, ast.Name):
        return set()
    return {
        text
        for n in ast.walk(function)
        if isinstance(n, ast.Assign) and any(isinstance(t, ast.Name) and t.id == node.id for t in n.targets)
        for text in _texts(n.value, function)
    }


def _call_codes(tree: ast.Module, file: Path) -> Iterator[Emitted]:
    for function in ast.walk(tree):
        if not isinstance(function, (ast.FunctionDef, ast.Module)):
            continue
        bound = _bindings(function)
        for node in ast.walk(function):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name)):
                continue
            if node.func.id not in {"Finding", "NoAnswer", "found"} or not node.args:
                continue
            place = f"{file.relative_to(SOURCE)}:{node.lineno}"
            given = {k.arg: k.value for k in node.keywords if k.arg}
            keys = frozenset(given) if len(given) == len(node.keywords) else None
            if node.func.id == "found":  # a room's own short way to a finding; it may add values of its own
                keys = None
            if node.func.id == "Finding":
                values = node.args[3] if len(node.args) > 3 else given.get("values")
                keys = _dict_keys(values, bound, node.lineno)
            for code in _texts(node.args[0], function):
                yield Emitted(code, place, keys)


def _bindings_of_module(tree: ast.Module) -> Bindings:
    return _bindings(
        ast.Module(body=[n for n in tree.body if isinstance(n, (ast.Assign, ast.AnnAssign))], type_ignores=[])
    )


def _declared(file: Path) -> Iterator[Emitted]:
    module = "lodestarch." + ".".join(file.relative_to(SOURCE).with_suffix("").parts)
    codes = importlib.import_module(module).CODES
    pairs = codes.items() if isinstance(codes, dict) else codes
    for pair in pairs:
        code, keys = pair if isinstance(pair, tuple) else (pair.name, pair.values)
        yield Emitted(code, f"{module}.CODES", frozenset(keys))


def emitted() -> list[Emitted]:
    """Every code that some ``Finding`` or ``NoAnswer`` in the source names, or some ``CODES`` declares."""
    found: dict[tuple[str, str], Emitted] = {}
    for file in sorted(SOURCE.rglob("*.py")):
        tree = ast.parse(file.read_text("utf-8"))
        for one in _call_codes(tree, file):
            # The same call is met in its function and again in the module; the function knows its names.
            known = found.get((one.code, one.place))
            if known is None or known.keys is None:
                found[one.code, one.place] = one
        if any(name == "CODES" for _, name, _ in _bindings_of_module(tree)):
            found |= {(one.code, one.place): one for one in _declared(file)}
    return list(found.values())
