"""What the house promises of its own files and no other tool can see: purity, templates, words, sizes."""
import ast
import re
import tomllib
from pathlib import Path

import grimp
import pytest

CHECKOUT = Path(__file__).resolve().parents[1]
APPS = ("studio", "screening", "progress")
# Django's parts that a pure file may not know, as the contract in pyproject.toml has them.
IMPURE = {"django", "psycopg", "sqlite3"}
# The walls of DEVELOPERS.md; docstrings are not counted.
LARGEST_LINES, LONGEST_FUNCTION, LONGEST_VIEW = 400, 40, 30
LONGEST_TEMPLATE, WIDEST_LINE = 150, 120

MODULES = sorted(path for app in APPS for path in (CHECKOUT / app).rglob("*.py"))
TEMPLATES = sorted((CHECKOUT / "templates").rglob("*.html"))
# Style sheets and scripts of our own.
FRONT = sorted(
    path for kind in ("css", "js") for path in (CHECKOUT / "static" / kind).rglob(f"*.{kind}")
    if path.parent.name != "vendor"
)
# What is never words for people: comments, tags, and what the browser does not show.
NOT_WORDS = re.compile(
    r"{#.*?#}|{%\s*comment.*?endcomment\s*%}|{%\s*blocktranslate.*?endblocktranslate\s*%}"
    r"|{%\s*block body_class\s*%}.*?{%\s*endblock\s*%}|{%.*?%}|{{.*?}}"
    r"|<!--.*?-->|<(script|style)\b.*?</\1>|<!doctype[^>]*>",
    re.DOTALL | re.IGNORECASE,
)
SHOWN_ATTRIBUTES = re.compile(r"\b(?:alt|title|placeholder|aria-label|data-words[a-z-]*)\s*=\s*\"([^\"]*)\"")
WORD = re.compile(r"[A-Za-z]{2,}")
# Names, which no language translates.
NAMES = {"Risebook"}


def name_of(path: Path) -> str:
    return str(path.relative_to(CHECKOUT))


def words_outside_translations(text: str) -> list[str]:
    """The words a reader would see that no translator would: text nodes and shown attributes."""
    bare = NOT_WORDS.sub(" ", text)
    shown = SHOWN_ATTRIBUTES.findall(bare) + re.split(r"<[^>]*>", bare)
    return [word for piece in shown for word in WORD.findall(re.sub(r"&\w+;", " ", piece)) if word not in NAMES]


# --- imports -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def graph():
    return grimp.build_graph(*APPS, include_external_packages=True, cache_dir=None)


@pytest.fixture(scope="module")
def held_pure(graph):
    """Every module that the contract of pure files holds: the listed ones and all they lean on."""
    contracts = tomllib.loads((CHECKOUT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    [listed] = [each["source_modules"] for each in contracts if set(each.get("forbidden_modules", ())) == IMPURE]
    roots = {name for name in graph.modules if any(name == root or name.startswith(f"{root}.") for root in listed)}
    return roots.union(*(graph.find_upstream_modules(root) for root in roots))


def test_every_file_that_needs_no_django_is_held_to_it(graph, held_pure):
    knows = set().union(*(graph.find_downstream_modules(name) for name in IMPURE if name in graph.modules))
    ours = {module for module in graph.modules if module.split(".")[0] in APPS}
    packages = {".".join(path.parent.relative_to(CHECKOUT).parts) for path in MODULES if path.name == "__init__.py"}
    assert sorted(ours - knows - packages - held_pure) == []


def test_every_file_that_says_it_knows_no_django_is_held_to_it(held_pure):
    says = {
        ".".join(path.relative_to(CHECKOUT).with_suffix("").parts) for path in MODULES
        if re.search(r"\bPURE\b|knows no Django", ast.get_docstring(ast.parse(path.read_text())) or "")
    }
    assert sorted(says - held_pure) == []


def test_no_import_hides_in_a_function():
    """It would hold a circle open; a module that is dear to import belongs behind a process of its own."""
    hidden = [
        f"{name_of(path)}:{inner.lineno}"
        for path in MODULES
        for function in ast.walk(ast.parse(path.read_text()))
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef)
        for inner in ast.walk(function)
        if isinstance(inner, ast.Import | ast.ImportFrom)
    ]
    assert hidden == []


def test_every_import_of_ours_names_a_module_that_is_there():
    """What was moved is moved everywhere: a test file that few people run would say so late."""
    there = {
        ".".join(path.relative_to(CHECKOUT).with_suffix("").parts).removesuffix(".__init__")
        for top in (*APPS, "tests") for path in (CHECKOUT / top).rglob("*.py")
    } | set(APPS) | {"tests"}
    lost = [
        f"{name_of(path)}:{node.lineno}: {node.module}"
        for top in (*APPS, "tests") for path in (CHECKOUT / top).rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.ImportFrom)
        and node.module and node.module.split(".")[0] in (*APPS, "tests") and node.module not in there
    ]
    assert lost == []


