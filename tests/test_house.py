"""How the house is built: what may import what, how long a module may be, what an import costs, what is public.

Each guard is a function over a folder of sources, so that it can be shown to fail on a house that is built wrong.
"""

from __future__ import annotations

import ast
import inspect
import io
import subprocess
import sys
import tokenize
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import bias_drafting as bd

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

PACKAGE = Path(bd.__file__).resolve().parent
NAME = "bias_drafting"

# The ground floor first. The public face stands on all of them, and only the command stands on it.
FLOORS = (
    ("units", "errors"),
    ("curve",),
    ("cloth",),
    ("drawing",),
    ("pattern",),
    ("cutting",),
    ("sheets",),
    ("",),
    ("__main__",),
)
MOST_LINES = 400
MOST_BODY_LINES = 40

HEAVY = ("numpy", "scipy", "shapely", "svgpathtools", "matplotlib", "reportlab", "pandas")
HEAVY_WITH_A_CURVE = ("svgpathtools", "matplotlib", "scipy.optimize", "reportlab")


# --- reading sources ----------------------------------------------------------------------------------------


def sources(package: Path) -> dict[str, Path]:
    """Every module of a package by its dotted name; the package itself by the package's name."""
    found = {}
    for path in sorted(package.rglob("*.py")):
        parts = path.relative_to(package.parent).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def _is_type_checking(node: ast.AST) -> bool:
    if not isinstance(node, ast.If):
        return False
    test = node.test
    return (isinstance(test, ast.Name) and test.id == "TYPE_CHECKING") or (
        isinstance(test, ast.Attribute) and test.attr == "TYPE_CHECKING"
    )


def statements(tree: ast.AST, inside_functions: bool) -> Iterator[ast.AST]:
    """Every node that runs: blocks under TYPE_CHECKING left out, what is inside functions as asked."""
    for child in ast.iter_child_nodes(tree):
        if isinstance(tree, ast.If) and _is_type_checking(tree) and child in tree.body:
            continue
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda) and not inside_functions:
            continue
        yield child
        yield from statements(child, inside_functions)


def imports(package: Path) -> dict[str, set[str]]:
    """Which modules of the package each of its modules imports."""
    modules = sources(package)
    root = package.name
    found: dict[str, set[str]] = {}
    for module, path in modules.items():
        tree = ast.parse(path.read_text(encoding="utf-8"))
        wanted: set[str] = set()
        # The public face imports its rooms inside a function, when they are asked for: that is its purpose.
        for node in statements(tree, inside_functions=module != root):
            if isinstance(node, ast.Import):
                wanted.update(alias.name for alias in node.names)
            elif isinstance(node, ast.ImportFrom):
                base = node.module or ""
                if node.level:
                    here = module.split(".") if path.name == "__init__.py" else module.split(".")[:-1]
                    kept = here[: len(here) - node.level + 1]
                    base = ".".join([*kept, base] if base else kept)
                for alias in node.names:
                    deeper = f"{base}.{alias.name}"
                    wanted.add(deeper if deeper in modules else base)
        found[module] = {name for name in wanted if name == root or name.startswith(f"{root}.")}
    return found


# --- the guards: each gives what is wrong, as text ----------------------------------------------------------


def import_cycles(package: Path) -> list[str]:
    """Modules that import themselves by some way round."""
    graph = imports(package)
    wrong = []
    for start in graph:
        look, reached = list(graph[start]), set(graph[start])
        while look:
            new = graph.get(look.pop(), set()) - reached
            reached |= new
            look += new
        if start in reached:
            wrong.append(f"{start} imports itself by way of others")
    return wrong


def _room(module: str, root: str) -> str:
    return module.removeprefix(root).removeprefix(".").split(".")[0]


def imports_from_above(package: Path) -> list[str]:
    """Imports of a room from a floor that is not below it, and rooms that stand on no floor."""
    floor_of = {room: k for k, rooms in enumerate(FLOORS) for room in rooms}
    wrong = []
    for module, wanted in imports(package).items():
        room = _room(module, package.name)
        if room not in floor_of:
            wrong.append(f"{module} stands on no floor")
            continue
        for other in wanted:
            above = _room(other, package.name)
            together = floor_of.get(above) == floor_of[room]
            # On the ground floor there are two rooms; that they do not import each other is for the other guard.
            if above in floor_of and (floor_of[above] < floor_of[room] or together):
                continue
            wrong.append(f"{module} imports {other}, which is not below it")
    return wrong


