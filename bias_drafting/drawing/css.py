"""Style sheets: which declarations of a drawing's ``style`` elements apply to which element.

Parsing is tinycss2's. Selectors understood: type, universal, class, id and attribute selectors, ``:root``,
``:first-child`` and ``:last-child``, joined by descent (a blank) or parenthood (``>``), in lists (Selectors Level 3).
Rules that depend on a pointer or a state never apply to a drawing on paper. Media: those a screen has, since that is
how the drawing was seen when it was made. Whatever else is met is told in a remark, never passed over.
"""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, field
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

from bias_drafting.drawing.media import of_screen
from bias_drafting.drawing.property_values import add_declaration
from bias_drafting.drawing.viewport import shorten
from bias_drafting.drawing.xml_tree import SVG_NAMESPACE
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from bias_drafting.drawing.xml_tree import Element

__all__ = ["Cascade", "Declaration", "cascade_of", "parse_declarations"]

# What hangs on a pointer or on what happened before: never true of a drawing on paper.
_NEVER = frozenset(
    {"hover", "active", "focus", "visited", "link", "target", "checked", "disabled", "enabled"}
)
# Rules that say nothing of how a shape is drawn.
_HARMLESS = frozenset({"charset", "font-face", "keyframes", "-webkit-keyframes", "page", "property"})
_MOST_RULES = 20_000
# Rules tried, each as often as elements lie one in another where it is: some ten seconds of work.
_MOST_WORK = 20_000_000
# Declarations without any of these need no parser.
_NOT_PLAIN = re.compile(r"[^-\w\s:;.,#%+]|--|/\*")


class Declaration(NamedTuple):
    """The value of one property, and whether it is marked important."""

    value: str
    important: bool


class _Compound(NamedTuple):
    """What one element must be: its type (or None for any), its id and class names, and further tests."""

    tag: str | None
    names: tuple[tuple[str, str], ...]  # ("id", ...) and ("class", ...)
    tests: tuple[Callable[[Sequence[Element]], bool], ...]


@dataclass(frozen=True, slots=True)
class _Rule:
    """One selector: its last compound first, each with how it hangs on the next (" " or ">")."""

    compounds: tuple[tuple[str, _Compound], ...]
    weight: tuple[int, int, int]
    order: int
    declarations: dict[str, Declaration]

    def matches(self, path: Sequence[Element]) -> bool:
        """Whether the last element of a path from the root is meant."""
        if not _fits(self.compounds[0][1], path, len(path) - 1):
            return False
        places = {
            len(path) - 1
        }  # where the compounds so far may lie; so the work does not grow with their ways
        for how, compound in self.compounds[1:]:
            above = (k - 1 for k in places) if how == ">" else range(max(places))
            places = {k for k in above if k >= 0 and _fits(compound, path, k)}
            if not places:
                return False
        return True


def _fits(compound: _Compound, path: Sequence[Element], k: int) -> bool:
    """Whether the element at place ``k`` of a path from the root is what a compound asks for."""
    element = path[k]
    if compound.tag is not None and element.name != compound.tag:
        return False
    for kind, name in compound.names:
        if kind == "class":
            if name not in _classes(element.attributes.get("class", "")):
                return False
        elif name != element.attributes.get("id"):
            return False
    return not compound.tests or all(test(path[: k + 1]) for test in compound.tests)


@lru_cache(maxsize=4096)
def _classes(text: str) -> frozenset[str]:
    return frozenset(text.split())


@dataclass(slots=True)
class Cascade:
    """What style sheets declare for each element of a drawing.

    Attributes
    ----------
    remarks
        What in the sheets is not read, and why, with the element of the sheet.
    """

    root: Element
    remarks: list[tuple[Element, str, str]] = field(default_factory=list)
    _rules: _Rules | None = None
    _found: dict[int, dict[int, dict[str, Declaration]]] = field(default_factory=dict)

    def declared(self, element: Element, copied: Element | None = None) -> dict[str, Declaration]:
        """Return what sheets declare for an element.

        In a copy, selectors see nothing round the element that is ``copied`` (SVG 2, section 5.6.3).
        """
        if self._rules is None or not self._rules.rules:
            return {}
        top = copied or self.root
        if id(top) not in self._found:
            found = {id(path[-1]): self._rules.for_element(path) for path in _paths(top)}
            self._found[id(top)] = {key: declared for key, declared in found.items() if declared}
        return self._found[id(top)].get(id(element), {})


