"""Python forms as typeset mathematics: compiled by typst, and read back from the PDF."""

import importlib
import io
import pkgutil

import pytest
import typst
from pypdf import PdfReader

import evenground.standards
from evenground.deliver.typst_math import (
    number_math,
    relation_math,
    substituted_math,
    symbol_math,
    typst_math,
)
from evenground.provenance import equations


def compiled(lines, tmp_path):
    body = "\n".join(f"$ {line} $" for line in lines)
    (tmp_path / "m.typ").write_text(f"#set page(width: 40cm, height: auto)\n{body}\n", encoding="utf-8")
    return typst.compile_with_warnings(
        str(tmp_path / "m.typ"), root=str(tmp_path), format="pdf", ignore_system_fonts=True
    )


@pytest.fixture(scope="module")
def declared():
    for module in pkgutil.iter_modules(evenground.standards.__path__, "evenground.standards."):
        importlib.import_module(module.name)
    return [f.__equation__ for name, f in equations().items() if name.startswith("evenground.")]


def test_every_declared_equation_compiles_without_a_warning(declared, tmp_path):
    lines = []
    for details in declared:
        lines.append(symbol_math(details.symbol))
        lines += [symbol_math(s) for s in details.symbols]
        lines += [relation_math(rule) for rule in details.valid]
        if details.form:
            values = {s: 2.5 + i for i, s in enumerate(details.symbols)}
            lines += [typst_math(details.form), substituted_math(details.form, values)]
    assert len(declared) > 60
    pdf, warnings = compiled(lines, tmp_path)
    assert pdf[:5] == b"%PDF-"
    assert warnings == []


@pytest.mark.parametrize(
    ("form", "expected"),
    [
        ("rho/(2*pi*L)", "frac(rho, 2 thin pi thin L)"),
        ("a*(b + c)", "a thin lr((b + c))"),
        ("a - (b - c)", "a - lr((b - c))"),
        ("a - b + c", "a - b + c"),
        ("(a + b)**2", "lr((a + b))^(2)"),
        ("a/b/c", "frac(a, b thin c)"),
        ("(a/b)**c", "lr((frac(a, b)))^(c)"),
        ("log(x)", "ln lr((x))"),
        ("sqrt(a*b)", "sqrt(a thin b)"),
        ("-2*a", "-2 thin a"),
        ("a*-b", "a thin lr((-b))"),
        ("2*3", "2 dot.op 3"),
        ("abs(Z1 + Z2)", "abs(Z_(1) + Z_(2))"),
        ("(Z1).imag", 'op("Im") lr((Z_(1)))'),
        ("1j*x", "upright(j) thin x"),
        ("a if h > 0 else b", 'cases(a quad & "if" h > 0, b quad & "otherwise")'),
        ("1e-7*a", "1 dot.op 10^(-7) thin a"),
    ],
)
def test_precedence_is_kept(form, expected):
    """The rules are those of ordinary algebra."""
    assert typst_math(form) == expected


@pytest.mark.parametrize(
    ("symbol", "expected"),
    [
        ("rho_s", "rho_(s)"),
        ("R_g", "R_(g)"),
        ("3I_0", "3 I_(0)"),
        ("E_touch", 'E_("touch")'),
        ("Z1", "Z_(1)"),
        ("TCAP", '"TCAP"'),
        ("X/R", "X \\/ R"),
        ("lam", "lambda"),
        ("rho_20", "rho_(20)"),
        ("Rf", "R_(f)"),
        ("K_ii", 'K_("ii")'),
    ],
)
def test_symbols(symbol, expected):
    assert symbol_math(symbol) == expected


def test_numbers_put_in_carry_brackets_where_they_must():
    assert substituted_math("a*b**2", {"a": -2.0, "b": -3.0}) == "lr((-2)) dot.op lr((-3))^(2)"
    assert substituted_math("a/b", {"a": 1e-9, "b": 2.0}) == "frac(1 dot.op 10^(-9), 2)"
    assert number_math(0.5 + 2j) == "0.5 + upright(j) 2"


def test_a_word_among_the_inputs_can_not_become_markup(tmp_path):
    text = substituted_math("a*b", {"a": 'x" #panic("no") $', "b": 2.0})
    pdf, warnings = compiled([text], tmp_path)
    assert warnings == []
    assert "panic" in PdfReader(io.BytesIO(pdf)).pages[0].extract_text()


def test_what_has_no_typeset_form_is_refused():
    with pytest.raises(ValueError, match="no typeset form"):
        typst_math("[x for x in y]")