def _docstring_lines(tree: ast.AST) -> set[int]:
    lines: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[0] if node.body else None
            if (
                isinstance(first, ast.Expr)
                and isinstance(first.value, ast.Constant)
                and isinstance(first.value.value, str)
            ):
                lines.update(range(first.lineno, (first.end_lineno or first.lineno) + 1))
    return lines


_NO_CODE = {
    tokenize.COMMENT,
    tokenize.NL,
    tokenize.NEWLINE,
    tokenize.INDENT,
    tokenize.DEDENT,
    tokenize.ENCODING,
    tokenize.ENDMARKER,
}


def code_lines(text: str) -> set[int]:
    """Numbers of the lines that hold code: not docstrings, comments or blanks."""
    lines: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type not in _NO_CODE:
            lines.update(range(token.start[0], token.end[0] + 1))
    return lines - _docstring_lines(ast.parse(text))


def long_modules(package: Path) -> list[str]:
    """Modules of more lines of code than one can keep in mind."""
    counts = {
        name: len(code_lines(path.read_text(encoding="utf-8"))) for name, path in sources(package).items()
    }
    return [f"{name} has {count} lines of code" for name, count in counts.items() if count > MOST_LINES]


def long_functions(package: Path) -> list[str]:
    """Functions whose bodies one cannot see whole."""
    wrong = []
    for name, path in sources(package).items():
        text = path.read_text(encoding="utf-8")
        code = code_lines(text)
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                # A decorated inner function begins with its decorators.
                begin = min(
                    [node.body[0].lineno, *(d.lineno for d in getattr(node.body[0], "decorator_list", []))]
                )
                body = code & set(range(begin, (node.end_lineno or begin) + 1))
                if len(body) > MOST_BODY_LINES:
                    wrong.append(f"{name}.{node.name} has a body of {len(body)} lines")
    return wrong


def public_names_that_fail(module: object, names: list[str]) -> list[str]:
    """Public names that lead nowhere or say nothing of themselves."""
    wrong = []
    for name in names:
        try:
            value = getattr(module, name)
        except (AttributeError, ImportError) as error:
            wrong.append(f"{name}: {error}")
            continue
        # What a dataclass writes for itself, "Name(field: type, ...)", is no docstring.
        if not (inspect.getdoc(value) or "").strip() or (value.__doc__ or "").startswith(f"{name}("):
            wrong.append(f"{name} has no docstring")
        if name not in dir(module):
            wrong.append(f"dir() does not list {name}")
    return wrong


def lazy_table(text: str) -> set[tuple[str, str]]:
    """Pairs (home, name) of the table ``_HOMES``."""
    for node in ast.parse(text).body:
        if (
            isinstance(node, ast.Assign)
            and isinstance(node.targets[0], ast.Name)
            and node.targets[0].id == "_HOMES"
        ):
            table: dict[str, tuple[str, ...]] = ast.literal_eval(node.value)
            return {(home, name) for home, names in table.items() for name in names}
    return set()


def typed_imports(text: str) -> set[tuple[str, str]]:
    """Pairs (home, name) that type checkers see, imported under their own name."""
    return {
        (statement.module or "", alias.name)
        for node in ast.parse(text).body
        if isinstance(node, ast.If) and _is_type_checking(node)
        for statement in node.body
        if isinstance(statement, ast.ImportFrom)
        for alias in statement.names
        if alias.asname == alias.name
    }


def loaded_by(code: str, unwanted: tuple[str, ...], where: Path) -> list[str]:
    """Which of the unwanted modules a fresh process has loaded after running some code."""
    report = f"{code}\nimport sys\nprint(*[name for name in {unwanted!r} if name in sys.modules])"
    run = subprocess.run(
        [sys.executable, "-c", report], cwd=where, capture_output=True, text=True, check=True, timeout=60
    )
    return run.stdout.split()


# --- the house as it stands ---------------------------------------------------------------------------------

GUARDS: tuple[Callable[[Path], list[str]], ...] = (
    import_cycles,
    imports_from_above,
    long_modules,
    long_functions,
)


