"""Docstrings say what a caller must know: errors, shapes, what NaN does, the source, and an example that runs.

Held to it are the public functions of `analysis` and of the rooms of `acquire` that researchers use too, and the public
methods of their public classes; examples are required of module-level functions only. Doctest runs the examples.
Where an array of floats comes in, the text must say what a NaN does, or that all must be finite. A module of
`analysis/statistics` names the published source of its formulas with its year; elsewhere the sources stand beside the
limits they support, in `analysis/data`, and no test looks for them.
"""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ROOMS = ("analysis", "acquire/values", "acquire/timing", "acquire/storage", "acquire/files")
ARRAYS = {"FloatArray", "BoolArray", "IntArray", "IndexArray", "ArrayLike", "NDArray"}

FLOATS = {"FloatArray", "ArrayLike"}

WITHOUT_EXAMPLE = {
    "takes a whole archive, or the table of one; `read_archive` shows both": {
        "analysis/audit/agreement.py": ("agreement_studies",),
        "analysis/audit/archive.py": ("measure_archive", "measured_sessions"),
        "analysis/audit/archive_audit.py": ("audit_of", "blinded"),
        "analysis/audit/coaching.py": ("latest_trials", "usual_curve", "worst_habits"),
        "analysis/audit/examiners.py": ("audit_examiners", "session_starts"),
        "analysis/audit/facts.py": ("facts_of",),
        "analysis/audit/table.py": ("fact_table",),
    },
    "takes the results of several sets; `summarise_session` shows what they come to": {
        "analysis/results/quotient.py": ("quantity_of", "quotient"),
        "analysis/results/ratios.py": ("ratio",),
        "analysis/results/sides.py": ("compare_sides",),
        "analysis/results/summary.py": ("summarise",),
    },
    "takes or makes the arrays inside a file; `write_session` and `read_session` show the whole": {
        "acquire/storage/hdf5.py": ("read_samples", "write_body"),
    },
}
"""Why a function has no example, and which. A rule, which takes the `Evidence` of a judged effort, needs none: `judge`
shows it at work."""

EXCEPTIONS = {
    (module, name) for modules in WITHOUT_EXAMPLE.values() for module, names in modules.items() for name in names
}


def public_functions(tree):
    """Yield the public functions of a module and the public methods of its public classes."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node.name, node
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            yield from ((f"{node.name}.{name}", each) for name, each in public_functions(node))


def raises(function):
    """Return whether a function itself raises; what a function within it raises is that one's business."""
    todo = list(function.body)
    while todo:
        node = todo.pop()
        if isinstance(node, ast.Raise):
            return True
        if not isinstance(node, ast.FunctionDef | ast.Lambda | ast.ClassDef):
            todo.extend(ast.iter_child_nodes(node))
    return False


def takes(function, kinds):
    """Return whether a parameter is of one of some kinds, by its annotation; what a callable takes is not asked."""
    given = function.args
    annotations = [each.annotation for each in (*given.posonlyargs, *given.args, *given.kwonlyargs) if each.annotation]
    return any(
        isinstance(part, ast.Name) and part.id in kinds
        for annotation in annotations
        if not (isinstance(annotation, ast.Subscript) and ast.unparse(annotation.value) == "Callable")
        for part in ast.walk(annotation)
    )


def lacking(source):
    """Return what the docstrings of a module lack, as (function, what)."""
    found = []
    for name, function in public_functions(ast.parse(source)):
        text = ast.get_docstring(function) or ""
        if raises(function) and "Raises\n---" not in text:
            found.append((name, "Raises"))
        if takes(function, ARRAYS) and "shape" not in text:
            found.append((name, "shape"))
        if takes(function, FLOATS) and not re.search(r"\bNaN\b|\bfinite\b", text):
            found.append((name, "NaN"))
        if "." not in name and not takes(function, {"Evidence"}) and ">>>" not in text:
            found.append((name, "example"))
    return found


def modules():
    for room in ROOMS:
        for path in sorted((ROOT / room).rglob("*.py")):
            yield path.relative_to(ROOT).as_posix()


@pytest.mark.parametrize("module", [*modules()])
def test_public_functions_say_what_they_raise_and_take_and_show_it(module):
    missing = lacking((ROOT / module).read_text(encoding="utf-8"))
    assert [each for each in missing if each[1] != "example" or (module, each[0]) not in EXCEPTIONS] == []


STATISTICS = sorted(module for module in modules() if re.match(r"analysis/statistics/[a-z]", module))


@pytest.mark.parametrize("module", STATISTICS)
def test_statistics_name_their_source_with_its_year(module):
    tree = ast.parse((ROOT / module).read_text(encoding="utf-8"))
    documented = (node for node in ast.walk(tree) if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef))
    assert re.search(r"\b(19|20)\d\d\b", " ".join(ast.get_docstring(node) or "" for node in documented))


def test_every_exception_is_still_one():
    without = {
        (module, name)
        for module in {module for module, _ in EXCEPTIONS}
        for name, what in lacking((ROOT / module).read_text(encoding="utf-8"))
        if what == "example"
    }
    assert sorted(EXCEPTIONS - without) == []


GOOD = '''
def mean(values: FloatArray) -> float:
    """Return the mean.

    Parameters
    ----------
    values : ndarray, shape (n,)
        With a NaN the mean is one.

    Raises
    ------
    ValueError
        If there are none.

    Examples
    --------
    >>> mean(np.array([1.0, 3.0]))
    2.0
    """
    if not len(values):
        raise ValueError("no values")
    return float(values.mean())
'''


def test_docstring_that_says_all_passes():
    assert lacking(GOOD) == []


@pytest.mark.parametrize(
    ("said", "what"), [("Raises\n", "Raises"), ("shape", "shape"), ("NaN", "NaN"), (">>>", "example")]
)
def test_what_is_left_out_is_found(said, what):
    assert lacking(GOOD.replace(said, "")) == [("mean", what)]


def test_array_inside_another_annotation_is_found():
    assert lacking("def f(*, a: Sequence[FloatArray] | None) -> None:\n    'x >>>'\n") == [("f", "shape"), ("f", "NaN")]


def test_method_needs_its_errors_and_shapes_but_no_example():
    public = "class A:\n    def f(self, a: FloatArray) -> None:\n        raise ValueError\n"
    assert lacking(f"{public}    def _g(self, a: FloatArray): ...\n") == [
        ("A.f", "Raises"),
        ("A.f", "shape"),
        ("A.f", "NaN"),
    ]


def test_error_of_a_function_within_and_array_of_a_callback_are_not_its_own():
    head = "def f(g: Callable[[FloatArray], float]) -> None:\n    'x >>>'\n"
    assert lacking(f"{head}    def h():\n        raise ValueError\n    h()\n") == []
