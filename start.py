"""Make Pourwell ready on this machine, and run it: `python3 start.py TARGET`, or on Windows `py start.py TARGET`.

It needs Python 3.11 to 3.13 with its venv module, and nothing else. It makes the virtual environment `.venv` beside this file,
installs exactly the versions of `locks/` by their hashes, and runs the target in it; what is done already is not done again.

An older Python must be able to read this file, if only to say that it is too old: so there are no annotations here, and no syntax
newer than Python 3.6. What stands above `install` runs on such a Python.
"""

import hashlib
import json
import os
import re
import shlex
import shutil
import ssl
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VERSIONS = ((3, 13), (3, 12), (3, 11))
SPAN = "3.11 to 3.13"
WINDOWS = os.name == "nt"
PROBE = "import sys, importlib.util as u; print(*sys.version_info[:2], int(bool(u.find_spec('venv') and u.find_spec('ensurepip'))))"
"""Printed by a Python that is asked what it is: major, minor, and 1 if it can make a virtual environment with pip in it."""

OWN_STORE_PIP = (24, 2)
"""From this version on pip asks the operating system which certificates it trusts."""
BUNDLES = (
    "/etc/ssl/certs/ca-certificates.crt",
    "/etc/pki/tls/certs/ca-bundle.crt",
    "/etc/pki/ca-trust/extracted/pem/tls-ca-bundle.pem",
    "/etc/ssl/ca-bundle.pem",
    "/etc/ssl/cert.pem",
)
"""Where systems keep their trusted certificates in one file: Debian, Fedora, its relatives, openSUSE, Alpine and macOS."""

LOOPS = "tests/journeys/test_freezing.py::test_a_plan_tells_how_its_tree_freezes_and_freeze_tells_it_again"
"""A test that goes through nearly all compiled loops: while form is checked they are compiled once, else by each of three."""

FAILURES = (
    (
        ("CERTIFICATE_VERIFY_FAILED", "SSLError", "SSLCertVerificationError"),
        "the certificate of the package index is not trusted",
        "Behind a proxy that inspects traffic, set PIP_CERT to the file with its certificate, and run the same again.",
    ),
    (
        ("ProxyError", "Cannot connect to proxy", "Tunnel connection failed"),
        "the proxy refused the way to the package index",
        "Look at the variables HTTPS_PROXY and HTTP_PROXY, and run the same again.",
    ),
    (
        ("suitable TLS CA certificate bundle",),
        "the file of trusted certificates that PIP_CERT or pip's own settings name is not there",
        "Put it right, and run the same again.",
    ),
    (("No space left on device", "not enough space"), "the disk is full", "Make room (about 1 GB), and run the same again."),
    (
        ("DO NOT MATCH THE HASHES",),
        "a package that came is not the one that the lock file names",
        "Nothing of it was installed. Run the same again; if it comes again, ask who serves your packages.",
    ),
    (
        (
            "NewConnectionError",
            "NameResolutionError",
            "ConnectTimeout",
            "ReadTimeout",
            "Connection refused",
            "Connection reset",
            "Network is unreachable",
            "Temporary failure in name resolution",
            "Failed to resolve",
            "getaddrinfo failed",
            "timed out",
        ),
        "the package index cannot be reached",
        "Look at the network connection, and run the same again; what has come already is kept.",
    ),
    (
        ("No matching distribution found", "Could not find a version"),
        "the package index has no package of the version wanted for this machine",
        "Pourwell runs on Linux x86-64, macOS 13 or newer on Apple silicon, and Windows x64.",
    ),
)
"""What pip says, what it means, and what to try; the first line that fits counts."""


class CannotStartError(Exception):
    """Something is missing on this machine; the message is a sentence for the user."""


def fits(version):
    """Whether Pourwell runs on this (major, minor)."""
    return tuple(version[:2]) in VERSIONS


def ask(command):
    """What the Python behind a command line is: ((major, minor), can it make an environment), or None if it does not answer."""
    try:
        said = subprocess.check_output([*command, "-c", PROBE], stderr=subprocess.DEVNULL, timeout=60).decode().split()
        return (int(said[0]), int(said[1])), said[2] == "1"
    except (OSError, ValueError, IndexError, subprocess.SubprocessError):
        return None