@pytest.mark.parametrize("guard", GUARDS, ids=lambda guard: guard.__name__)
def test_the_house_is_built_so(guard: Callable[[Path], list[str]]) -> None:
    assert guard(PACKAGE) == []


def test_the_guards_see_the_house() -> None:
    graph = imports(PACKAGE)
    assert len(graph) > 30
    assert {f"{NAME}.curve.curve", f"{NAME}.cloth.making"} <= graph[f"{NAME}.cloth.bend"]
    assert f"{NAME}.pattern.table" in graph[f"{NAME}.pattern.pattern"]  # imported inside a function
    assert f"{NAME}.pattern.pattern" not in graph[f"{NAME}.pattern.table"]  # only under TYPE_CHECKING
    assert graph[NAME] == set()


def test_importing_the_package_costs_next_to_nothing() -> None:
    assert loaded_by("import bias_drafting", HEAVY, PACKAGE.parent) == []


def test_a_curve_loads_only_what_curves_need() -> None:
    assert loaded_by("import bias_drafting as bd; bd.Curve", HEAVY_WITH_A_CURVE, PACKAGE.parent) == []


def test_public_names_resolve_and_say_what_they_are() -> None:
    assert public_names_that_fail(bd, bd.__all__) == []
    assert len(bd.__all__) == len(set(bd.__all__)) > 30


def test_names_that_are_not_public() -> None:
    with pytest.raises(AttributeError, match="module 'bias_drafting' has no attribute 'Crve'"):
        _ = bd.Crve


def test_type_checkers_and_the_lazy_table_see_the_same_names() -> None:
    text = (PACKAGE / "__init__.py").read_text(encoding="utf-8")
    assert typed_imports(text) == lazy_table(text)
    assert {name for _, name in lazy_table(text)} == set(bd.__all__)


def test_the_package_says_that_it_is_typed() -> None:
    assert (PACKAGE / "py.typed").is_file()


# --- each guard fails where the house is built wrong --------------------------------------------------------


def house(tmp_path: Path, **files: str) -> Path:
    """A package of the real name with these modules; ``curve__curve`` stands for curve/curve.py."""
    package = tmp_path / NAME
    for name, text in files.items():
        path = package.joinpath(*name.split("__")).with_suffix(".py")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    (package / "__init__.py").touch()
    return package


def test_a_sound_house_passes(tmp_path: Path) -> None:
    package = house(
        tmp_path,
        units="from bias_drafting.errors import LengthError\n",
        errors="",
        curve__curve="import bias_drafting.units\n",
        cloth__bend="def f():\n    from bias_drafting.curve import curve\n",
    )
    for guard in GUARDS:
        assert guard(package) == []
    assert imports(package)[f"{NAME}.cloth.bend"] == {f"{NAME}.curve.curve"}


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("from bias_drafting.curve.b import x", "from bias_drafting.curve.a import y"),
        ("from bias_drafting.curve import b", "import bias_drafting.curve.a"),
        ("def f():\n    from bias_drafting.curve.b import x", "class A:\n    import bias_drafting.curve.a"),
        ("from .b import x", "from . import a"),
        (
            "if 1:\n    try:\n        from . import b\n    except ImportError:\n        pass",
            "from .a import y",
        ),
        ("from bias_drafting.curve.a import me", ""),
    ],
)
def test_an_import_cycle_is_found(tmp_path: Path, one: str, other: str) -> None:
    package = house(tmp_path, curve__a=one, curve__b=other, curve____init__="")
    assert any("curve.a imports itself" in line for line in import_cycles(package))


def test_a_long_way_round_is_found(tmp_path: Path) -> None:
    package = house(
        tmp_path,
        curve__a="import bias_drafting.curve.b",
        curve__b="import bias_drafting.curve.c",
        curve__c="import bias_drafting.curve.a",
        curve__d="import bias_drafting.curve.a",
    )
    assert import_cycles(package) == [f"{NAME}.curve.{k} imports itself by way of others" for k in "abc"]


def test_imports_for_annotations_are_no_cycle(tmp_path: Path) -> None:
    block = "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from bias_drafting.curve.b import x\n"
    assert import_cycles(house(tmp_path, curve__a=block, curve__b="import bias_drafting.curve.a")) == []
    otherwise = block + "else:\n    from bias_drafting.curve.b import x\n"
    assert import_cycles(house(tmp_path, curve__a=otherwise)) != []


