"""The house: a folder imports only from those before it, and no file imports in a circle."""

import ast
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "fdm"
ORDER = [
    *("errors", "surroundings", "section", "grid", "conduction", "answers", "accuracy", "solving"),
    *("cabinet", "inference", "studies", "output", "cli"),
]
ROOT = {"__init__.py", "__main__.py", "errors.py", "py.typed"}


def name_of(file: Path, package: Path = PACKAGE) -> str:
    parts = file.relative_to(package.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def imports_of(file: Path, known: frozenset[str], package: Path = PACKAGE) -> set[str]:
    """Those of the package's known modules that a file imports: anywhere in it, for types alone, or by name."""
    found = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and not node.level:
            names = {f"{node.module}.{a.name}" for a in node.names}
            found |= names if names <= known else {node.module, *names}  # whole files, or what a file holds
        elif isinstance(node, ast.Import):
            found |= {a.name for a in node.names}
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "import_module":
            found |= {a.value for a in node.args if isinstance(a, ast.Constant) and isinstance(a.value, str)}
    return (found & known) - {name_of(file, package), package.name}


def wrong_ways(package: Path = PACKAGE) -> list[str]:
    """Imports from a folder that comes later."""
    files, out = sorted(package.rglob("*.py")), []
    known = frozenset(name_of(f, package) for f in files)
    for file in files:
        place = name_of(file, package).split(".")[1:2]
        if not place or place[0] == "__main__":
            continue  # the root shows everything
        for other in sorted(imports_of(file, known, package)):
            if ORDER.index(other.split(".")[1]) > ORDER.index(place[0]):
                out.append(f"{name_of(file, package)} imports {other}")
    return out


def test_a_folder_imports_only_from_those_before_it() -> None:
    assert wrong_ways() == []


def test_no_file_imports_in_a_circle() -> None:
    files = {name_of(f): f for f in PACKAGE.rglob("*.py")}
    graph = {name: imports_of(file, frozenset(files)) for name, file in files.items() if name != "fdm"}
    try:
        list(TopologicalSorter(graph).static_order())
    except CycleError as circle:
        pytest.fail(" <- ".join(circle.args[1]))


def test_nothing_else_stands_at_the_package_s_root() -> None:
    assert {p.name for p in PACKAGE.iterdir() if p.is_file()} == ROOT
    assert {p.name for p in PACKAGE.iterdir() if p.is_dir() and p.name != "__pycache__"} == set(ORDER) - {"errors"}


def test_every_folder_says_what_it_is_about() -> None:
    for file in PACKAGE.rglob("__init__.py"):
        assert len((ast.get_docstring(ast.parse(file.read_text(encoding="utf-8"))) or "").split()) >= 8, name_of(file)


@pytest.mark.parametrize(
    "text", ["import fdm.cli.main", "from fdm.output import tables", "def f():\n    from fdm.studies import study"]
)
def test_an_import_the_wrong_way_is_found(tmp_path: Path, text: str) -> None:
    package = tmp_path / "fdm"
    for folder in ORDER[1:]:
        (package / folder).mkdir(parents=True)
        (package / folder / "__init__.py").touch()
    (package / "output" / "tables").mkdir()
    for file in ("__init__.py", "output/tables/__init__.py", "cli/main.py", "errors.py"):
        (package / file).touch()
    assert wrong_ways(package) == []
    (package / "grid" / "lines.py").write_text(text)
    assert len(wrong_ways(package)) >= 1
