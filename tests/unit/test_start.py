"""start.py: which Python, what is to be done about `.venv`, which certificates, and what a failed installation means."""

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

import start

ROOT = Path(start.__file__).parent
FIT, OLD, BARE = ((3, 12), True), ((3, 9), True), ((3, 11), False)


def pythons(**answers):
    """A fake probe: what each command line answers, by its first word."""
    return lambda command: answers.get(command[0])


# Which Python


@pytest.mark.parametrize("version", [(3, 11), (3, 12), (3, 13), (3, 11, 9)])
def test_a_python_in_the_span_fits(version):
    assert start.fits(version)


@pytest.mark.parametrize("version", [(2, 7), (3, 6), (3, 10), (3, 14), (4, 11)])
def test_a_python_outside_the_span_does_not_fit(version):
    assert not start.fits(version)


def test_the_python_that_runs_is_kept_if_it_fits():
    assert start.choose(["own"], [["other"]], probe=pythons(own=FIT, other=FIT)) == ["own"]


def test_a_python_that_does_not_fit_gives_way_to_one_that_does():
    assert start.choose(["own"], [["broken"], ["other"]], probe=pythons(own=OLD, broken=None, other=FIT)) == ["other"]


def test_a_python_that_can_make_no_environment_gives_way_to_one_that_can():
    assert start.choose(["own"], [["other"]], probe=pythons(own=BARE, other=FIT)) == ["other"]


def test_a_missing_venv_module_is_named_with_the_package_that_brings_it():
    with pytest.raises(start.CannotStartError, match=r"python3\.11 is here.*python3-venv.*python3\.11-venv"):
        start.choose(["own"], [["other"]], probe=pythons(own=BARE, other=OLD))


def test_no_python_that_fits_is_told_in_a_sentence():
    with pytest.raises(start.CannotStartError, match=r"needs Python 3\.11 to 3\.13; this is Python"):
        start.choose(["own"], [], probe=pythons(own=OLD))


def test_a_newer_python_is_looked_for_first():
    found = list(start.candidates(which=lambda name: f"/bin/{name}", windows=False))
    assert found == [["/bin/python3.13"], ["/bin/python3.12"], ["/bin/python3.11"]]


def test_on_windows_the_launcher_is_asked_too():
    found = list(start.candidates(which=lambda name: "py.exe" if name == "py" else None, windows=True))
    assert found == [["py.exe", "-3.13"], ["py.exe", "-3.12"], ["py.exe", "-3.11"]]


def test_this_python_answers_the_probe():
    version, can_make = start.ask([sys.executable])
    assert version == sys.version_info[:2]
    assert isinstance(can_make, bool)


@pytest.mark.parametrize("code", ["print('x')", "print('three point', 'eleven', 1)", "raise SystemExit(1)"])
def test_a_command_that_answers_like_no_python_gives_no_answer(code):
    assert start.ask([sys.executable, "-c", code]) is None


def test_a_command_that_is_not_there_gives_no_answer(tmp_path):
    assert start.ask([str(tmp_path / "python3.13")]) is None


def test_inside_the_environment_the_python_that_made_it_is_used():
    assert start.own_python(str(ROOT / ".venv"), "/x/.venv/bin/python", "/usr/bin/python3.11") == ["/usr/bin/python3.11"]
    assert start.own_python("/usr", "/usr/bin/python3.11", "/usr/bin/python3.11") == ["/usr/bin/python3.11"]
    assert start.own_python("/other/venv", "/other/venv/bin/python", "/usr/bin/python3.11") == ["/other/venv/bin/python"]


def test_an_old_python_can_read_the_file():
    ast.parse((ROOT / "start.py").read_text(encoding="utf-8"), feature_version=(3, 6))


def test_the_file_needs_the_standard_library_only():
    tree = ast.parse((ROOT / "start.py").read_text(encoding="utf-8"))
    names = {a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names}
    names |= {n.module for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)}
    assert names <= set(sys.stdlib_module_names)


# What is to be done


@pytest.mark.parametrize(
    ("stamp", "wanted", "todo"),
    [
        ("", "run", "remake"),
        ("run aaaa", "run", "nothing"),
        ("dev aaaa\n", "dev", "nothing"),
        ("dev aaaa", "run", "nothing"),
        ("run aaaa", "dev", "add"),
        ("run bbbb", "run", "remake"),
        ("dev", "dev", "remake"),
        ("nonsense aaaa", "run", "remake"),
        ("nonsense", "run", "remake"),
    ],
)
def test_a_stamp_says_what_is_to_be_done(stamp, wanted, todo):
    assert start.judge(stamp, wanted, "aaaa") == todo


