"""Nothing that is read can be run: no pickle, no eval, no shell. Read from the source without running it."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = {path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in sorted((ROOT / "helpers").rglob("*.py"))}
MODULES = {
    "pickle",
    "cPickle",
    "_pickle",
    "dill",
    "cloudpickle",
    "joblib",
    "shelve",
    "marshal",
    "code",
    "codeop",
    "runpy",
    "imp",
    "ctypes",
    "yaml",
    "pty",
}
CALLS = {"eval", "exec", "compile", "__import__", "import_module", "execfile"}
SHELL_CALLS = {"system", "popen", "spawnl", "spawnle", "spawnlp", "spawnlpe", "spawnv", "spawnve", "spawnvp", "spawnvpe", "execl", "execle",
               "execlp",
               "execlpe", "execv", "execve", "execvp", "execvpe", "startfile", "getoutput", "getstatusoutput"}  # fmt: skip
LOADERS = {"loads_pickle", "read_pickle", "to_pickle", "allow_pickle", "unsafe_load", "full_load", "parse_expr", "sympify", "literal_eval"}
STARTERS = {"run", "Popen", "call", "check_call", "check_output"}
SPAWNERS = {"posix_spawn", "posix_spawnp"}  # of os: the program, then the list
LIBRARIES = {"helpers/serving/kernel_process.py"}  # asks the system, by a call that Python has no name for, to end it with its parent
REGISTRIES = {"helpers/lessons/__init__.py"}  # imports a file of a lesson's folder, by the plan's key, never by what is read
PROGRAMS = {"helpers/plots/printer.py", "helpers/serving/"}  # where a browser prints, and where the class's server starts its kernels


def faults(path, source):
    """What in a file could run what it reads, each in a sentence."""
    tree, found = ast.parse(source), []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import | ast.ImportFrom):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else [node.module or ""]
            barred = MODULES - {"ctypes"} if path in LIBRARIES else MODULES
            found += [f"{path}:{node.lineno} imports {name}" for name in names if name.split(".")[0] in barred]
            if any(name.split(".")[0] == "subprocess" for name in names) and not any(path.startswith(program) for program in PROGRAMS):
                found.append(f"{path}:{node.lineno} imports subprocess")
        elif isinstance(node, ast.Call):
            found += [
                f"{path}:{node.lineno} {wrong}" for wrong in _of_call(node) if not (wrong == "calls import_module" and path in REGISTRIES)
            ]
    return found


def _of_call(node):
    owner = getattr(getattr(node.func, "value", None), "id", "")
    name = getattr(node.func, "attr", getattr(node.func, "id", ""))
    if name in CALLS and owner != "re":
        yield f"calls {name}"
    if (name in SHELL_CALLS and owner in ("os", "subprocess")) or name in LOADERS:
        yield f"calls {name}"
    for word in node.keywords:
        if word.arg in ("shell", "allow_pickle") and not (isinstance(word.value, ast.Constant) and word.value.value is False):
            yield f"calls {name} with {word.arg}"
    if owner == "subprocess" and name in STARTERS and (not node.args or not _is_list(node.args[0])):
        yield f"starts {name} with something else than a list"
    if name in SPAWNERS and (len(node.args) < 2 or not _is_list(node.args[1])):
        yield f"starts {name} with something else than a list"


def _is_list(node):
    """A list as it stands, or a name: the caller's test below looks at what the name is given."""
    return isinstance(node, ast.List | ast.Name)


@pytest.mark.parametrize("path", SOURCES)
def test_nothing_that_is_read_can_be_run(path):
    assert faults(path, SOURCES[path]) == []


def test_the_browser_is_started_with_a_list_and_no_shell():
    tree = ast.parse(SOURCES["helpers/plots/printer.py"])
    starts = []
    for function in (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)):
        given = {
            target.id: node.value
            for node in ast.walk(function)
            if isinstance(node, ast.Assign)
            for target in node.targets
            if isinstance(target, ast.Name)
        }
        calls = [(node, getattr(node.func, "attr", "")) for node in ast.walk(function) if isinstance(node, ast.Call)]
        starts += [(given, node.args[0]) for node, name in calls if name in STARTERS]
        starts += [(given, node.args[1]) for node, name in calls if name in SPAWNERS]
    assert len(starts) == 2  # for one page, and to be asked for many
    assert all(isinstance(given[listed.id], ast.List) for given, listed in starts)


@pytest.mark.parametrize(
    "line",
    [
        "import pickle", "from marshal import loads", "import yaml", "import subprocess", "eval(text)", "exec(text)", "__import__(name)",
        "os.system(text)", "os.popen(text)", "subprocess.run(text, shell=True)", "subprocess.run(text.split())",
        "os.posix_spawn(program, text.split(), {})",
        "np.load(file, allow_pickle=True)", "sympy.sympify(text)", "importlib.import_module(name)", "compile(text, name, 'exec')",
    ],
)  # fmt: skip
def test_a_line_that_could_run_data_is_found(line):
    assert faults("helpers/studies/duty/fan_duty.py", line)


@pytest.mark.parametrize("line", ["re.compile(r'x')", "subprocess.run([program, file], check=False)", "np.load(file, allow_pickle=False)"])
def test_a_harmless_line_is_let_through(line):
    assert faults("helpers/plots/printer.py", line) == []
