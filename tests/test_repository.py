"""The repository keeps its own promises: its top level, its commands, and who may import whom."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from fnmatch import fnmatch
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "vrx", "tests", "sample_fields", "docs"}

# Imports point to a smaller number; equal numbers, as the stages have, never import each other.
STAGE = 5
RANKS = {"errors": 0, "words": 0, "units": 1, "formula": 1, "model": 2, "geo": 3, "dosing": 4, "runs": 6, "cli": 7}
STAGES = {"inputs", "rates", "checks", "ledgers", "exports", "reports"}
HEAVY = {"pandas", "geopandas", "pyogrio", "rasterio", "matplotlib"}
NOT_FOR_HELP = HEAVY | {"numpy", "shapely", "pyproj", "fiona", "pydantic"}


@cache
def kept_files() -> tuple[Path, ...]:
    """Files that are, or are about to be, in the repository, relative to its root."""
    git = shutil.which("git")
    if git and (ROOT / ".git").exists():
        listed = subprocess.run(
            [git, "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
            cwd=ROOT,
            capture_output=True,
            check=True,
        )
        names = listed.stdout.decode().split("\0")
        return tuple(Path(name) for name in names if name and (ROOT / name).is_file())
    ignored = (ROOT / ".gitignore").read_text(encoding="utf-8").split()
    found = (path.relative_to(ROOT) for path in sorted(ROOT.rglob("*")) if path.is_file())
    return tuple(
        path
        for path in found
        if not any(fnmatch(part, pattern.rstrip("/")) for pattern in ignored for part in path.parts)
    )


def modules() -> Iterator[tuple[Path, str, ast.Module]]:
    """Every module of vrx: its path, its part (``geo``, ``runs`` ...), and its tree."""
    for path in kept_files():
        if path.parts[0] == "vrx" and path.suffix == ".py":
            part = path.parts[1].removesuffix(".py")
            yield path, part, ast.parse((ROOT / path).read_text(encoding="utf-8"))


def imported(tree: ast.AST, path: Path) -> Iterator[tuple[str, int]]:
    """Full names that a tree imports, with their lines."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((alias.name, node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(path.parts[: len(path.parts) - node.level]) if node.level else ""
            origin = ".".join(filter(None, (base, node.module)))
            yield origin, node.lineno
            yield from ((f"{origin}.{alias.name}", node.lineno) for alias in node.names)


def rank(part: str) -> int:
    return STAGE if part in STAGES else RANKS[part]


def may_import(part: str, other: str) -> bool:
    return part == other or rank(other) < rank(part)


def test_the_top_level_holds_what_it_should_and_nothing_else() -> None:
    """Seven entries, and dotfiles beside them."""
    assert {path.parts[0] for path in kept_files() if not path.parts[0].startswith(".")} == TOP_LEVEL


@pytest.mark.parametrize("ending", ["vrx demo", "pytest"])
def test_the_readme_has_its_two_commands(ending: str) -> None:
    """Each makes its own environment and stands on one line, to be copied whole."""
    lines = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    commands = [line for line in lines if line.startswith("python3 -m venv .venv && ") and line.endswith(ending)]
    assert len(commands) == 1
    assert " .venv/bin/pip install " in commands[0]


@pytest.mark.parametrize(
    ("part", "other", "allowed"),
    [
        pytest.param("rates", "geo", True, id="a stage may use geometry"),
        pytest.param("geo", "rates", False, id="geometry knows no stage"),
        pytest.param("rates", "exports", False, id="stages do not know each other"),
        pytest.param("rates", "rates", True, id="a stage may use its own modules"),
        pytest.param("runs", "exports", True, id="a run uses stages"),
        pytest.param("runs", "cli", False, id="a run knows no command line"),
    ],
)
def test_the_rank_rule_itself(part: str, other: str, allowed: bool) -> None:
    """errors < units < model < geo < dosing < any one stage < runs < cli."""
    assert may_import(part, other) is allowed


def test_imports_point_to_lower_ranks() -> None:
    """No module imports one of its own rank elsewhere, or of a higher one, at any depth of its code."""
    found, wrong = 0, []
    for path, part, tree in modules():
        if len(path.parts) == 2 and part in {"__init__", "__main__"}:
            continue  # the package's front doors stand above all ranks
        for name, line in imported(tree, path):
            if name.startswith("vrx.") and name.split(".")[1] in STAGES | RANKS.keys():
                found += 1
                if not may_import(part, name.split(".")[1]):
                    wrong.append(f"{path}:{line} imports {name}")
    assert not wrong
    assert found > 50