@pytest.fixture
def house(tmp_path):
    """A folder with what the digest looks at."""
    (tmp_path / "locks").mkdir()
    (tmp_path / "locks" / "run.txt").write_text("a==1\n", encoding="utf-8")
    (tmp_path / "locks" / "dev.txt").write_text("a==1\nb==1\n", encoding="utf-8")
    (tmp_path / "pyproject.toml").write_text('[project]\nname = "x"\n[tool.ruff]\nline-length = 132\n', encoding="utf-8")
    return tmp_path


def test_the_digest_is_the_same_as_long_as_nothing_changes(house):
    assert start.digest(house, ["3.11.7"]) == start.digest(house, ["3.11.7"])


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("locks/run.txt", "a==2\n"),
        ("locks/dev.txt", "a==1\nb==2\n"),
        ("pyproject.toml", '[project]\nname = "y"\n'),
        ("pyproject.toml", '[project]\nname = "x"\n[tool.setuptools]\npackages = []\n'),
    ],
)
def test_the_digest_sees_what_an_environment_is_made_from(house, name, text):
    before = start.digest(house, ["3.11.7"])
    (house / name).write_text(text, encoding="utf-8")
    assert start.digest(house, ["3.11.7"]) != before


def test_the_digest_sees_another_python(house):
    assert start.digest(house, ["3.11.7"]) != start.digest(house, ["3.11.8"])


def test_the_settings_of_a_tool_are_no_reason_to_install_anew(house):
    before = start.digest(house, ["3.11.7"])
    (house / "pyproject.toml").write_text('[project]\nname = "x"\n[tool.ruff]\nline-length = 100\n', encoding="utf-8")
    assert start.digest(house, ["3.11.7"]) == before


def test_the_digest_does_not_hang_on_the_order_of_keys(house):
    """The same tables in another order are the same package."""
    (house / "pyproject.toml").write_text('[project]\nname = "x"\nversion = "1"\n', encoding="utf-8")
    before = start.digest(house, ["p"])
    (house / "pyproject.toml").write_text('[project]\nversion = "1"\nname = "x"\n', encoding="utf-8")
    assert start.digest(house, ["p"]) == before


def test_a_finished_environment_is_left_alone(house, capsys):
    venv = house / ".venv"
    venv.mkdir()
    state = start.digest(house, [sys.version, sys.base_prefix])
    (venv / "made-from.txt").write_text(f"run {state}\n", encoding="utf-8")
    assert start.install("run", house) == venv
    assert capsys.readouterr().out == ""


# Certificates


def search(environ=None, *, pip_version=(23, 2), pip_config="", system_file=None, bundles=()):
    return start.certificates(
        environ or {}, pip_version=pip_version, pip_config=pip_config, system_file=system_file, bundles=bundles
    )


@pytest.fixture
def pem(tmp_path):
    path = tmp_path / "system.pem"
    path.write_text("-----BEGIN CERTIFICATE-----\n", encoding="utf-8")
    return str(path)


def test_what_the_system_takes_by_default_is_taken(pem):
    assert search(system_file=pem, bundles=["/nowhere.pem"]) == pem


def test_a_known_place_is_taken_when_the_default_is_not_there(pem):
    assert search(system_file="/nowhere.pem", bundles=["/nowhere/else.pem", pem]) == pem


@pytest.mark.parametrize("name", ["PIP_CERT", "REQUESTS_CA_BUNDLE", "CURL_CA_BUNDLE"])
def test_what_the_user_has_set_for_pip_is_left_alone(pem, name):
    assert search({name: "/mine.pem"}, system_file=pem) is None


@pytest.mark.parametrize("line", ["global.cert='/mine.pem'", "timeout=3\ninstall.cert='/mine.pem'", ":env:.cert='/mine.pem'"])
def test_what_pips_own_settings_name_is_left_alone(pem, line):
    assert search(pip_config=line, system_file=pem) is None


def test_another_setting_of_pip_is_no_certificate(pem):
    assert search(pip_config="global.client_cert='x'\nglobal.index-url='y'", system_file=pem) == pem


def test_a_pip_that_asks_the_system_itself_is_told_nothing(pem):
    assert search(pip_version=(24, 2), system_file=pem) is None
    assert search(pip_version=(25, 0), system_file=pem) is None