def cascade_of(root: Element) -> Cascade:
    """Return what the style sheets in a drawing declare for each of its elements."""
    cascade = Cascade(root)
    rules = cascade._rules = _Rules(cascade)
    for sheet in _everything(root):
        if sheet.foreign_name == "xml-stylesheet" or (
            sheet.foreign_name == "link" and "stylesheet" in sheet.attributes.get("rel", "").lower()
        ):
            cascade.remarks.append(
                (sheet, "left out", "it stands in another file; put its rules into this one")
            )
        if sheet.name != "style" or not sheet.text.strip():
            continue
        kind = sheet.attributes.get("type", "text/css").strip().lower()
        if kind not in {"", "text/css"}:
            cascade.remarks.append((sheet, "left out", f"its type is {kind}, not text/css"))
        elif rules.is_seen(sheet, sheet.attributes.get("media", "")):
            rules.add_sheet(sheet)
    return cascade


def _everything(root: Element) -> Iterator[Element]:
    waiting = [root]
    while waiting:
        element = waiting.pop()
        yield element
        waiting += reversed(element.children)


def _paths(root: Element) -> Iterator[list[Element]]:
    """Yield the path from the root to every element; one list, changed from turn to turn."""
    path, inside = [root], [iter(root.children)]
    yield path
    while inside:
        child = next(inside[-1], None)
        if child is None:
            path.pop()
            inside.pop()
        else:
            path.append(child)
            inside.append(iter(child.children))
            yield path


@lru_cache(maxsize=1024)
def parse_declarations(text: str) -> Mapping[str, Declaration]:
    """Return the declarations of a ``style`` attribute, by property in lower case (custom ones as they are).

    Examples
    --------
    >>> parse_declarations("stroke: green; stroke-width: 2 !important")["stroke-width"]
    Declaration(value='2', important=True)
    """
    if not _NOT_PLAIN.search(text):
        pairs = (part.partition(":") for part in text.split(";"))
        found: dict[str, Declaration] = {}
        for name, _, value in pairs:
            if value.strip():
                add_declaration(found, name.strip().lower(), Declaration(value.strip(), False))
        return MappingProxyType(found)
    import tinycss2

    nodes = tinycss2.parse_blocks_contents(text, skip_comments=True, skip_whitespace=True)
    return MappingProxyType(_declared(nodes))


def _declared(nodes: Sequence[Any]) -> dict[str, Declaration]:
    import tinycss2

    found: dict[str, Declaration] = {}
    for node in nodes:
        if node.type != "declaration":
            continue
        name = node.name if node.name.startswith("--") else node.lower_name
        value = Declaration(tinycss2.serialize(node.value).strip(), node.important)
        if value.value:  # a declaration without a value is none
            add_declaration(found, name, value)
    return found


