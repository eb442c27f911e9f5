"""The source itself: nothing in it runs text, unpacks programs, opens a shell, or leaves certificates unchecked."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import sowcal

ROOT = Path(sowcal.__file__).parent
MODULES = sorted(ROOT.rglob("*.py"))

NAMES = {"eval", "exec", "compile", "__import__", "breakpoint", "input"}
PACKAGES = {
    "pickle", "cPickle", "_pickle", "dill", "cloudpickle", "joblib", "marshal", "shelve", "subprocess", "pty", "popen2",
    "commands", "code", "codeop", "ctypes", "cffi", "telnetlib", "ftplib", "smtplib", "xmlrpc", "yaml",
    "fcntl", "msvcrt",  # locks of one system, silent on the other: filelock knows both
}  # fmt: skip
ATTRIBUTES = {
    "system", "popen", "spawnl", "spawnv", "execv", "execl", "execve", "fork", "mktemp", "_create_unverified_context",
    "read_pickle", "to_pickle", "startfile", "set_int_max_str_digits", "extractall", "unpack_archive", "literal_eval",
}  # fmt: skip
AT_HOME = {"child_process.py": {"subprocess"}}  # Python itself, with modules of this package
ONLY = {
    "import_module": {"commands/parser.py", "__init__.py", "__main__.py", "indices.py"}
}  # own modules, by names in the source


def faults(text: str, where: str = "") -> list[str]:
    """What a source text must not hold."""
    out = []
    banned = PACKAGES - AT_HOME.get(where, set())
    for node in ast.walk(ast.parse(text)):
        line = getattr(node, "lineno", 0)
        if isinstance(node, ast.Import):
            out += [f"{where}:{line} imports {a.name}" for a in node.names if a.name.split(".")[0] in banned]
        elif isinstance(node, ast.ImportFrom):
            names = {str(node.module).split(".")[0], *(a.name for a in node.names)}
            out += [f"{where}:{line} imports {n}" for n in names & (banned | (ATTRIBUTES - {"system"}))]
        elif isinstance(node, ast.Attribute) and node.attr in ATTRIBUTES:
            out.append(f"{where}:{line} uses {node.attr}")
        elif isinstance(node, ast.Call):
            name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
            said = {k.arg: k.value for k in node.keywords}
            if isinstance(node.func, ast.Name) and name in NAMES:
                out.append(f"{where}:{line} calls {name}")
            if name == "CDLL" and not all(isinstance(a, ast.Constant) and a.value is None for a in node.args):
                out.append(f"{where}:{line} loads another library")
            if name in ONLY and where not in ONLY[name]:
                out.append(f"{where}:{line} calls {name}")
            if name == "load" and isinstance(node.func.value, ast.Name) and node.func.value.id in ("np", "numpy"):
                no_pickle = said.get("allow_pickle")
                if not (isinstance(no_pickle, ast.Constant) and no_pickle.value is False):
                    out.append(f"{where}:{line} loads arrays without allow_pickle=False")
            for key, bad in (("allow_pickle", True), ("verify", False), ("shell", True)):
                given = said.get(key)
                if given is not None and not (isinstance(given, ast.Constant) and given.value is not bad):
                    out.append(f"{where}:{line} gives {key}")
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value.startswith("http://"):
            if where == "commands/open_guard.py" and node.value in ("http://", "http://127.0.0.1:"):
                continue  # the page served on this machine itself
            out.append(f"{where}:{line} names {node.value}")
    return out


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_module_runs_what_it_reads(path):
    assert faults(path.read_text(encoding="utf-8"), str(path.relative_to(ROOT))) == []


@pytest.mark.parametrize(
    "text",
    [
        "eval('1')",
        "import pickle",
        "import ctypes",
        "ctypes.CDLL('libfoo.so')",
        "from os import popen",
        "import os\nos.system('x')",
        "import numpy as np\nnp.load(f)",
        "import numpy as np\nnp.load(f, allow_pickle=True)",
        "import requests\nrequests.get(a, verify=False)",
        "import requests\nrequests.get(a, verify=given)",
        "x = 'http://example.org/a'",
        "from subprocess import run",
    ],
)
def test_the_search_finds_what_it_looks_for(text):
    assert faults(text)