def test_every_part_has_a_rank() -> None:
    """A new folder of vrx has to be given its place."""
    parts = {part for path, part, _ in modules() if len(path.parts) > 2 or part not in {"__init__", "__main__"}}
    assert parts <= RANKS.keys() | STAGES


def test_nothing_prints_below_the_command_line() -> None:
    """What is said to people goes through cli; everything else returns values."""
    wrong = [
        f"{path}:{node.lineno}"
        for path, part, tree in modules()
        if part != "cli"
        for node in ast.walk(tree)
        if (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in {"print", "input"})
        or (isinstance(node, ast.Attribute) and node.attr in {"stdout", "stderr"} and ast.unparse(node.value) == "sys")
    ]
    assert not wrong


def test_heavy_libraries_are_imported_where_they_are_used() -> None:
    """Never at the top of a module: start-up is half the time of a small field."""
    wrong = [
        f"{path}:{line} imports {name}"
        for path, _, tree in modules()
        for statement in tree.body
        if isinstance(statement, ast.Import | ast.ImportFrom)
        for name, line in imported(statement, path)
        if name.split(".")[0] in HEAVY
    ]
    assert not wrong


def test_modules_stay_small() -> None:
    """A file past 500 lines is two things."""
    lengths = {path: len((ROOT / path).read_text(encoding="utf-8").splitlines()) for path, _, _ in modules()}
    assert {path: length for path, length in lengths.items() if length > 500} == {}


def test_help_loads_no_heavy_library() -> None:
    """``vrx --help`` answers at once: it needs neither arrays nor shapes nor the plan's model."""
    code = (
        "import sys\n"
        "sys.argv = ['vrx', '--help']\n"
        "from vrx.cli.main import run\n"
        "try:\n    run()\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
        "print('LOADED', *sorted({name.split('.')[0] for name in sys.modules}), file=sys.stderr)\n"
    )
    child = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=False
    )
    assert child.returncode == 0, child.stderr
    assert "build" in child.stdout
    loaded = set(child.stderr.splitlines()[-1].split()[1:])
    assert "vrx" in loaded
    assert not loaded & NOT_FOR_HELP


def test_no_text_names_a_place_on_somebody_s_machine() -> None:
    """No absolute path of a home, a temporary or a working folder is in a text file of the repository."""
    pattern = re.compile(r"(?<![\w.~}$-])/(home|Users|root|work|tmp|mnt)/\w|[A-Z]:\\\\?Users")
    wrong = []
    for path in kept_files():
        content = (ROOT / path).read_bytes()
        if b"\0" in content[:4096]:
            continue
        lines = content.decode("utf-8", errors="replace").splitlines()
        wrong += [f"{path}:{number}" for number, line in enumerate(lines, 1) if pattern.search(line)]
    assert not wrong


def test_links_in_the_docs_lead_somewhere() -> None:
    """Every relative link of a Markdown page names a file that is there."""
    wrong = [
        f"{path}: {target}"
        for path in kept_files()
        if path.suffix == ".md"
        for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", (ROOT / path).read_text(encoding="utf-8"))
        if "://" not in target and not (ROOT / path.parent / target).exists()
    ]
    assert not wrong


def test_sources_named_in_the_code_are_listed() -> None:
    """A key such as ``[Karney2013]_`` in a docstring or ``RFC7946`` in a file's mark is in docs/sources.md."""
    listed = (ROOT / "docs" / "sources.md").read_text(encoding="utf-8")
    keys = {
        key
        for path in kept_files()
        if path.suffix == ".py" and path.parts[0] == "vrx"
        for key in re.findall(r"\[([A-Z][\w.-]+)\]_", (ROOT / path).read_text(encoding="utf-8"))
    }
    # Marks that hold for a whole file of published values; marks of single tests may say their source in words.
    keys |= {
        key
        for path in kept_files()
        if path.parts[:2] == ("tests", "published")
        for marked in re.findall(r'(?m)^pytestmark = pytest\.mark\.source\("([^"]+)"', (ROOT / path).read_text("utf-8"))
        for key in marked.split("; ")
    }
    assert {"Karney2013", "RFC7946", "SP811"} <= keys
    assert not {key for key in keys if f"| {key} |" not in listed}
