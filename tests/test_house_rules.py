"""The house rules that a machine can hold: who may import whom, and what the core never does.

The table of rooms in DEVELOPERS.md is the rule; it is read here, so that the document stays true.
"""

import ast
import importlib
import importlib.util
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "advisor"
MODULES = sorted(PACKAGE.rglob("*.py"))
ROW = re.compile(r"^\| `advisor/([a-z_]+)(?:\.py|/)` \|[^|]*\| (core|reads files|writes files|terminal|shell) \|$")
CLOCKS_AND_CHANCE = {"time", "datetime", "random", "secrets", "uuid"}
DOORS = {"socket", "subprocess", "urllib", "http", "sqlite3", "tempfile", "shutil"}


def rooms() -> dict[str, tuple[int, str]]:
    """Each room with its rank (a room imports only what stands above it) and what it may do."""
    found = {}
    for line in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines():
        if row := ROW.match(line):
            found[row[1]] = (len(found), row[2])
    return found


def room_of(path: Path) -> str:
    relative = path.relative_to(PACKAGE)
    return relative.parts[0].removesuffix(".py")


def imports(tree: ast.AST, path: Path) -> Iterator[tuple[str, int]]:
    """Full names of everything a module imports, wherever in it."""
    package = ("advisor", *path.relative_to(PACKAGE).parent.parts)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name, node.lineno
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else ()
            module = ".".join((*base, *([node.module] if node.module else [])))
            if module == "advisor":
                for alias in node.names:
                    yield f"advisor.{alias.name}", node.lineno
            else:
                yield module, node.lineno


def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def test_every_room_is_in_the_table_and_every_row_is_a_room():
    there = {room_of(path) for path in MODULES} - {"__init__", "__main__"}
    assert set(rooms()) == there


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_a_room_imports_only_rooms_above_it(path):
    table = rooms()
    room = room_of(path)
    if room in ("__init__", "__main__"):
        return
    for name, line in imports(parsed(path), path):
        parts = name.split(".")
        if parts[0] != "advisor" or len(parts) == 1 or parts[1] in (room, "__version__"):
            continue
        assert table[parts[1]][0] < table[room][0], f"{path.name}:{line} imports {name}"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_the_core_does_not_print_look_at_a_clock_or_roll_dice(path):
    kind = rooms().get(room_of(path), (0, "shell"))[1]
    if kind not in ("core", "reads files"):
        return
    tree = parsed(path)
    banned = CLOCKS_AND_CHANCE | DOORS
    for name, line in imports(tree, path):
        assert name.split(".")[0] not in banned, f"{path.name}:{line} imports {name}"
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            allowed = {"core": (), "reads files": ("open",)}[kind]
            if node.func.id not in allowed:
                assert node.func.id not in ("print", "input", "open", "eval", "exec", "compile"), (
                    f"{path.name}:{node.lineno} calls {node.func.id}"
                )


def test_chance_in_the_core_is_always_seeded():
    for path in MODULES:
        for node in ast.walk(parsed(path)):
            place = f"{path.name}:{getattr(node, 'lineno', 0)}"
            match node:
                case ast.Call(func=ast.Attribute(attr="default_rng" | "RandomState")):
                    assert node.args, f"{place}: a generator without a seed"
                case ast.Attribute(value=ast.Attribute(attr="random")):
                    assert node.attr in ("default_rng", "Generator", "RandomState"), f"{place}: one for all"
                case _:
                    pass


def test_the_top_level_holds_what_it_should():
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "advisor", "rules", "tests", "transcripts_demo"}
    passing = {"build", "dist", "venv"}
    visible = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - passing
    assert {name for name in visible if not name.endswith(".egg-info")} == allowed


def test_no_file_is_overlong():
    """About 400 lines are enough for one reason to change; a longer file gives its reason in its docstring."""
    for path in MODULES:
        text = path.read_text(encoding="utf-8")
        assert len(text.splitlines()) <= 450, f"{path.relative_to(ROOT)} has {len(text.splitlines())} lines"


@pytest.mark.parametrize("name", sorted(path.stem for path in (ROOT / "tests" / "benchmarks").glob("*.py")))
def test_what_is_run_by_hand_names_only_what_there_is(name: str) -> None:
    """Every name that a benchmark takes from the program or the tests is there."""
    tree = ast.parse((ROOT / "tests" / "benchmarks" / f"{name}.py").read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module is not None:
            own = node.module.split(".")[0]
            if own != "advisor" and not (ROOT / "tests" / f"{own}.py").exists():
                continue
            module = importlib.import_module(node.module)
            names = [each.name for each in node.names]
            inside = hasattr(module, "__path__")
            rooms = [name for name in names if inside and importlib.util.find_spec(f"{node.module}.{name}")]
            missing = [name for name in names if name not in rooms and not hasattr(module, name)]
            assert not missing, f"{name}.py takes {', '.join(missing)} from {node.module}"