def candidates(which=shutil.which, windows=WINDOWS):
    """Command lines that may lead to another Python, the newest first."""
    for major, minor in VERSIONS:
        path = which("python%d.%d" % (major, minor))  # noqa: UP031
        if path:
            yield [path]
        launcher = which("py") if windows else None
        if launcher:
            yield [launcher, "-%d.%d" % (major, minor)]  # noqa: UP031


def choose(own, others, probe=ask):
    """The command line of the Python to use: our own if it will do, else the first of the others that does.

    Raises CannotStartError with a sentence when there is none.
    """
    without = None
    for command in [own, *others]:
        answer = probe(command)
        if answer is None or not fits(answer[0]):
            continue
        if answer[1]:
            return command
        without = without or answer[0]
    if without:
        name = "python%d.%d" % without  # noqa: UP031
        raise CannotStartError(
            f"{name} is here, but it cannot make a virtual environment with pip in it. "
            f"On Debian and Ubuntu: sudo apt-get install python3-venv (or {name}-venv); elsewhere install Python anew."
        )
    mine = "%d.%d" % tuple(sys.version_info[:2])  # noqa: UP031
    raise CannotStartError(
        f"Pourwell needs Python {SPAN}; this is Python {mine}, and no other that fits was found on PATH. "
        "Install Python 3.13 and run the same again."
    )


def own_python(prefix, executable, base):
    """The Python that runs this; inside `.venv` the one that made it, for `.venv` may have to be removed and made again."""
    return [base if base and Path(prefix).resolve() == ROOT / ".venv" else executable]


def go_on_with(command, arguments):
    """Run this file again under another Python, in our place."""
    line = [*command, str(Path(__file__).resolve()), *arguments]
    if WINDOWS:
        sys.exit(subprocess.call(line))
    os.execv(line[0], line)


def digest(root, identity):
    """What an environment must have been made from: both locks, what pyproject.toml says of the package, and the Python itself."""
    import tomllib

    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    tools = {key: project.get(key) for key in ("build-system", "project")}
    tools["setuptools"] = project.get("tool", {}).get("setuptools")
    mark = hashlib.sha256(json.dumps([tools, list(identity), str(root)], sort_keys=True).encode())
    for lock in ("run", "dev"):
        mark.update((root / "locks" / f"{lock}.txt").read_bytes())
    return mark.hexdigest()


def judge(stamp, wanted, state):
    """What is to be done about an environment with this stamp: "nothing", "add" packages to it, or "remake" it.

    The stamp is "LOCK DIGEST", or "" for an environment that is absent or half made; all of lock `run` is in lock `dev`.
    """
    lock, _, made_from = stamp.strip().partition(" ")
    if made_from != state or lock not in ("run", "dev"):
        return "remake"
    return "nothing" if lock in (wanted, "dev") else "add"


def script(venv, name):
    """A command inside an environment, as a path."""
    return str(venv / ("Scripts" if WINDOWS else "bin") / (name + (".exe" if WINDOWS else "")))


def certificates(environ, *, pip_version, pip_config, system_file, bundles=BUNDLES):
    """The file of trusted certificates that pip must be told of, or None where it finds the right ones by itself.

    `pip_config` is what `pip config list` prints; `system_file` is what the ssl module takes by default (a path or None).
    """
    if pip_version >= OWN_STORE_PIP or any(environ.get(name) for name in ("PIP_CERT", "REQUESTS_CA_BUNDLE", "CURL_CA_BUNDLE")):
        return None
    if re.search(r"^(global|install|:env:)\.cert=", pip_config, flags=re.MULTILINE):
        return None
    return next((path for path in (system_file, *bundles) if path and Path(path).is_file()), None)


def write_pem(path, context=None):
    """Write the certificates that the system trusts into one file; its path, or None if the system names none.

    For Windows, which keeps them in a store and not in a file.
    """
    trusted = (context or ssl.create_default_context()).get_ca_certs(binary_form=True)
    if not trusted:
        return None
    path.write_text("".join(ssl.DER_cert_to_PEM_cert(der) for der in trusted), encoding="ascii")
    return str(path)


