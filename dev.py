#!/usr/bin/env python3
"""Everything one does with a copy of this project, with nothing but Python 3.11 or later.

python3 dev.py demo     set up, then reduce an invented drive and show the sheet
python3 dev.py test     set up, then run the tests
python3 dev.py check    what CI runs: style, types, layers, tests
python3 dev.py bench    how long the command takes beside a bare script; bench page, gears, track, sweep... for others

The first run fetches what it needs into .boot and .venv beside this file and touches nothing else.
Words after the verb go to the tool behind it: python3 dev.py test tests/cli -x
"""

from __future__ import annotations

import importlib.util
import os
import ssl
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent
BOOT = ROOT / ".boot"
VENV = ROOT / ".venv"
OLDEST = (3, 11)
WINDOWS = os.name == "nt"
SCRIPTS = "Scripts" if WINDOWS else "bin"
EXE = ".exe" if WINDOWS else ""

NEED_PYTHON = "This needs Python 3.11 or later; this one is {}. Run dev.py with a newer one."
NEED_PIP = (
    "This Python has neither pip nor ensurepip, so nothing can be installed with it. "
    "On Debian or Ubuntu: apt-get install python3-venv. Elsewhere: install Python from python.org."
)
NEED_NETWORK = "Setting up did not work; the lines above say why. The first run needs the network."


def main(arguments: list[str]) -> int:
    """Run one verb; the exit status is returned."""
    if sys.version_info[:2] < OLDEST:
        return complain(NEED_PYTHON.format(".".join(str(part) for part in sys.version_info[:3])))
    verbs = {"demo": demo, "test": test, "check": check, "bench": bench}
    if not arguments or arguments[0] not in verbs:
        print(__doc__)
        return 0 if not arguments or arguments[0] in ("-h", "--help", "help") else 2
    try:
        return verbs[arguments[0]](arguments[1:])
    except subprocess.CalledProcessError:
        return complain(NEED_NETWORK)
    except KeyboardInterrupt:
        return complain("Stopped.")


def demo(rest: list[str]) -> int:
    """Install as a user would, without the development tools, and show the example."""
    sync("--no-editable", "--no-dev", "--inexact")
    return run(tool("calmday"), "demo", *rest)


def test(rest: list[str]) -> int:
    """Run the tests on all cores."""
    sync()
    share_processors()
    return run(tool("python"), "-m", "pytest", "-n", "auto", *rest)


def check(_rest: list[str]) -> int:
    """Run every check, each to its end, the tests last; 1 if any of them complained."""
    sync()
    share_processors()
    python = tool("python")
    checks = {
        "style": [python, "-m", "ruff", "check"],
        "layout of the code": [python, "-m", "ruff", "format", "--check"],
        "types": [python, "-m", "mypy"],
        "layers": [tool("lint-imports"), "--no-logo"],
        "tests": [python, "-m", "pytest", "-n", "auto"],
    }
    failed = []
    for name, command in checks.items():
        print(f"== {name}", flush=True)
        if run(*command) != 0:
            failed.append(name)
    if failed:
        return complain(f"Not in order: {', '.join(failed)}.")
    return 0


def bench(rest: list[str]) -> int:
    """Time the installed command as a user has it, or another benchmark by its name, with the development tools."""
    there = {path.stem.removeprefix("bench_"): path for path in (ROOT / "benchmarks").glob("bench_*.py")}
    if rest and rest[0] in there and rest[0] != "cli":
        sync()
        return run(tool("python"), str(there[rest[0]]), *rest[1:])
    if rest and not rest[0].startswith("-") and rest[0] != "cli":
        return complain(f"There is no benchmark {rest[0]}; there are {', '.join(sorted(there))}.")
    sync("--no-editable", "--no-dev", "--inexact")
    return run(tool("python"), str(there["cli"]), *(rest[1:] if rest and rest[0] == "cli" else rest))


def sync(*options: str) -> None:
    """Bring .venv to what the lock says, byte-compiled, with the Python that runs this file."""
    command = [
        str(uv()),
        "sync",
        "--quiet",
        "--locked",
        "--compile-bytecode",
        "--python",
        sys.executable,
        *options,
    ]
    subprocess.run(command, cwd=ROOT, env=environment(), check=True)
    if "--no-editable" not in options:  # then the package is run from here, and uv compiles only what it copies
        run(tool("python"), "-m", "compileall", "-q", "src")


def uv() -> Path:
    """The installer in .boot, put there on the first run: in an environment of its own, or by pip alone."""
    found = find_uv()
    if found is not None:
        return found
    has_venv = importlib.util.find_spec("ensurepip") is not None and importlib.util.find_spec("venv") is not None
    has_pip = importlib.util.find_spec("pip") is not None
    if not has_venv and not has_pip:
        raise SystemExit(complain(NEED_PIP))
    print("Setting up (once) ...", file=sys.stderr, flush=True)
    made = has_venv and run(sys.executable, "-m", "venv", str(BOOT)) == 0
    if made:
        pip = [str(BOOT / SCRIPTS / f"python{EXE}"), "-m", "pip", "install"]
    elif has_pip:
        pip = [sys.executable, "-m", "pip", "install", "--target", str(BOOT)]
    else:
        raise SystemExit(complain(NEED_PIP))
    quiet = ["--quiet", "--disable-pip-version-check", "--root-user-action=ignore"]
    subprocess.run([*pip, *quiet, "uv"], cwd=ROOT, check=True)
    found = find_uv()
    if found is None:
        raise SystemExit(complain(f"pip finished, but left no uv in {BOOT}. Delete that folder and try again."))
    return found


def find_uv() -> Path | None:
    """The installer in .boot, wherever this platform puts scripts."""
    for folder in dict.fromkeys((SCRIPTS, "bin", "Scripts")):
        candidate = BOOT / folder / f"uv{EXE}"
        if candidate.is_file():
            return candidate
    return None


def share_processors() -> None:
    """Tests run side by side: linear algebra that starts threads of its own beside them only slows all of them down."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def tool(name: str) -> str:
    """A program of the project's environment."""
    return str(VENV / SCRIPTS / f"{name}{EXE}")


def environment() -> dict[str, str]:
    """The environment without what would point the installer elsewhere.

    The installer trusts the certificates of this machine where there are any, as pip and the browser do:
    behind the proxy of a school nothing else works.
    """
    kept = {name: value for name, value in os.environ.items() if name != "VIRTUAL_ENV"}
    if WINDOWS or sys.platform == "darwin" or ssl.get_default_verify_paths().cafile:
        kept.setdefault("UV_SYSTEM_CERTS", "true")
    return {**kept, "UV_PROJECT_ENVIRONMENT": str(VENV), "UV_PYTHON_DOWNLOADS": "never"}


def run(*command: str) -> int:
    """Run a program in the project's folder; its exit status."""
    return subprocess.run(command, cwd=ROOT, check=False).returncode


def complain(sentence: str) -> int:
    """Say it on standard error; 1."""
    print(sentence, file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
