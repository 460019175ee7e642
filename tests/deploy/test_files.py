"""What can be told of the files in `deploy/` without the programs that read them; with these, where they are there."""

import configparser
import re
import shutil
import subprocess
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path

import click
import pytest

from service.api import command
from service.api.app import OPERATIONS
from service.api.kept import Kept
from service.api.metrics import Metrics
from service.api.settings import Settings

ROOT = Path(__file__).parents[2]
DEPLOY = ROOT / "deploy"
CONTAINER = (DEPLOY / "Containerfile").read_text()
UNIT = (DEPLOY / "beltplane.service").read_text()
NGINX = (DEPLOY / "nginx.conf").read_text()


class Asked(Mapping[str, str]):
    """An environment that sets nothing, and keeps which variables it was asked for."""

    def __init__(self) -> None:
        self.names: set[str] = set()

    def __getitem__(self, name: str) -> str:
        self.names.add(name)
        raise KeyError(name)

    def __iter__(self) -> Iterator[str]:
        return iter(())

    def __len__(self) -> int:
        return 0


def settings() -> set[str]:
    """Every variable that the service or its command line reads."""
    asked = Asked()
    Settings.from_environment(asked)
    found = set(asked.names)
    for options in (command.main.params, command.serve.params):
        found |= {str(option.envvar) for option in options if isinstance(option, click.Option) and option.envvar}
    return found


@pytest.mark.parametrize(
    "path", sorted(path for path in DEPLOY.iterdir() if path.suffix != ".txt"), ids=lambda p: p.name
)
def test_every_setting_named_there_exists(path: Path) -> None:
    assert set(re.findall(r"BELTPLANE_[A-Z_]+", path.read_text())) <= settings()


def test_every_measurement_that_the_plan_watches_exists() -> None:
    names = set(re.findall(r"beltplane_[a-z_]+", (DEPLOY / "PLAN.md").read_text()))
    shown = Metrics(Kept(0).tally).text().decode()
    assert names
    assert {name for name in names if f"\n# TYPE {name} " not in shown} == set()


def test_every_setting_is_in_the_readme() -> None:
    readme = (ROOT / "README.md").read_text()
    assert [name for name in sorted(settings()) if f"`{name}`" not in readme] == []


def instructions() -> list[str]:
    """The container file's instructions, each in one line."""
    text = re.sub(r"^#.*\n", "", CONTAINER, flags=re.MULTILINE).replace("\\\n", " ")
    return [" ".join(line.split()) for line in text.splitlines() if line.strip()]


def test_the_container_is_pinned_and_runs_as_nobody_in_particular() -> None:
    lines = instructions()
    bases = [line.split()[1] for line in lines if line.startswith("FROM ")]
    assert len(set(bases)) == 1
    assert re.fullmatch(r"python:3\.\d+\.\d+-slim-[a-z]+", bases[0]), "the tag says the version in full"
    least = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["requires-python"].removeprefix(">=")
    assert [int(n) for n in re.findall(r"\d+", bases[0])[:2]] >= [int(n) for n in least.split(".")]
    users = [line.split()[1] for line in lines if line.startswith("USER ")]
    # A number, and the last word on it: an orchestrator that refuses root has to see it.
    assert [user.isdigit() and int(user) >= 1000 for user in users] == [True]
    assert lines.index(f"USER {users[0]}") > max(n for n, line in enumerate(lines) if line.startswith(("COPY", "RUN")))
    assert any(line.startswith("RUN deploy/setup requirements.txt") for line in lines)
    assert "--require-hashes" in (DEPLOY / "setup").read_text()
    assert [line for line in lines if line.startswith("HEALTHCHECK ") and "/readyz" in line]
    assert "--read-only" in CONTAINER
    for line in lines:
        for source in line.split()[1:-1] if line.startswith("COPY ") and "--from" not in line else []:
            assert (ROOT / source).exists(), line


def test_the_lock_file_names_every_dependency_with_hashes() -> None:
    locked = (DEPLOY / "requirements.txt").read_text().replace("\\\n", " ").splitlines()
    assert all("--hash=sha256:" in line for line in locked if line.strip() and not line.startswith("#"))


def test_what_the_container_leaves_out_is_not_needed() -> None:
    kept = {line[1:] for line in (ROOT / ".dockerignore").read_text().splitlines() if line.startswith("!")}
    copied = {
        source
        for line in instructions()
        if line.startswith("COPY ") and "--from" not in line
        for source in line.split()[1:-1]
    }
    assert copied == kept


# Common practice, no source: what a service that only reads and answers can do without.
HARDENED = {
    "DynamicUser": "yes",
    "ProtectSystem": "strict",
    "ProtectHome": "yes",
    "PrivateTmp": "yes",
    "PrivateDevices": "yes",
    "NoNewPrivileges": "yes",
    "CapabilityBoundingSet": "",
    "RestrictAddressFamilies": "AF_INET AF_INET6 AF_UNIX",
    "SystemCallArchitectures": "native",
    "MemoryDenyWriteExecute": "yes",
}


def test_the_unit_gives_the_service_no_more_than_it_needs() -> None:
    unit = configparser.ConfigParser(strict=False, interpolation=None)
    unit.optionxform = str  # type: ignore[assignment, method-assign]
    unit.read_string(UNIT)
    service = dict(unit["Service"])
    assert {name: service.get(name) for name in HARDENED} == HARDENED
    assert service["ExecStart"].endswith("/beltplane serve")
    assert service["Restart"] == "on-failure"
    assert "MemoryMax" in service


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not there")
def test_systemd_takes_the_unit(tmp_path: Path) -> None:
    unit = tmp_path / "beltplane.service"
    beltplane = tmp_path / ".venv" / "bin" / "beltplane"
    beltplane.parent.mkdir(parents=True)
    beltplane.symlink_to(shutil.which("true") or "")
    (tmp_path / "README.md").touch()
    unit.write_text(UNIT.replace("/opt/beltplane", str(tmp_path)))
    found = subprocess.run(["systemd-analyze", "verify", unit], capture_output=True, text=True, check=False)
    if "Failed to" in found.stderr and "beltplane" not in found.stderr:
        pytest.skip(f"systemd cannot be asked here: {found.stderr}")
    assert (found.returncode, found.stderr) == (0, "")
    # Its own measure of how exposed a service is, 0 to 100: below 20 is what it calls OK.
    exposed = ["systemd-analyze", "security", "--offline=yes", "--threshold=20", str(unit)]
    assert subprocess.run(exposed, capture_output=True, check=False).returncode == 0


def test_nginx_takes_as_much_as_the_service() -> None:
    most = max(operation.body_limit for operation in OPERATIONS)
    assert re.findall(r"client_max_body_size (\d+);", NGINX) == [str(most)]