def test_a_locked_student_or_class_may_still_be_referred_to():
    """On PostgreSQL a row that only points at them need not wait. Erasing takes the student away, so it locks all."""
    lock = re.compile(r"\b(?:Student|ClassGroup|groups)\b.*select_for_update\((?!no_key=True\))")
    strict = [
        f"{name_of(path)}: {line.strip()}" for path in MODULES
        for line in path.read_text().splitlines() if lock.search(line)
    ]
    assert strict == [
        "progress/actions/erasing.py: student = Student.objects.select_for_update().get(pk=student.pk)"
    ]


def test_every_module_opens_with_what_it_is_for():
    empty = [
        name_of(path) for path in MODULES
        if path.parent.name != "migrations" and path.read_text().strip()
        and not ast.get_docstring(ast.parse(path.read_text()))
    ]
    assert empty == []


def clocks_read(text: str) -> list[int]:
    """Lines that ask what time or day it is; the day of an instant that is given asks nothing."""
    return [
        node.lineno for node in ast.walk(ast.parse(text)) if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and (node.func.attr in {"now", "today", "utcnow", "time_ns"} or node.func.attr.startswith("local") and not (
            node.args or [each for each in node.keywords if each.arg == "value"]))
    ]


def test_no_read_looks_at_a_clock():
    """The day and the instant come in, so that a question can be asked of any day."""
    reads = [
        path for path in MODULES if "queries" in path.relative_to(CHECKOUT).parts
        or path.name in ("queries.py", "permissions.py")
    ]
    assert len(reads) > 60
    assert {name_of(path): lines for path in reads if (lines := clocks_read(path.read_text()))} == {}


def test_a_clock_in_a_read_is_found():
    text = "at = timezone.now()\non = timezone.localdate()\nof = timezone.localdate(at)\nto = dt.date.today()"
    assert clocks_read(text) == [1, 2, 4]


# --- templates -----------------------------------------------------------------------------------


@pytest.mark.parametrize("forbidden, why", [
    (r"\sstyle\s*=", "a style attribute"),
    (r"<style\b", "a style sheet in the page"),
    (r"<script\b(?![^>]*\bsrc=)", "a script in the page"),
    (r"\son[a-z]+\s*=", "an event handler"),
    (r"javascript:", "a script as an address"),
    (r"\bhx-(?:on|vars|vals=.js:)", "a script in an htmx attribute"),
    (r"""(?:src|href)\s*=\s*["'](?:https?:)?//""", "something from another house"),
    # Our own drawings alone come as they are; test_hostile_values.py puts a script into every name they show.
    (r"{{(?!\s*drawing\.)[^}]*\|\s*safe\b|{%\s*autoescape\s+off", "text that is not escaped"),
])
def test_no_template_holds(forbidden, why):
    found = [name_of(path) for path in TEMPLATES if re.search(forbidden, path.read_text(), re.IGNORECASE)]
    assert found == [], why