def explain(said):
    """What pip's own output means, and what to try: two strings."""
    for signs, means, remedy in FAILURES:
        if any(sign in said for sign in signs):
            return means, remedy
    return "it is none of the usual causes", "The reason stands at the end of the log."


def logged(command, log, problem):
    """Run a command with its output into the log. Raises CannotStartError with `problem`, the cause, and where the log lies."""
    with log.open("a", encoding="utf-8", errors="replace") as sink:
        start = sink.tell()
        failed = subprocess.call(command, stdin=subprocess.DEVNULL, stdout=sink, stderr=subprocess.STDOUT, cwd=str(ROOT))
    if failed:
        means, remedy = explain(log.read_bytes()[start:].decode("utf-8", "replace"))
        raise CannotStartError(f"{problem}: {means}. {remedy} What was said in full: {log}")


def pip_certificate_options(pip, venv):
    """The options that make pip trust what the system trusts."""
    version = subprocess.check_output([*pip, "--version"]).decode().split()[1]
    config = subprocess.run([*pip, "config", "list"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, check=False).stdout
    path = certificates(
        os.environ,
        pip_version=tuple(int(part) for part in re.findall(r"\d+", version)[:2]),
        pip_config=config.decode("utf-8", "replace"),
        system_file=ssl.get_default_verify_paths().cafile,
    )
    if path is None and WINDOWS:
        path = write_pem(venv / "trusted.pem")
    return ["--cert", path] if path else []


def install(lock, root=ROOT):
    """Make `.venv` hold exactly what a lock says, and the package itself; a second call finds it done and returns at once.

    Raises CannotStartError with a sentence and the name of a log file.
    """
    venv, stamp = root / ".venv", root / ".venv" / "made-from.txt"
    state = digest(root, [sys.version, sys.base_prefix])
    todo = judge(stamp.read_text(encoding="utf-8") if stamp.is_file() else "", lock, state)
    if todo == "nothing":
        return venv
    if stamp.is_file():
        stamp.unlink()
    if todo == "remake":
        print(f"Making {venv} with Python {sys.version.split()[0]}.", flush=True)
        if venv.exists():
            shutil.rmtree(str(venv))
        venv.mkdir()
        logged([sys.executable, "-m", "venv", str(venv)], venv / "install.log", "The virtual environment could not be made")
    print(f"Installing the packages of locks/{lock}.txt, once; it takes a minute or a few.", flush=True)
    pip = [script(venv, "python"), "-I", "-m", "pip", "--disable-pip-version-check", "--no-input"]
    hashed = ["install", "--no-deps", "--only-binary", ":all:", "--require-hashes", "-r", str(root / "locks" / f"{lock}.txt")]
    log = venv / "install.log"
    logged([*pip, *hashed, *pip_certificate_options(pip, venv)], log, "The packages could not be installed")
    own = [*pip, "install", "--no-deps", "--no-index", "--no-build-isolation", "--editable", str(root)]
    logged(own, log, "Pourwell itself could not be installed")
    stamp.write_text(f"{lock} {state}\n", encoding="utf-8")
    write_starter(script(venv, "pourwell"), root, sys.platform)
    return venv


def write_starter(program, root, platform):
    """A file that opens the desk by a double click, in the form of this system; its path."""
    if platform == "win32":
        path, text = root / "Open the desk.bat", f'@"{program}" desk\r\n@if errorlevel 1 pause\r\n'
    elif platform == "darwin":
        path, text = root / "Open the desk.command", f"#!/bin/sh\nexec {shlex.quote(program)} desk\n"
    else:
        quoted = re.sub(r'(["`$\\\\])', r"\\\1", program).replace("%", "%%")
        lines = ["[Desktop Entry]", "Type=Application", "Name=Pourwell", "Comment=Open the desk"]
        lines += [f'Exec="{quoted}" desk', "Terminal=true", ""]
        path, text = root / "Open the desk.desktop", "\n".join(lines)
    path.write_bytes(text.encode())
    path.chmod(0o755)
    return path


def steps_of(venv):
    """The checks of `lint`, by name."""
    python, ruff = script(venv, "python"), script(venv, "ruff")
    return (
        ("ruff check", [ruff, "check", "."]),
        ("ruff format", [ruff, "format", "--check", "."]),
        ("mypy", [python, "-m", "mypy"]),
        ("lint-imports", [script(venv, "lint-imports")]),
    )


def all_of(steps):
    """Run all steps, also after one has failed; the exit code is 1 if any has."""
    failed = []
    for name, command in steps:
        print(f"--- {name}", flush=True)
        if subprocess.call(command, cwd=str(ROOT)):
            failed.append(name)
    if failed:
        print("Failed: " + ", ".join(failed) + ".", file=sys.stderr)
    return 1 if failed else 0


def demo(venv, arguments):
    """Plan the built-in scenario into ./demo-run."""
    code = subprocess.call([script(venv, "pourwell"), "demo", *arguments], cwd=str(ROOT))
    if code == 0 and "--json" not in arguments:
        print(
            "\nThe same by hand, in the browser: python3 start.py desk, or double-click the file that opens the desk.", flush=True
        )
    return code


def desk(venv, arguments):
    """Open the desk in the browser (what follows goes to it)."""
    return subprocess.call([script(venv, "pourwell"), "desk", *arguments])


def run(venv, arguments):
    """Run `pourwell` with what follows."""
    return subprocess.call([script(venv, "pourwell"), *arguments])


def lint(venv, arguments):
    """Check form, types and import direction."""
    return all_of(steps_of(venv))


def test(venv, arguments):
    """Run lint and all tests (what follows goes to pytest); those of one file share what is dear to begin: one process has them."""
    three = ["-n", "3", "--dist", "loadfile", "--no-loadscope-reorder"]  # on two cores: one of them waits for a page, as a rule
    pytest = [script(venv, "python"), "-m", "pytest"]
    quiet = dict.fromkeys(("stdin", "stdout", "stderr"), subprocess.DEVNULL)
    ahead = [subprocess.Popen([*pytest, "-qq", what], cwd=str(ROOT), **quiet) for what in ("--collect-only", LOOPS)]
    try:
        return all_of([*steps_of(venv), ("pytest", [*pytest, *three, *arguments])])
    finally:
        for one in ahead:
            one.terminate()


def bench(venv, arguments):
    """Time whole commands against benchmarks/budgets.toml."""
    return subprocess.call([script(venv, "python"), "benchmarks/run.py", *arguments], cwd=str(ROOT))


def shots(venv, arguments):
    """Take a picture of every page of the desk, in light and dark, into ./shots."""
    return subprocess.call([script(venv, "python"), "-m", "tests.journeys.desk.shots", *arguments], cwd=str(ROOT))


def long(venv, arguments):
    """Run the property tests with many more examples."""
    line = [script(venv, "python"), "-m", "pytest", "-n", "2", "--hypothesis-profile", "long", "tests/properties", *arguments]
    return subprocess.call(line, cwd=str(ROOT))


TARGETS = {"demo": demo, "desk": desk, "run": run, "test": test, "lint": lint, "bench": bench, "shots": shots, "long": long}
LOCKS = {"demo": "run", "desk": "run", "run": "run"}
"""Which lock a target needs; all others need `dev`."""


def usage():
    """What can be asked for."""
    return "\n".join(["python3 start.py TARGET [ARGUMENT ...]", "", *(f"  {name:<6}{TARGETS[name].__doc__}" for name in TARGETS)])


def main(arguments):
    """Find a Python that fits, make the environment, run the target; the exit code."""
    if not arguments or arguments[0] not in TARGETS:
        print(usage())
        return 0 if arguments[:1] in (["-h"], ["--help"]) else 2
    try:
        command = choose(own_python(sys.prefix, sys.executable, getattr(sys, "_base_executable", None)), candidates())
        if command != [sys.executable]:
            go_on_with(command, arguments)
        venv = install(LOCKS.get(arguments[0], "dev"))
    except CannotStartError as err:
        print(err, file=sys.stderr)
        return 2
    except OSError as err:
        print(f"{ROOT / '.venv'} could not be made: {err}. Is there room, and may you write here?", file=sys.stderr)
        return 2
    return TARGETS[arguments[0]](venv, arguments[1:])


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit(130)