def test_without_any_file_pip_is_told_nothing():
    assert search(system_file=None, bundles=["/nowhere.pem"]) is None


class Store:
    """A fake ssl context."""

    def __init__(self, *ders):
        self.ders = list(ders)

    def get_ca_certs(self, *, binary_form):
        assert binary_form
        return self.ders


def test_a_store_of_certificates_is_written_as_one_file(tmp_path):
    path = tmp_path / "trusted.pem"
    assert start.write_pem(path, Store(b"one", b"two")) == str(path)
    assert path.read_text(encoding="ascii").count("-----BEGIN CERTIFICATE-----") == 2


def test_an_empty_store_writes_nothing(tmp_path):
    path = tmp_path / "trusted.pem"
    assert start.write_pem(path, Store()) is None
    assert not path.exists()


# What went wrong


@pytest.mark.parametrize(
    ("said", "means"),
    [
        (
            "SSLError(SSLCertVerificationError(1, '[SSL: CERTIFICATE_VERIFY_FAILED] ...'))\nERROR: No matching distribution found",
            "not trusted",
        ),
        ("ProxyError('Cannot connect to proxy.', NewConnectionError(...))\nERROR: No matching distribution found", "proxy"),
        ("NewConnectionError: Failed to establish\nERROR: No matching distribution found for numpy", "cannot be reached"),
        ("ReadTimeoutError: Read timed out.", "cannot be reached"),
        ("ERROR: No matching distribution found for embreex", "no package"),
        ("ERROR: Could not install packages due to an OSError: [Errno 28] No space left on device", "disk is full"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.", "not the one"),
        ("ERROR: Could not find a suitable TLS CA certificate bundle, invalid path: x", "is not there"),
        ("something never seen", "none of the usual"),
    ],
)
def test_what_pip_says_is_put_into_words(said, means):
    cause, remedy = start.explain(said)
    assert means in cause
    assert remedy.endswith(".")


def test_a_failed_command_names_its_log_and_quotes_only_itself(tmp_path):
    log = tmp_path / "install.log"
    log.write_text("No space left on device\n", encoding="utf-8")
    with pytest.raises(
        start.CannotStartError, match="The packages could not be installed: the package index cannot be reached"
    ) as err:
        start.logged(
            [sys.executable, "-c", "print('Read timed out'); raise SystemExit(1)"], log, "The packages could not be installed"
        )
    assert str(log) in str(err.value)
    assert "Read timed out" in log.read_text(encoding="utf-8")


def test_a_command_that_succeeds_says_nothing(tmp_path, capfd):
    start.logged([sys.executable, "-c", "print('done')"], tmp_path / "install.log", "It failed")
    assert capfd.readouterr().out == ""


# Targets


def test_all_checks_run_even_after_one_has_failed(tmp_path, capfd):
    marks = [tmp_path / "a", tmp_path / "b"]
    code = "import sys, pathlib; pathlib.Path(sys.argv[1]).touch(); sys.exit(int(sys.argv[2]))"
    steps = [
        ("first", [sys.executable, "-c", code, str(marks[0]), "1"]),
        ("second", [sys.executable, "-c", code, str(marks[1]), "0"]),
    ]
    assert start.all_of(steps) == 1
    assert all(mark.exists() for mark in marks)
    assert "Failed: first." in capfd.readouterr().err
    assert start.all_of(steps[1:]) == 0


def test_without_a_target_the_targets_are_listed(capsys):
    assert start.main([]) == 2
    said = capsys.readouterr().out
    assert all(name in said for name in ("demo", "test", "lint", "bench", "long", "run"))
    assert start.main(["--help"]) == 0


def test_the_makefile_offers_every_target_but_run():
    text = (ROOT / "Makefile").read_text(encoding="utf-8")
    offered = next(line for line in text.splitlines() if line.startswith(".PHONY:")).split()[1:]
    assert set(offered) == set(start.TARGETS) - {"run"}


@pytest.mark.skipif(os.name == "nt", reason="make and bash are not there on Windows; start.py is called itself")
def test_the_gate_is_a_program_and_its_shell_reads_it():
    assert os.access(ROOT / ".ci" / "run", os.X_OK)
    assert subprocess.run(["bash", "-n", str(ROOT / ".ci" / "run")], check=False).returncode == 0


def test_the_test_that_compiles_the_loops_is_there():
    file, _, name = start.LOOPS.partition("::")
    assert f"def {name}(" in (ROOT / file).read_text(encoding="utf-8")