def test_every_form_that_writes_carries_its_token():
    lacking = []
    for path in TEMPLATES:
        for form in re.findall(r"<form\b.*?</form>", path.read_text(), re.DOTALL):
            if re.search(r'method\s*=\s*"?post', form, re.IGNORECASE) and "{% csrf_token %}" not in form:
                lacking.append(name_of(path))
    assert lacking == []


def test_every_word_on_a_page_can_be_translated():
    """The page of last resort apart: it is sent when nothing else works."""
    bare = {
        name_of(path): words for path in TEMPLATES
        if path.name != "500.html" and (words := words_outside_translations(path.read_text()))
    }
    assert bare == {}


@pytest.mark.parametrize("text, words", [
    ("<p>Nobody here</p>", ["Nobody", "here"]),
    ('<img alt="a foot">', ["foot"]),
    ('<a title="{% translate \'Back\' %}">{% blocktranslate %}Back{% endblocktranslate %}</a>', []),
    ('<p class="soft">{{ name }}, {% if a %}or{% endif %} 12 s</p>', ["or"]),
    ("{# a remark #}<p>{% translate 'Yes' %}&nbsp;·</p>", []),
])
def test_the_search_for_bare_words_finds_them(text, words):
    assert words_outside_translations(text) == words


def says_she(path: Path) -> list[str]:
    """Sentences for people that make whoever they are about a girl or a woman."""
    text = path.read_text()
    if path.suffix == ".html":
        said = re.findall(r"{%\s*translate\s+(?:\"([^\"]*)\"|'([^']*)')|{%\s*blocktranslate[^%]*%}(.*?)"
                          r"{%\s*endblocktranslate", text, re.DOTALL)
        said = ["".join(each) for each in said]
    else:
        said = [
            each.value for node in ast.walk(ast.parse(text)) if isinstance(node, ast.Call)
            and (node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")).endswith(
                ("_", "say", "gettext", "gettext_lazy", "gettext_noop"))
            for each in node.args if isinstance(each, ast.Constant) and isinstance(each.value, str)
        ]
    return [each for each in said if re.search(r"\b(she|her|hers|herself)\b", each, re.IGNORECASE)]


def test_no_sentence_makes_every_student_or_teacher_a_girl_or_a_woman():
    """The name, "the student" or "they"."""
    found = {name_of(path): said for path in [*MODULES, *TEMPLATES]
             if "migrations" not in path.parts and (said := says_she(path))}
    assert found == {}


# --- sizes ---------------------------------------------------------------------------------------


def test_no_file_is_longer_than_one_can_hold_in_the_head():
    ours = [*MODULES, *TEMPLATES, *FRONT, *(CHECKOUT / "tests").rglob("*.py")]
    long = {
        name_of(path): lines for path in ours
        if (lines := len(path.read_text().splitlines())) > (LONGEST_TEMPLATE if path in TEMPLATES else LARGEST_LINES)
    }
    assert long == {}


def test_no_line_is_wider_than_one_reads_at_a_look():
    """Of Python ruff says so; a page that is short because its lines are long is no easier to read."""
    wide = [
        f"{name_of(path)}:{number}"
        for path in [*TEMPLATES, *FRONT] for number, line in enumerate(path.read_text().splitlines(), 1)
        if len(line) > WIDEST_LINE
    ]
    assert wide == []


def lines_of(function: ast.FunctionDef) -> int:
    words = ast.get_docstring(function, clean=False)
    return function.end_lineno - function.lineno + 1 - (len(words.splitlines()) if words else 0)


def test_no_function_is_longer_than_one_can_hold_in_the_head():
    long = {
        f"{name_of(path)}: {function.name}": lines
        for path in MODULES for function in ast.walk(ast.parse(path.read_text()))
        if isinstance(function, ast.FunctionDef)
        and (lines := lines_of(function)) > (LONGEST_VIEW if "views" in path.parts else LONGEST_FUNCTION)
    }
    assert long == {}
