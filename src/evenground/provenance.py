"""Equations that know their source, and a sheet on which each evaluation is noted.

A formula is a plain function with a declaration of what it is::

    @equation("R_g", "ohm", source="IEEE Std 80-2013, Eq. (57)",
              form="rho*(1/L_T + 1/sqrt(20*A)*(1 + 1/(1 + h*sqrt(20/A))))",
              symbols="rho A L_T h")
    def sverak_resistance(resistivity_ohm_m, area_m2, total_length_m, depth_m): ...

``symbols`` names the parameters in their order. ``form`` is a Python expression in these symbols;
a test evaluates it at random inputs and compares it with the function, so a printed formula can
not differ from the computed one. ``valid`` lists the range of validity as expressions.

Under ``with recording() as sheet:`` each call adds a :class:`Step`; outside it the cost is one
comparison.
"""

from __future__ import annotations

import ast
import functools
import inspect
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any, ParamSpec, TypeVar, cast

__all__ = [
    "EquationInfo",
    "Sheet",
    "Step",
    "equation",
    "equations",
    "info",
    "labelled",
    "outside_range",
    "recording",
    "replayed",
    "unrecorded",
]

P = ParamSpec("P")
R = TypeVar("R")

NAMESPACE: dict[str, Any] = {
    name: getattr(math, name)
    for name in ("sqrt", "log", "log10", "exp", "pi", "sin", "cos", "atan", "asinh", "asin", "hypot", "inf")
} | {"abs": abs, "min": min, "max": max, "sum": sum}


@dataclass(frozen=True, slots=True)
class EquationInfo:
    """What an equation is, apart from its code.

    Attributes
    ----------
    symbol, unit : str
        Symbol of the result (``"R_g"``) and its unit (``"ohm"``; ``""`` for a pure number).
    source : str
        Standard with edition and clause or equation number, or paper.
    form : str
        The equation as a Python expression in ``symbols``; empty for a tabulated relation or a
        series, which ``text`` then describes.
    symbols : mapping
        Symbol -> parameter name.
    valid : tuple of str
        Range of validity as Python expressions in the symbols.
    evidence : str
        ``"found"``, ``"from memory"`` or ``"from memory, cross-checked"``; empty when derived here.
    text : str
        Words for what ``form`` can not say.
    name : str
        Title for the report.
    """

    symbol: str
    unit: str
    source: str
    form: str
    symbols: Mapping[str, str]
    valid: tuple[str, ...] = ()
    evidence: str = ""
    text: str = ""
    name: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One evaluation of an equation.

    Attributes
    ----------
    info : EquationInfo
    inputs : mapping
        Symbol -> value put in.
    value : Any
        Result, in ``info.unit``.
    outside : tuple of str
        The validity expressions that these inputs break.
    label : str
        For what it was computed, e.g. ``"mat conductor"`` or a scenario's name.
    """

    info: EquationInfo
    inputs: Mapping[str, Any]
    value: Any
    outside: tuple[str, ...] = ()
    label: str = ""


@dataclass(slots=True)
class Sheet:
    """The steps noted during one ``recording()``, in order of evaluation."""

    steps: list[Step] = field(default_factory=list)
    label: str = ""

    @contextmanager
    def labelled(self, label: str) -> Iterator[None]:
        """Give the steps noted inside a label."""
        before, self.label = self.label, label
        try:
            yield
        finally:
            self.label = before

    @property
    def outside(self) -> tuple[str, ...]:
        """Every breach of a range of validity, as text with the equation's source."""
        return tuple(
            f"{step.info.symbol} ({step.info.source}) needs {rule}"
            for step in self.steps
            for rule in step.outside
        )


_SHEET: ContextVar[Sheet | None] = ContextVar("evenground_sheet", default=None)
_REGISTRY: dict[str, Callable[..., Any]] = {}


@contextmanager
def recording(label: str = "") -> Iterator[Sheet]:
    """Collect every equation evaluated inside the block.

    Nested recordings are passed on to the outer one as well, so that a part can look at its own
    steps and the study still sees all of them; their labels follow the outer one's.
    """
    outer = _SHEET.get()
    sheet = Sheet(label=": ".join(part for part in (outer.label if outer else "", label) if part))
    token = _SHEET.set(sheet)
    try:
        yield sheet
    finally:
        _SHEET.reset(token)
        if outer is not None:
            outer.steps.extend(sheet.steps)