@pytest.mark.parametrize(
    ("module", "text"),
    [
        ("units", "import bias_drafting.curve.curve"),
        ("curve__curve", "from bias_drafting.cloth import cloth"),
        ("curve__curve", "def f():\n    from bias_drafting.sheets.svg import g"),
        ("cloth__cloth", "from ..drawing.read import read_drawing"),
        ("pattern__pattern", "from bias_drafting.cutting.plan import plan"),
        ("sheets__write", "import bias_drafting as bd"),
        ("sheets__write", "from bias_drafting import Curve"),
        ("sheets__write", "from bias_drafting.__main__ import run"),
        ("curve__curve", "import bias_drafting.attic.trunk"),
        ("attic__trunk", ""),
    ],
)
def test_an_import_from_above_is_found(tmp_path: Path, module: str, text: str) -> None:
    assert len(imports_from_above(house(tmp_path, **{module: text}))) == 1


def test_the_public_face_imports_nothing_at_once(tmp_path: Path) -> None:
    package = house(tmp_path, curve__curve="import bias_drafting.curve.bends\n", curve__bends="")
    face = package / "__init__.py"
    face.write_text("def __getattr__(name):\n    import bias_drafting.curve.curve\n", encoding="utf-8")
    assert imports(package)[NAME] == set()
    face.write_text("import bias_drafting.curve.curve\n", encoding="utf-8")
    assert imports(package)[NAME] == {f"{NAME}.curve.curve"}


def test_a_long_module_is_found(tmp_path: Path) -> None:
    lines = "x = 1\n" * MOST_LINES
    padding = '"""Says\n\nmuch."""\n\n\n# and\n# comments\n\n'
    assert long_modules(house(tmp_path, units=padding + lines)) == []
    assert long_modules(house(tmp_path, units=padding + lines + "y = '''two\nlines'''\n")) == [
        f"{NAME}.units has {MOST_LINES + 2} lines of code"
    ]


@pytest.mark.parametrize("head", ["def long():", "async def long():", "class A:\n  def long(self):"])
def test_a_long_function_is_found(tmp_path: Path, head: str) -> None:
    pad = "    "
    padding = f'\n{pad}"""Says\n\n{pad}much."""\n{pad}# a comment\n\n'
    body = f"{pad}x = 1\n" * MOST_BODY_LINES
    assert long_functions(house(tmp_path, units=head + padding + body)) == []
    (found,) = long_functions(house(tmp_path, units=head + padding + body + f"{pad}return (\n{pad}    1)\n"))
    assert found == f"{NAME}.units.long has a body of {MOST_BODY_LINES + 2} lines"


def test_a_heavy_import_is_found(tmp_path: Path) -> None:
    house(tmp_path, curve__curve="import fractions\n")
    assert loaded_by("import bias_drafting", ("fractions",), tmp_path) == []
    assert loaded_by("import bias_drafting.curve.curve", ("fractions", "decimal"), tmp_path)[0] == "fractions"
    assert loaded_by("import bias_drafting as bd; bd.Curve", ("numpy",), PACKAGE.parent) == ["numpy"]


def test_a_public_name_that_fails_is_found() -> None:
    class Face:
        good = staticmethod(public_names_that_fail)
        silent = staticmethod(lambda: None)

        def __dir__(self) -> list[str]:
            return ["good"]

    assert public_names_that_fail(Face(), ["good"]) == []
    assert public_names_that_fail(Face(), ["silent"]) == [
        "silent has no docstring",
        "dir() does not list silent",
    ]
    (nowhere,) = public_names_that_fail(Face(), ["nowhere"])
    assert nowhere.startswith("nowhere: ")


def test_a_name_missing_from_one_list_is_found() -> None:
    text = (
        "if TYPE_CHECKING:\n    from a.b import C as C\n    from a.b import D\n"
        '_HOMES = {"a.b": ("C",), "a.e": ("D",)}\n'
    )
    assert typed_imports(text) == {("a.b", "C")}
    assert lazy_table(text) == {("a.b", "C"), ("a.e", "D")}
    assert lazy_table("HOMES = {}") == set()
