"""Rules of the house that no linter knows: the tree, the size of modules and functions, handlers' parameters."""

import ast
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "service", "migrations", "catalog", "tests", "deploy"}
MOST_LINES_OF_A_MODULE = 400
MOST_LINES_OF_A_FUNCTION = 70

LONGER: dict[str, str] = {}
"""Modules ("catalog/x.py") and functions ("catalog/x.py:name") that may be longer, each with its reason."""

Function = ast.FunctionDef | ast.AsyncFunctionDef


def modules() -> list[Path]:
    return sorted(path for folder in ("catalog", "service") for path in (ROOT / folder).rglob("*.py"))


def functions(path: Path) -> Iterator[Function]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def test_the_top_level_holds_what_it_may_hold() -> None:
    if not (ROOT / ".git").exists():
        pytest.skip("not a git checkout")
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    top = {name.partition("/")[0] for name in listed.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= TOP_LEVEL


def test_modules_and_functions_are_short() -> None:
    long = {}
    for path in modules():
        name = path.relative_to(ROOT).as_posix()
        lines = len(path.read_text(encoding="utf-8").splitlines())
        if lines > MOST_LINES_OF_A_MODULE:
            long[name] = lines
        for function in functions(path):
            lines = (function.end_lineno or 0) - function.lineno + 1
            if lines > MOST_LINES_OF_A_FUNCTION:
                long[f"{name}:{function.name}"] = lines
    assert {name: lines for name, lines in long.items() if name not in LONGER} == {}
    assert set(LONGER) <= set(long), "an exception that is no longer needed"


def test_every_module_says_what_it_is_for() -> None:
    silent = [
        path.relative_to(ROOT).as_posix() for path in modules() if not ast.get_docstring(ast.parse(path.read_text()))
    ]
    assert silent == []


def test_no_handler_parameter_carries_meta() -> None:
    # Litestar 2.25 neither enforces nor documents a `Meta` on a handler's own parameter; `QueryParameter` and
    # `PathParameter` do both.
    decorators = {"get", "post", "route", "head", "put", "patch", "delete"}
    carrying = []
    for path in sorted((ROOT / "service" / "api").rglob("*.py")):
        for function in functions(path):
            if not decorators & {called(decorator) for decorator in function.decorator_list}:
                continue
            arguments = [*function.args.posonlyargs, *function.args.args, *function.args.kwonlyargs]
            carrying += [
                f"{path.name}:{function.name}:{argument.arg}"
                for argument in arguments
                if argument.annotation is not None
                and any(isinstance(node, ast.Name) and node.id == "Meta" for node in ast.walk(argument.annotation))
            ]
    assert carrying == []


def called(decorator: ast.expr) -> str:
    """The plain name that a decorator calls: "get" for `@get("/x")` and `@litestar.get("/x")`."""
    target = decorator.func if isinstance(decorator, ast.Call) else decorator
    if isinstance(target, ast.Attribute):
        return target.attr
    return target.id if isinstance(target, ast.Name) else ""


def test_the_lock_files_name_no_host_and_no_path() -> None:
    for name in ("requirements.txt", "requirements-dev.txt"):
        lines = (ROOT / "deploy" / name).read_text(encoding="utf-8").splitlines()
        pins = [line for line in lines if line and not line.startswith(("    --hash=sha256:", "#"))]
        assert pins
        assert [line for line in lines if "://" in line or "/" in line.partition("#")[0]] == []
        assert [pin for pin in pins if "==" not in pin] == []
        # One hash a package would be the hash of one platform's file.
        assert sum("--hash=sha256:" in line for line in lines) > 5 * len(pins)
