"""The house's own promises: licence, packaging, imports, what the README says."""

from __future__ import annotations

import ast
import importlib.util
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests.check import CHECKS, ROOT

PACKAGES = [
    *("source", "diagnostics", "language", "model", "surroundings", "graph"),
    *("simulate", "proof", "explain", "handover", "teach", "front"),
]
MODULES = sorted(
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    for path in (ROOT / "verifier").rglob("*.py")
)
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def run_python(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize("module", MODULES)
def test_each_module_can_be_imported_alone(module: str) -> None:
    result = run_python("-W", "error", "-c", f"import {module}")
    assert result.returncode == 0, result.stderr


def test_each_package_has_its_layer_and_its_row_in_the_guide() -> None:
    found = {p.name for p in (ROOT / "verifier").iterdir() if (p / "__init__.py").exists()}
    assert found == set(PACKAGES)
    layers = PROJECT["tool"]["importlinter"]["contracts"][0]["layers"]
    assert set(layers) == found | {"pipeline", "workbench"}
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert [name for name in PACKAGES if f"| `{name}` |" not in guide] == []


def test_the_import_contracts_are_kept() -> None:
    command = dict(CHECKS)["imports"]
    result = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stdout


def test_only_proof_names_a_solver() -> None:
    """The same as the contract, counted another way: by reading every import statement."""
    guilty = []
    for path in (ROOT / "verifier").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                names = [node.module or ""]
            if any(name.split(".")[0] in {"z3", "cvc5"} for name in names):
                guilty.append(path.relative_to(ROOT).as_posix())
    assert [path for path in guilty if not path.startswith("verifier/proof/")] == []


def test_the_version_is_said_once() -> None:
    import verifier

    result = run_python("-m", "verifier.front.command", "--version")
    assert result.stdout.strip() == f"duskproof {verifier.__version__}"
    assert PROJECT["project"]["dynamic"] == ["version"]


def test_the_wheel_would_carry_grammar_and_specs() -> None:
    included = PROJECT["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    assert included == {"grammar": "verifier/_data/grammar", "specs": "verifier/_data/specs"}
    assert all((ROOT / folder).is_dir() for folder in included)


def test_all_modules_named_as_dependencies_can_be_found() -> None:
    module_of = {"z3-solver": "z3", "import-linter": "importlinter"}
    module_of |= {"pytest-xdist": "xdist", "pytest-lsp": "pytest_lsp"}
    extras = PROJECT["project"]["optional-dependencies"]
    own, *others = extras["dev"]
    assert own == "duskproof[editor,play]"
    wanted = [*PROJECT["project"]["dependencies"], *others, *extras["editor"], *extras["play"]]
    for line in wanted:
        name = line.split(">")[0].split("=")[0].strip()
        assert importlib.util.find_spec(module_of.get(name, name)) is not None, name


def test_links_of_the_docs_lead_somewhere() -> None:
    import re

    for page in ("README.md", "DEVELOPERS.md", "tests/README.md"):
        path = ROOT / page
        for target in re.findall(r"\]\(([^)#:]+)\)", path.read_text(encoding="utf-8")):
            assert (path.parent / target).exists(), f"{page}: {target}"


def test_no_file_of_the_repository_is_left_without_an_end_of_line() -> None:
    for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml"):
        assert Path(ROOT / name).read_bytes().endswith(b"\n"), name
