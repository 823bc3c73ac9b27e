"""Every text that reaches a person, collected from the source into ``messages.txt``.

Errors, notes, labels of pages and figures, help texts: all texts with a blank in them, the
docstrings of the commands, which are their help, and the single words that pages and figures show
(heads of tables, axes, legends). ``python tests/messages.py`` writes the file anew; read its diff
before you commit it.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
SOURCES = ("solver/sinkbowl", "postprocess/sinkbowl_post")
LIST = Path(__file__).with_name("messages.txt")
WORDS = re.compile(r"[A-Za-z}][,;:.)\"']* +[({\"'-]*[A-Za-z{]")
"""Two words side by side: keys, codes of formats and of datasets have one."""
LABEL = re.compile(r"[A-Z]?[a-z\u03c7][^_.\\:;]{2,}:?")  # a single word, with or without its unit
LABELLING = {"_curves", "_note", "annotate", "heading", "LineStyle", "note", "Quantity"}
LABELLING |= {"set_title", "set_xlabel", "set_ylabel", "step_bar", "text", "write"}
"""Functions whose texts are shown."""
SHOWING = re.compile(
    "pages/|figure|page.py|sheet|names|overlay|report.py|style|captions|row.py|single.py|sized|"
    "compare.py|upright|off_centre|sinking.py|verify.py|fitting/fit.py"
)
"""Modules whose words in rows, tables and choices between two are shown."""
STYLES = {"bold", "bottom", "butt", "center", "left", "none", "normal", "right", "round", "top"}
"""Words for the library of figures."""
INTERNAL = {"textcoords", "xycoords", "family", "fromlist"}
"""Arguments whose texts are names for a library."""


def messages() -> str:
    """The text of ``messages.txt``: a heading per file, a line per text, as they stand there."""
    files = [path for top in SOURCES for path in sorted((ROOT / top).rglob("*.[ph][yt]*"))]
    read = {".py": texts_of, ".html": texts_of_page}
    found = [
        (path.relative_to(ROOT).as_posix(), list(read[path.suffix](path)))
        for path in files
        if path.suffix in read
    ]
    return "\n".join(f"# {name}\n" + "\n".join(texts) + "\n" for name, texts in found if texts)


def texts_of(path: Path) -> Iterator[str]:
    """Texts of a module in the order of its lines, what is filled in as ``{name}`` or ``{}``."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    shows = SHOWING.search(path.as_posix()) is not None
    if path.parent.name == "commands":
        for function in tree.body:
            if isinstance(function, ast.FunctionDef) and not function.name.startswith("_"):
                yield from _shown(ast.get_docstring(function) or "")
    yield from _within(tree, shows)


def texts_of_page(path: Path) -> Iterator[str]:
    """Texts between the tags of a template."""
    page = re.sub(r"<style.*?</style>|{%.*?%}", "", path.read_text(encoding="utf-8"), flags=re.S)
    for piece in re.split(r"</?[a-z][^>]*>", page):
        yield from _shown(re.sub(r"{{.*?}}", "{}", piece))


def _within(node: ast.AST, shows: bool) -> Iterator[str]:
    labels = {id(part) for part in _labels(node, shows)}
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
            continue  # docstrings
        if isinstance(child, ast.keyword) and child.arg in INTERNAL:
            continue
        if isinstance(child, ast.Constant | ast.JoinedStr | ast.BinOp) and _is_text(child):
            yield from _shown(_text(child), id(child) in labels)
            for inner in ast.walk(child):
                if isinstance(inner, ast.FormattedValue):
                    yield from _within(inner, shows)
        else:
            yield from _within(child, shows)


def _labels(node: ast.AST, shows: bool) -> list[ast.expr]:
    """The parts of a node that a person sees even if they are a single word."""
    if isinstance(node, ast.Call):
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        return node.args if name in LABELLING else []
    if not shows:
        return []
    if isinstance(node, ast.Tuple | ast.List):
        return node.elts
    if isinstance(node, ast.IfExp):
        return [node.body, node.orelse]
    return node.values if isinstance(node, ast.Dict) else []


def _is_text(node: ast.expr) -> bool:
    if isinstance(node, ast.BinOp):
        return isinstance(node.op, ast.Add) and (_is_text(node.left) or _is_text(node.right))
    return isinstance(node, ast.JoinedStr) or (
        isinstance(node, ast.Constant) and isinstance(node.value, str)
    )


def _text(node: ast.expr) -> str:
    if isinstance(node, ast.Constant):
        return str(node.value)
    if isinstance(node, ast.JoinedStr):
        return "".join(_text(part) for part in node.values)
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        return _text(node.left) + _text(node.right)
    value = node.value if isinstance(node, ast.FormattedValue) else node
    name = value.attr if isinstance(value, ast.Attribute) else getattr(value, "id", "")
    return "{" + name + "}"


def _shown(text: str, label: bool = False) -> Iterator[str]:
    line = " ".join(text.replace("\b", "").split())
    word = label and line not in STYLES and LABEL.fullmatch(line)
    if word or WORDS.search(line):
        yield line


if __name__ == "__main__":
    LIST.write_text(messages(), encoding="utf-8")