@contextmanager
def unrecorded() -> Iterator[None]:
    """Note nothing inside the block."""
    token = _SHEET.set(None)
    try:
        yield
    finally:
        _SHEET.reset(token)


def replayed(steps: Sequence[Step]) -> None:
    """Note steps of an earlier evaluation again, as they were."""
    sheet = _SHEET.get()
    if sheet is not None:
        sheet.steps.extend(steps)


def labelled(label: str, function: Callable[P, R], *args: P.args, **kwargs: P.kwargs) -> R:
    """Call a function with every equation it evaluates noted under a label."""
    with recording(label):
        return function(*args, **kwargs)


def _breaches(details: EquationInfo, inputs: Mapping[str, Any]) -> tuple[str, ...]:
    scope = {**NAMESPACE, **inputs}
    return tuple(rule for rule in details.valid if not eval(_compiled(rule), {"__builtins__": {}}, scope))


@functools.lru_cache(maxsize=1024)
def _compiled(expression: str) -> Any:
    return compile(ast.parse(expression, mode="eval"), "<equation>", "eval")


def equation(
    symbol: str,
    unit: str,
    *,
    source: str,
    symbols: str,
    form: str = "",
    valid: Sequence[str] = (),
    evidence: str = "",
    text: str = "",
    name: str = "",
) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Declare what a formula function is; see the module's text.

    Raises
    ------
    TypeError
        At import, when the symbols do not match the parameters one to one, or ``form`` or ``valid``
        use a name that is not declared.
    """

    def decorate(function: Callable[P, R]) -> Callable[P, R]:
        signature = inspect.signature(function)
        parameters = list(signature.parameters)
        names = symbols.split()
        if len(names) != len(parameters):
            raise TypeError(f"{function.__name__}: {len(names)} symbols for {len(parameters)} parameters")
        for expression in (form, *valid):
            used = {
                n.id for n in ast.walk(ast.parse(expression or "0", mode="eval")) if isinstance(n, ast.Name)
            }
            unknown = used - set(names) - set(NAMESPACE)
            bound = {
                n.id
                for n in ast.walk(ast.parse(expression or "0", mode="eval"))
                if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)
            }
            if unknown - bound:
                raise TypeError(f"{function.__name__}: undeclared symbols {sorted(unknown - bound)}")
        if not form and not text:
            raise TypeError(f"{function.__name__}: give form or text")
        details = EquationInfo(
            symbol=symbol,
            unit=unit,
            source=source,
            form=form,
            symbols=dict(zip(names, parameters, strict=True)),
            valid=tuple(valid),
            evidence=evidence,
            text=text,
            name=name or function.__name__.replace("_", " "),
        )

        @functools.wraps(function)
        def wrapper(*args: P.args, **kwargs: P.kwargs) -> R:
            value = function(*args, **kwargs)
            sheet = _SHEET.get()
            if sheet is not None:
                bound = signature.bind(*args, **kwargs)
                bound.apply_defaults()
                inputs = {s: bound.arguments[p] for s, p in details.symbols.items()}
                sheet.steps.append(
                    Step(details, inputs, value, outside=_breaches(details, inputs), label=sheet.label)
                )
            return value

        wrapper.__equation__ = details  # type: ignore[attr-defined]
        _REGISTRY[f"{function.__module__}.{function.__qualname__}"] = wrapper
        return wrapper

    return decorate


def info(function: Callable[..., Any]) -> EquationInfo:
    """The declaration of a formula function."""
    return cast(EquationInfo, function.__equation__)  # type: ignore[attr-defined]


def equations() -> Mapping[str, Callable[..., Any]]:
    """Every formula function declared so far, by qualified name."""
    return dict(_REGISTRY)


def outside_range(function: Callable[..., Any], *args: Any, **kwargs: Any) -> tuple[str, ...]:
    """The validity expressions that these inputs would break, without evaluating the formula."""
    details = info(function)
    bound = inspect.signature(function).bind(*args, **kwargs)
    bound.apply_defaults()
    return _breaches(details, {s: bound.arguments[p] for s, p in details.symbols.items()})
