"""The house keeps its shape: folders, arrows, names and habits."""

from __future__ import annotations

import ast
import importlib.util
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml"}
FOLDERS = {"logic", "grammar", "plant", "tests", "examples"}
#: Longest file we allow; the aim is near 400 lines.
MOST_LINES = 550


def sources(*folders: str) -> Iterator[Path]:
    for folder in folders:
        yield from sorted((ROOT / folder).rglob("*.py"))


def imported_modules(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module)
    return found


def tracked_top_level() -> set[str]:
    listing = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listing.returncode != 0:
        pytest.fail("the layout is read from the checkout's own list of files")
    return {line.split("/")[0] for line in listing.stdout.splitlines()}


def test_top_level_holds_what_the_layout_names() -> None:
    """The top level holds the named files and folders and nothing else beside dotfiles."""
    seen = {name for name in tracked_top_level() if not name.startswith(".")}
    assert seen == TOP_LEVEL | FOLDERS


@pytest.mark.parametrize("folder", ["grammar", "plant"])
def test_lower_folders_import_nothing_of_ours(folder: str) -> None:
    """grammar/ and plant/ import no package of ours but their own."""
    for path in sources(folder):
        ours = {name for name in imported_modules(path) if name.split(".")[0] == "rungproof"}
        strangers = {name for name in ours if not name.startswith(f"rungproof.{folder}")}
        assert not strangers, f"{path.relative_to(ROOT)} imports {strangers}"


@pytest.mark.parametrize("name", ["grammar", "plant", "logic"])
def test_bare_names_do_not_resolve(name: str) -> None:
    """Nobody can import a folder by its bare name from elsewhere, so no second, unequal classes arise."""
    code = f"import importlib.util; raise SystemExit(importlib.util.find_spec({name!r}) is not None)"
    assert subprocess.run([sys.executable, "-P", "-c", code], cwd="/", check=False).returncode == 0


def test_no_root_package() -> None:
    """rungproof is a namespace of three packages and has no module of its own."""
    spec = importlib.util.find_spec("rungproof")
    assert spec is not None
    assert spec.origin is None


def test_every_package_is_listed_and_typed() -> None:
    """Each folder with an __init__ stands in pyproject's list, and each front door ships py.typed."""
    listed = (ROOT / "pyproject.toml").read_text()
    for folder in ("grammar", "plant", "logic"):
        assert (ROOT / folder / "py.typed").exists()
        for init in (ROOT / folder).rglob("__init__.py"):
            package = "rungproof." + ".".join(init.parent.relative_to(ROOT).parts)
            assert f'"{package}"' in listed, f"{package} is not listed in pyproject.toml"


def test_every_test_says_its_behaviour_in_a_sentence() -> None:
    """Every test function carries a docstring: the behaviour it holds us to."""
    silent = [
        f"{path.relative_to(ROOT)}:{node.lineno} {node.name}"
        for path in sources("tests")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_") and not ast.get_docstring(node)
    ]
    assert silent == []


def test_every_module_says_what_it_is_for() -> None:
    """Every module of the packages begins with a docstring."""
    silent = [
        str(path.relative_to(ROOT))
        for path in sources("grammar", "plant", "logic")
        if not ast.get_docstring(ast.parse(path.read_text()))
    ]
    assert silent == []


def test_files_stay_short_enough_to_read() -> None:
    """No Python file grows past the length at which it wants splitting by noun."""
    long = {
        str(path.relative_to(ROOT)): count
        for path in sources("grammar", "plant", "logic", "tests")
        if (count := len(path.read_text().splitlines())) > MOST_LINES
    }
    assert long == {}


def test_help_loads_nothing_heavy() -> None:
    """The command line's help is printed without loading the parser, the search or the solvers."""
    code = (
        "import sys\n"
        "from rungproof.logic.commands.main import entry\n"
        "sys.argv = ['rungproof', '--help']\n"
        "try:\n    entry()\nexcept SystemExit:\n    pass\n"
        "heavy = {'lark', 'hypothesis', 'numpy', 'pint', 'rich', 'pytest', 'z3', 'pysat'} & set(sys.modules)\n"
        "raise SystemExit(f'loaded {heavy}' if heavy else 0)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