class _Rules:
    """The rules of all sheets, found by what their last compound asks for."""

    def __init__(self, cascade: Cascade) -> None:
        self.cascade = cascade
        self.rules: list[_Rule] = []
        self.prefixes: dict[str, str] = {}
        self.work = 0
        self.by_key: defaultdict[tuple[str, str], list[_Rule]] = defaultdict(list)

    def add_sheet(self, sheet: Element) -> None:
        import tinycss2

        self.add(sheet, tinycss2.parse_stylesheet(sheet.text, skip_comments=True, skip_whitespace=True))

    def add(self, sheet: Element, nodes: Sequence[Any]) -> None:
        for node in nodes:
            if node.type == "qualified-rule":
                self.add_rule(sheet, node)
            elif node.type == "at-rule":
                self.add_at_rule(sheet, node)
            elif node.type == "error":
                self.remark(sheet, "read in part", f"a rule in it is broken ({node.message})")

    def add_at_rule(self, sheet: Element, node: Any) -> None:
        import tinycss2

        name, words = node.lower_at_keyword, tinycss2.serialize(node.prelude).strip()
        if name == "media" and node.content is not None:
            if self.is_seen(sheet, words):
                self.add(
                    sheet, tinycss2.parse_rule_list(node.content, skip_comments=True, skip_whitespace=True)
                )
        elif name == "namespace":
            given = [token.value for token in node.prelude if token.type in {"ident", "string", "url"}]
            if len(given) == 2:
                self.prefixes[given[0]] = given[1]
        elif name not in _HARMLESS:
            self.remark(
                sheet, f"its @{name} {words[:40]}".strip() + " is left out", "only plain rules are read"
            )

    def add_rule(self, sheet: Element, node: Any) -> None:
        import tinycss2

        nodes = tinycss2.parse_blocks_contents(node.content, skip_comments=True, skip_whitespace=True)
        declared = _declared(nodes)
        text = " ".join(tinycss2.serialize(node.prelude).split())[:60]
        if any(inner.type in {"qualified-rule", "at-rule"} for inner in nodes):
            self.remark(sheet, f"its rule for {text!r} is read in part", "rules inside rules are not read")
        try:
            selectors = _selectors(node.prelude, self.prefixes)
        except _UnreadError as unread:
            self.remark(sheet, f"its rule for {text!r} is left out", str(unread))
            return
        for compounds, weight in selectors:
            rule = _Rule(compounds, weight, len(self.rules), declared)
            self.rules.append(rule)
            last = compounds[0][1]
            key = last.names[0] if last.names else ("tag", last.tag or "*")
            self.by_key[key].append(rule)
            if len(self.rules) > _MOST_RULES:
                msg = f"its style sheets have more than {_MOST_RULES:,} rules (line {sheet.line})"
                raise DrawingError(msg)

    def is_seen(self, sheet: Element, media: str) -> bool:
        """Return whether what is written for these media applies, and tell where that is taken as met."""
        seen, unknown = of_screen(media)
        for condition in unknown:
            self.remark(
                sheet, f"its rules for ({shorten(condition)}) apply", "what is not known here counts as met"
            )
        return seen

    def remark(self, sheet: Element, what: str, why: str) -> None:
        self.cascade.remarks.append((sheet, what, why))

    def for_element(self, path: Sequence[Element]) -> dict[str, Declaration]:
        """Return what applies to the last element of a path, the weightiest of each property."""
        element = path[-1]
        keys = [("tag", "*"), ("tag", element.name), ("id", element.attributes.get("id", ""))]
        keys += [("class", name) for name in dict.fromkeys(element.attributes.get("class", "").split())]
        tried = [rule for key in keys for rule in self.by_key.get(key, ())]
        self.work += len(tried) * len(path)
        if self.work > _MOST_WORK:
            msg = "its style sheets have too many rules for so many elements; save it with plain attributes"
            raise DrawingError(msg)
        met = [rule for rule in tried if rule.matches(path)]
        met.sort(key=lambda rule: (rule.weight, rule.order))
        found: dict[str, Declaration] = {}
        for rule in met:
            for name, value in rule.declarations.items():
                add_declaration(found, name, value)
        return found


class _UnreadError(Exception):
    """Raised at a selector that is not understood; says why."""


def _selectors(
    tokens: Sequence[Any], prefixes: Mapping[str, str]
) -> list[tuple[tuple[tuple[str, _Compound], ...], tuple[int, int, int]]]:
    """Return the selectors of a list, each from its last compound to its first, with its weight."""
    found = []
    for part in _split(tokens):
        reader = _SelectorReader(_without_prefixes(part, prefixes))
        compounds = reader.read()
        if compounds is not None:
            found.append((compounds, (reader.ids, reader.classes, reader.types)))
    return found


def _without_prefixes(tokens: Sequence[Any], prefixes: Mapping[str, str]) -> list[Any]:
    """Return tokens without the namespaces of types, which are all SVG here."""
    found: list[Any] = []
    for token in tokens:
        if token.type == "literal" and token.value == "|" and found:
            prefix = str(getattr(found.pop(), "value", None))  # a function or an error has none
            if prefix != "*" and prefixes.get(prefix) != SVG_NAMESPACE:
                msg = f"the namespace {prefix!r} is not that of SVG"
                raise _UnreadError(msg)
        else:
            found.append(token)
    return found


def _split(tokens: Sequence[Any]) -> Iterator[list[Any]]:
    part: list[Any] = []
    for token in tokens:
        if token.type == "literal" and token.value == ",":
            yield part
            part = []
        elif token.type != "comment":
            part.append(token)
    yield part


