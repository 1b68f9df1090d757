"""faces -> services -> records, devices -> core, and never back (docs/architecture.md)."""

import ast
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[1] / "src"

RANK = {"core": 0, "records": 1, "devices": 1, "services": 2, "demo": 3, "faces": 4}
"""A module may import from a room of lower rank, or from its own room."""


def modules():
    return sorted(SOURCE.rglob("*.py"))


def name_of(path):
    return ".".join(path.relative_to(SOURCE).with_suffix("").parts).removesuffix(".__init__")


def imports_of(path):
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            yield node.module


def room_of(module):
    parts = module.split(".")
    return parts[1] if parts[0] == "printlore" and len(parts) > 1 and parts[1] in RANK else None


@pytest.mark.parametrize("path", modules(), ids=name_of)
def test_imports_follow_the_arrows(path):
    own = room_of(name_of(path))
    for target in imports_of(path):
        if target.split(".")[0] != "printlore":
            continue
        other = room_of(target)
        assert target != "printlore", f"{path}: nothing inside imports the public package"
        if own and other and own != other:
            assert RANK[other] < RANK[own], f"{path} ({own}) imports {target} ({other})"


def test_what_the_faces_share_knows_neither_page_nor_terminal():
    for path in sorted((SOURCE / "printlore" / "faces").glob("*.py")):
        for target in imports_of(path):
            assert not target.startswith(("printlore.faces.web", "printlore.faces.cli")), f"{path} imports {target}"


@pytest.mark.parametrize("path", modules(), ids=name_of)
def test_print_room_and_estimator_know_nothing_of_each_other(path):
    name = name_of(path)
    for target in imports_of(path):
        root = target.split(".")[0]
        if name.startswith("printroom"):
            assert root != "printlore", f"{path}: the print room imports the estimator"
        elif not name.startswith(("printlore.demo", "printlore.faces")):
            assert root != "printroom", f"{path}: the estimator imports the print room"


def test_no_cycle_among_modules():
    graph = {name_of(p): set(imports_of(p)) for p in modules()}
    graph = {module: {t for t in targets if t in graph} for module, targets in graph.items()}
    done, path = set(), []

    def visit(module):
        assert module not in path, f"cycle: {' -> '.join([*path[path.index(module) :], module])}"
        if module in done:
            return
        path.append(module)
        for target in graph[module]:
            visit(target)
        path.pop()
        done.add(module)

    for module in graph:
        visit(module)
