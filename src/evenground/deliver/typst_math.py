"""Formulas as typst mathematics, made from their Python form.

The declaration of an equation holds its form as a Python expression, and a test compares that
expression with the code. What is typeset here therefore can not differ from what is computed.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Mapping
from typing import Any

from evenground.deliver.format import format_value

__all__ = ["number_math", "relation_math", "substituted_math", "symbol_math", "typst_math", "unit_math"]

GREEK = {
    "alpha": "alpha",
    "beta": "beta",
    "gamma": "gamma",
    "delta": "delta",
    "lam": "lambda",
    "mu": "mu",
    "nu": "nu",
    "pi": "pi",
    "rho": "rho",
    "sigma": "sigma",
    "theta": "theta",
    "omega": "omega",
    "epsilon": "epsilon.alt",
}
SPECIAL = {"XR": "X\\/R", "inf": "infinity"}
FUNCTIONS = {
    "log": "ln",
    "log10": "log_(10)",
    "exp": "exp",
    "sin": "sin",
    "cos": "cos",
    "atan": "arctan",
    "asin": "arcsin",
    "asinh": 'op("arsinh")',
    "min": "min",
    "max": "max",
}
RELATIONS: dict[type[ast.cmpop], str] = {
    ast.Lt: "<",
    ast.LtE: "<=",
    ast.Gt: ">",
    ast.GtE: ">=",
    ast.Eq: "=",
    ast.NotEq: "!=",
}
SUM, PRODUCT, POWER, ATOM = 1, 2, 3, 4

Name = Callable[[str], tuple[str, int]]


def symbol_math(symbol: str) -> str:
    """A symbol such as ``rho_s``, ``3I_0`` or ``V/V_0`` as typst mathematics."""
    if symbol in SPECIAL:
        return SPECIAL[symbol]
    if "/" in symbol:
        return " \\/ ".join(symbol_math(part) for part in symbol.split("/"))
    match = re.fullmatch(r"(\d*)([A-Za-z]+?)_?(\d+|(?<=_).+|(?<=^[A-Z])[a-z])?", symbol)
    if match is None:
        return _upright(symbol)
    factor, letter, index = match.groups()
    if letter in GREEK:
        base = GREEK[letter]
    elif len(letter) == 1:
        base = letter
    else:
        base = _upright(letter)
    text = f"{factor} {base}" if factor else base
    if index:
        text += f"_({index})" if index.isdigit() or len(index) == 1 else f"_({_upright(index)})"
    return text


def _upright(text: str) -> str:
    return '"' + text.replace("\\", "").replace('"', "") + '"'


def number_math(value: Any, digits: int = 5) -> str:
    """A value put into a formula: number, complex number, yes or no, word."""
    if isinstance(value, complex):
        if value.real == 0:
            return "upright(j)" if value.imag == 1 else f"upright(j) {number_math(value.imag, digits)}"
        sign = "-" if value.imag < 0 else "+"
        return f"{number_math(value.real, digits)} {sign} upright(j) {number_math(abs(value.imag), digits)}"
    text = format_value(value, digits)
    if isinstance(value, int | float) and not isinstance(value, bool):
        text = text.replace("−", "-")
        if "·10" in text:
            mantissa, power = text.split("·10")
            exponent = power.translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789"))
            return f"{_plain(mantissa)} dot.op 10^({exponent})"
        return _plain(text)
    return _upright(text)


def _plain(text: str) -> str:
    return {"∞": "infinity", "-∞": "-infinity"}.get(
        text, text if re.fullmatch(r"-?[\d.]+", text) else _upright(text)
    )


def unit_math(unit: str) -> str:
    """A unit as upright text for use inside mathematics."""
    return _upright(unit) if unit else ""


def typst_math(form: str) -> str:
    """An expression in symbols as typst mathematics: ``rho/(2*pi*L)`` -> a fraction.

    Raises
    ------
    ValueError
        When the expression uses something that has no typeset form.
    """
    return _write(ast.parse(form, mode="eval").body, _symbol)[0]


def substituted_math(form: str, inputs: Mapping[str, Any]) -> str:
    """The same expression with the numbers put in, multiplied by dots."""

    def value(name: str) -> tuple[str, int]:
        if name not in inputs:
            return _symbol(name)
        number = inputs[name]
        text = number_math(number)
        simple = not isinstance(number, complex) and not text.startswith("-") and "dot.op" not in text
        return text, ATOM if simple else SUM

    return _write(ast.parse(form, mode="eval").body, value, dot=True)[0]


def relation_math(rule: str) -> str:
    """A rule of validity such as ``h <= sqrt(A)/6`` as typst mathematics."""
    return typst_math(rule)


def _symbol(name: str) -> tuple[str, int]:
    return symbol_math(name), PRODUCT if name == "XR" else ATOM


def _write(node: ast.expr, name: Name, dot: bool = False) -> tuple[str, int]:
    """Typst text of a node and how tightly it binds."""
    if isinstance(node, ast.Constant):
        text = number_math(node.value, 10)
        return text, PRODUCT if "dot.op" in text else ATOM
    if isinstance(node, ast.Name):
        return name(node.id)
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        return f"-{_inside(node.operand, name, dot, PRODUCT)}", SUM
    if isinstance(node, ast.BinOp):
        return _binary(node, name, dot)
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        return _call(node, node.func.id, name, dot)
    if isinstance(node, ast.Attribute) and node.attr in ("real", "imag"):
        part = "Re" if node.attr == "real" else "Im"
        return f'op("{part}") lr(({_write(node.value, name, dot)[0]}))', PRODUCT
    if isinstance(node, ast.IfExp):
        return _cases(node, name, dot), ATOM
    if isinstance(node, ast.Compare):
        return _compare(node, name, dot), SUM
    raise ValueError(f"{ast.unparse(node)}: no typeset form for {type(node).__name__}")


def _inside(node: ast.expr, name: Name, dot: bool, needed: int) -> str:
    """Text of a part, in brackets when it binds less tightly than needed."""
    text, level = _write(node, name, dot)
    return text if level >= needed else f"lr(({text}))"


def _binary(node: ast.BinOp, name: Name, dot: bool) -> tuple[str, int]:
    left, right = node.left, node.right
    if isinstance(node.op, ast.Add | ast.Sub):
        sign = "+" if isinstance(node.op, ast.Add) else "-"
        tight = SUM if isinstance(node.op, ast.Add) else PRODUCT
        return f"{_inside(left, name, dot, SUM)} {sign} {_inside(right, name, dot, tight)}", SUM
    if isinstance(node.op, ast.Div):
        if isinstance(left, ast.BinOp) and isinstance(left.op, ast.Div):  # a/b/c is one fraction
            below = ast.BinOp(left.right, ast.Mult(), right)
            return _binary(ast.BinOp(left.left, ast.Div(), below), name, dot)
        return f"frac({_write(left, name, dot)[0]}, {_write(right, name, dot)[0]})", ATOM
    if isinstance(node.op, ast.Mult):
        leading = SUM if isinstance(left, ast.UnaryOp) else PRODUCT
        parts = _inside(left, name, dot, leading), _inside(right, name, dot, PRODUCT)
        between = " dot.op " if dot or _needs_dot(right) else " thin "
        return between.join(parts), SUM if leading == SUM else PRODUCT
    if isinstance(node.op, ast.Pow):
        base, level = _write(left, name, dot)
        if level < ATOM or isinstance(left, ast.BinOp | ast.Call):
            base = f"lr(({base}))"
        return f"{base}^({_write(right, name, dot)[0]})", POWER
    raise ValueError(f"{ast.unparse(node)}: no typeset form")


def _needs_dot(right: ast.expr) -> bool:
    """A number after a factor would run into it."""
    first = right
    while isinstance(first, ast.BinOp) and isinstance(first.op, ast.Mult | ast.Pow):
        first = first.left
    return isinstance(first, ast.Constant)


def _call(node: ast.Call, function: str, name: Name, dot: bool) -> tuple[str, int]:
    arguments = [_write(argument, name, dot)[0] for argument in node.args]
    if function == "sqrt":
        return f"sqrt({arguments[0]})", ATOM
    if function == "abs":
        return f"abs({arguments[0]})", ATOM
    if function == "hypot":
        squares = [f"{_inside(a, name, dot, ATOM)}^2" for a in node.args]
        return f"sqrt({' + '.join(squares)})", ATOM
    if function in FUNCTIONS:
        listed = " comma ".join(arguments)
        return f"{FUNCTIONS[function]} lr(({listed}))", PRODUCT
    raise ValueError(f"{ast.unparse(node)}: no typeset form for {function}")


def _cases(node: ast.IfExp, name: Name, dot: bool) -> str:
    test = node.test
    condition = _write(test, name, dot)[0]
    if isinstance(test, ast.Name):
        condition = f'"with {test.id}"'
        other = f'"without {test.id}"'
    else:
        condition, other = f'"if" {condition}', '"otherwise"'
    first, second = _write(node.body, name, dot)[0], _write(node.orelse, name, dot)[0]
    return f"cases({first} quad & {condition}, {second} quad & {other})"


def _compare(node: ast.Compare, name: Name, dot: bool) -> str:
    text = _write(node.left, name, dot)[0]
    for operator, part in zip(node.ops, node.comparators, strict=True):
        relation = RELATIONS.get(type(operator))
        if relation is None:
            raise ValueError(f"{ast.unparse(node)}: no typeset form")
        text += f" {relation} {_write(part, name, dot)[0]}"
    return text