class _SelectorReader:
    """Reads one selector, token by token, and weighs it."""

    def __init__(self, tokens: Sequence[Any]) -> None:
        self.tokens = list(tokens)
        while self.tokens and self.tokens[-1].type == "whitespace":
            self.tokens.pop()
        while self.tokens and self.tokens[0].type == "whitespace":
            self.tokens.pop(0)
        self.at = 0
        self.ids = self.classes = self.types = 0
        self.never = False

    def read(self) -> tuple[tuple[str, _Compound], ...] | None:
        """Return the compounds from last to first, or None for a selector that nothing on paper meets."""
        if not self.tokens:
            msg = "a selector in it is empty"
            raise _UnreadError(msg)
        parts = [self.compound()]
        hows = []
        while self.at < len(self.tokens):
            hows.append(self.combinator())
            parts.append(self.compound())
        parts.reverse()
        return None if self.never else tuple(zip([" ", *reversed(hows)], parts, strict=True))

    def combinator(self) -> str:
        how = " "
        while self.at < len(self.tokens) and self.tokens[self.at].type == "whitespace":
            self.at += 1
        token = self.tokens[self.at]
        if token.type == "literal" and token.value in ">+~":
            how = token.value
            if how != ">":
                msg = "what stands beside an element does not count here"
                raise _UnreadError(msg)
            self.at += 1
            while self.at < len(self.tokens) and self.tokens[self.at].type == "whitespace":
                self.at += 1
        return how

    def compound(self) -> _Compound:
        tag, names, tests, begin = None, [], [], self.at
        while self.at < len(self.tokens):
            token = self.tokens[self.at]
            literal = token.value if token.type == "literal" else ""
            if token.type == "ident" and self.at == begin:
                tag, self.types = token.value, self.types + 1
            elif literal == "*" and self.at == begin:
                pass
            elif token.type == "hash":
                names.append(("id", token.value))
                self.ids += 1
            elif literal == ".":
                names.append(("class", self.name_after(".")))
                self.classes += 1
            elif literal == ":":
                tests += self.pseudo()
            elif token.type == "[] block":
                tests.append(_attribute_test(token.content))
                self.classes += 1
            else:
                break
            self.at += 1
        if self.at == begin:
            msg = "a selector in it cannot be read"
            raise _UnreadError(msg)
        # The name that fewest elements have comes first: rules are found by it.
        names.sort(key=lambda name: name[0] != "id")
        return _Compound(tag, tuple(names), tuple(tests))

    def name_after(self, sign: str) -> str:
        self.at += 1
        if self.at == len(self.tokens) or self.tokens[self.at].type != "ident":
            msg = f"a name is wanted after {sign!r}"
            raise _UnreadError(msg)
        name: str = self.tokens[self.at].value
        return name

    def pseudo(self) -> list[Callable[[Sequence[Element]], bool]]:
        after = self.tokens[self.at + 1 : self.at + 2]
        if after and after[0].type == "function":
            msg = f"':{after[0].lower_name}()' is not known here"
            raise _UnreadError(msg)
        name = self.name_after(":").lower()
        self.classes += 1
        if name in _NEVER:
            self.never = True
            return []
        if name in _POSITIONS:
            return [_POSITIONS[name]]
        msg = f"':{name}' is not known here"
        raise _UnreadError(msg)


_POSITIONS: dict[str, Callable[[Sequence[Element]], bool]] = {
    "root": lambda path: len(path) == 1,
    "first-child": lambda path: len(path) > 1 and path[-2].children[0] is path[-1],
    "last-child": lambda path: len(path) > 1 and path[-2].children[-1] is path[-1],
}


def _attribute_test(content: Sequence[Any]) -> Callable[[Sequence[Element]], bool]:
    """Return the test for ``[name]`` or ``[name="value"]`` and its like."""
    tokens = [token for token in content if token.type != "whitespace"]
    kinds = [token.type for token in tokens]
    if kinds[:1] == ["ident"] and len(tokens) == 1:
        name = tokens[0].value
        return lambda path: name in path[-1].attributes
    if len(tokens) == 3 and kinds[:2] == ["ident", "literal"] and kinds[2] in {"ident", "string"}:
        name, sign, value = tokens[0].value, tokens[1].value, tokens[2].value
        checks: dict[str, Callable[[str], bool]] = {
            "=": lambda text: text == value,
            "~=": lambda text: value in text.split(),
            "^=": lambda text: bool(value) and text.startswith(value),
            "$=": lambda text: bool(value) and text.endswith(value),
            "*=": lambda text: bool(value) and value in text,
            "|=": lambda text: text == value or text.startswith(f"{value}-"),
        }
        if sign in checks:
            check = checks[sign]
            return lambda path: name in path[-1].attributes and check(path[-1].attributes[name])
    msg = "a test of an attribute in it cannot be read"
    raise _UnreadError(msg)
