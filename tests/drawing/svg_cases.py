"""Drawings that hold everything a vector editor, or a patient person, can write into an SVG file.

Each case is a whole file. Its ``drawn`` names the shapes that are drawn, by their ``id``, in the order they are drawn;
copies that ``use`` makes go by the id of their original. Written by hand from SVG 2, CSS Transforms, CSS Cascade and
CSS Values; a browser is the judge of what the shapes measure.

The arcs in path data are small, for browsers draw them up to 0.03 % too long.
"""

# ruff: noqa: E501 -- an element of a drawing reads best on one line.

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

__all__ = ["CASES", "Case"]

NAMESPACE = 'xmlns="http://www.w3.org/2000/svg"'
XLINK = 'xmlns:xlink="http://www.w3.org/1999/xlink"'
PAINT = 'fill="none" stroke="black"'
# 0.96 px to a user unit, so that no unit passes for another.
PAGE = 'width="4in" height="3in" viewBox="0 0 400 300"'
ALIGNS = [f"x{across}Y{down}" for across, down in product(("Min", "Mid", "Max"), repeat=2)]
BED = """<g id="bed" class="row long"><line id="hop" class="vine" x2="50"/><g><line id="pea" class="vine thin" x2="60"/></g>
      <path id="bean" d="M0 20h40"/></g><line id="leek" x1="5" x2="90" y2="30" class="THIN"/>"""
ROUND_THE_BED = """<rect id="bed" x="20" y="30" width="60" height="40"/><circle id="pea" cx="150" cy="60" r="25"/>
      <ellipse id="bean" cx="250" cy="60" rx="40" ry="20"/><polygon id="leaf" points="20,120 90,130 50,190"/>
      <line id="hop" x1="120" y1="120" x2="190" y2="190"/><polyline id="vine" points="210,120 250,180 300,130"/>"""
HOP = "M10 20C30 60 70 -20 90 40"
SCROLL = "M5 5L40 12Q60 30 45 50"


@dataclass(frozen=True, slots=True)
class Case:
    """One drawing.

    Attributes
    ----------
    group
        What it is about.
    name
        Its own name.
    data
        The bytes of the file.
    drawn
        Ids of the shapes that are drawn, in drawing order.
    window
        Width and height in px of the window it is seen in, where its size hangs on that.
    """

    group: str
    name: str
    data: bytes
    drawn: tuple[str, ...]
    window: tuple[int, int] | None = None


Made = tuple[str, str | bytes, str] | tuple[str, str | bytes, str, tuple[int, int]]


def svg(body: str, root: str = PAGE, paint: str = PAINT) -> str:
    """Return a file with these elements in it."""
    return f"<svg {NAMESPACE} {XLINK} {root} {paint}>\n{body}\n</svg>\n"


def lines(*ids: str, more: str = "") -> str:
    """Return slanting lines below each other."""
    return "\n".join(
        f'<line id="{name}" x1="10" y1="{10 + 20 * k}" x2="60" y2="{15 + 20 * k}" {more}/>'
        for k, name in enumerate(ids)
    )


def wide(width: str, effect: str = "none") -> str:
    """Return a line of this width."""
    return lines("hop", more=f'stroke-width="{width}" vector-effect="{effect}"')


# --- the page ---------------------------------------------------------------------------------------------------


def page_sizes() -> Iterator[Made]:
    """Width and height of the root in every unit, and left out."""
    hop = f'<path id="hop" d="{HOP}"/><circle id="pea" cx="80%" cy="50%" r="5%"/>'
    box = 'viewBox="0 0 100 60"'
    sizes = {
        "mm": 'width="100mm" height="60mm"',
        "cm": 'width="10cm" height="6cm"',
        "in": 'width="5in" height="3in"',
        "pt": 'width="300pt" height="180pt"',
        "pc": 'width="25pc" height="15pc"',
        "q": 'width="500Q" height="300q"',
        "px": 'width="480px" height="288px"',
        "no-unit": 'width="480" height="288"',
        "capitals": 'width="5IN" height="76.2MM"',
        "exponent": 'width="4.8e2" height="+28.8E+1px"',
        "in-style": 'style="width: 5in; height: 3in"',
        "style-over-attributes": 'width="9in" height="9in" style="width:5in;height:3in"',
        "em": 'font-size="12px" width="40em" height="24em"',
        "with-x-and-y": 'x="40" y="50" width="5in" height="3in"',
    }
    for name, size in sizes.items():
        yield f"page-{name}", svg(hop, f"{size} {box}"), "hop pea"
    yield "page-in-sheet", svg("<style>svg { width: 5in; height: 3in }</style>" + hop, box), "hop pea"
    yield "page-view-box-only", svg(hop, 'viewBox="0 0 384 240"'), "hop pea", (384, 240)
    yield "page-width-only", svg(hop, f'width="5in" {box}'), "hop pea", (480, 288)
    yield "page-height-only", svg(hop, f'height="3in" {box}'), "hop pea", (480, 288)
    yield "page-per-cent", svg(hop, 'width="100%" height="100%" viewBox="0 0 384 240"'), "hop pea", (384, 240)
    yield "page-nothing", svg(hop, ""), "hop pea", (300, 150)
    yield "page-mm-without-view-box", svg(hop, 'width="90mm" height="50mm"'), "hop pea"
    yield "page-in-without-view-box", svg(hop, 'width="3.5in" height="2in"'), "hop pea"
    yield "page-view-box-shifted", svg(hop, 'width="5in" height="3in" viewBox="-50 -20 200 120"'), "hop pea"
    yield "page-view-box-commas", svg(hop, 'width="5in" height="3in" viewBox=" -10,-5 , 120,72 "'), "hop pea"
    yield (
        "page-view-box-large",
        svg(hop, 'width="5in" height="3in" viewBox="0 0 1e4 6e3"', "stroke-width='30'"),
        "hop pea",
    )
    yield (
        "page-view-box-small",
        svg(
            '<path id="hop" d="M.1.2C.3.6.7-.2.9.4" stroke-width=".01"/>',
            'width="5in" height="3in" viewBox="0 0 1 .6"',
        ),
        "hop",
    )


def page_aspects() -> Iterator[Made]:
    """How the viewBox of the root fits its page, by preserveAspectRatio."""
    hop = '<path id="hop" d="M3 5C10 30 20 -5 27 33"/><ellipse id="bean" cx="15" cy="20" rx="6" ry="9"/>'
    for aspect in (
        "xMinYMin meet",
        "xMaxYMax",
        "xMidYMid slice",
        "xMaxYMin slice",
        "xMinYMid  slice",
        "none",
        "none slice",
        " xMidYMax\tmeet ",
    ):
        name = "-".join(aspect.split())
        root = f'width="3in" height="1.5in" viewBox="0 0 30 40" preserveAspectRatio="{aspect}"'
        yield f"page-aspect-{name}", svg(hop, root), "hop bean"
    yield "page-aspect-default", svg(hop, 'width="3in" height="1.5in" viewBox="0 0 30 40"'), "hop bean"
    yield (
        "page-aspect-without-view-box",
        svg(hop, 'width="3in" height="1.5in" preserveAspectRatio="none"'),
        "hop bean",
    )
    turned = 'width="3in" height="1.5in" viewBox="0 0 300 150"'
    yield (
        "page-transform",
        svg(lines("hop", "pea"), f'{turned} transform="translate(20 10) scale(.5)"'),
        "hop pea",
    )
    yield (
        "page-css-transform",
        svg(lines("hop", "pea"), f'{turned} style="transform: rotate(10deg)"'),
        "hop pea",
    )


def files() -> Iterator[Made]:
    """The ways an XML file can be written down."""
    hop = f'<path id="hop" d="{HOP}"/>'
    plain = svg(hop)
    yield "file-bom", b"\xef\xbb\xbf" + plain.encode(), "hop"
    yield "file-declared-utf-8", '<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n' + plain, "hop"
    yield "file-utf-16", ('<?xml version="1.0" encoding="UTF-16"?>' + plain).encode("utf-16"), "hop"
    latin = f'<path id="blé" d="{HOP}" class="é"/><style>.é {{ stroke-width: 3 }}</style>'
    yield (
        "file-latin-1",
        ('<?xml version="1.0" encoding="ISO-8859-1"?>' + svg(latin)).encode("latin-1"),
        "blé",
    )
    doctype = (
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">\n'
    )
    yield "file-doctype", '<?xml version="1.0"?>\n' + doctype + plain, "hop"
    yield (
        "file-comments",
        "<!-- beans -->\n" + svg(f"<!-- <path id='no' d='M0 0H9'/> -->{hop}<?hoe deep?>"),
        "hop",
    )
    yield "file-character-references", svg('<path id="hop" d="M10&#32;20&#x43;30 60 70 -20 90 40"/>'), "hop"
    yield "file-crlf", plain.replace("\n", "\r\n"), "hop"
    prefixed = (
        '<svg:svg xmlns:svg="http://www.w3.org/2000/svg" width="4in" height="3in" viewBox="0 0 400 300">'
        '<svg:g fill="none" stroke="black"><svg:path id="hop" d="M0 0H50"/><path id="no" d="M0 9H50"/></svg:g></svg:svg>'
    )
    yield "file-prefix", prefixed, "hop"
    other = (
        f'<g xmlns:garden="urn:garden"><garden:bed><path id="no" d="{HOP}"/></garden:bed><garden:path d="M0 0H9"/>'
        f'<path id="hop" garden:d="M0 0H9" d="{HOP}"/></g>'
    )
    yield "file-other-namespaces", svg(other), "hop"
    yield (
        "file-mixed-prefixes",
        svg(f'<s:g xmlns:s="http://www.w3.org/2000/svg"><s:line id="pea" x2="9"/>{hop}</s:g>'),
        "pea hop",
    )


def percentages() -> Iterator[Made]:
    """Per cent of the width, of the height, and of neither."""
    body = """<line id="hop" x1="10%" y1="10%" x2="50%" y2="90%" stroke-width="1%"/>
      <rect id="bed" x="50%" y="5%" width="25%" height="20%" rx="5%" ry="5%"/>
      <circle id="pea" cx="80%" cy="50%" r="10%"/><ellipse id="bean" cx="20%" cy="70%" rx="5%" ry="10%"/>"""
    yield "per-cent-view-box", svg(body), "hop bed pea bean"
    yield (
        "per-cent-shifted-view-box",
        svg(body, 'width="4in" height="3in" viewBox="-100 -50 800 300"'),
        "hop bed pea bean",
    )
    yield "per-cent-no-view-box", svg(body, 'width="4in" height="3in"'), "hop bed pea bean"
    yield (
        "per-cent-none",
        svg(body, 'width="4in" height="3in" viewBox="0 0 200 300" preserveAspectRatio="none"'),
        "hop bed pea bean",
    )
    inner = f'<svg x="10%" y="20%" width="50%" height="60%">{body}</svg>'
    yield "per-cent-in-inner-svg", svg(inner), "hop bed pea bean"
    boxed = f'<svg x="10%" y="20%" width="50%" height="60%" viewBox="0 0 90 30">{body}</svg>'
    yield "per-cent-in-inner-view-box", svg(boxed), "hop bed pea bean"
    yield "per-cent-in-group", svg(f'<g transform="scale(.5)">{body}</g>'), "hop bed pea bean"


def units() -> Iterator[Made]:
    """Lengths with units inside the drawing: of user units, 96 to the inch."""
    body = """<line id="hop" x1="2mm" y1=".5cm" x2="1in" y2="72pt" stroke-width="1mm"/>
      <rect id="bed" x="10pc" y="40q" width="1.5in" height="20mm" rx="2mm" ry="12px"/>
      <circle id="pea" cx="5cm" cy="5cm" r="18pt"/><ellipse id="bean" cx="3in" cy="1in" rx=".25in" ry="1PC"/>"""
    yield "units", svg(body), "hop bed pea bean"
    yield "units-no-view-box", svg(body, 'width="4in" height="3in"'), "hop bed pea bean"
    em = '<g font-size="20"><line id="hop" x2="3em" y2="1em" stroke-width=".1em"/><circle id="pea" cx="60" r="1.5em"/></g>'
    yield "units-em", svg(em), "hop pea"
    inherited = f'<g font-size="2em"><g style="font-size:150%">{wide(".1em")}</g></g>'
    yield "units-em-of-em", svg(inherited, PAGE, PAINT + ' font-size="10"'), "hop"
    rem = lines("hop", more='style="stroke-width:.25rem"')
    yield "units-rem", svg(rem, PAGE, PAINT + ' font-size="12px"'), "hop"
    styled = '<circle id="pea" style="cx:1in;cy:20mm;r:5mm"/><rect id="bed" style="x:5mm;y:2mm;width:1cm;height:5mm;rx:1mm"/>'
    yield "units-in-style", svg(styled), "pea bed"
    calc = '<circle id="pea" cx="50" cy="50" style="r:calc(1mm + 2px)"/><line id="hop" x2="50" style="stroke-width:calc(2 * 3px)"/>'
    yield "units-calc", svg(calc), "pea hop"


# --- inner svg --------------------------------------------------------------------------------------------------


def inner_svgs() -> Iterator[Made]:
    """An svg inside an svg: place, size, viewBox and how that fits."""
    hop = '<path id="hop" d="M3 5C10 30 20 -5 27 33"/><circle id="pea" cx="15" cy="20" r="8"/>'
    for align, how in product(ALIGNS, ("meet", "slice")):
        wide = f'<svg x="20" y="10" width="150" height="60" viewBox="0 0 30 40" preserveAspectRatio="{align} {how}">{hop}</svg>'
        high = f'<svg x="200" y="10" width="60" height="150" viewBox="5 5 30 40" preserveAspectRatio="{align} {how}">'
        yield (
            f"inner-{align}-{how}",
            svg(f'{wide}{high}<line id="end" x2="30" y2="40"/></svg>'),
            "hop pea end",
        )
    box = 'x="20" y="10" width="150" height="60" viewBox="0 0 30 40"'
    variants = {
        "aspect-none": f'{box} preserveAspectRatio="none"',
        "aspect-default": box,
        "aspect-align-only": f'{box} preserveAspectRatio="xMaxYMin"',
        "no-view-box": 'x="20" y="10" width="150" height="60"',
        "no-size": 'x="20" y="10" viewBox="0 0 30 40"',
        "width-only": 'x="20" y="10" width="60" viewBox="0 0 30 40"',
        "auto-size": 'x="20" y="10" width="auto" height="auto" viewBox="0 0 30 40"',
        "bare": "",
        "units": 'x="5mm" y=".25in" width="4cm" height="1in" viewBox="0 0 30 40"',
        "per-cent": 'x="10%" y="5%" width="40%" height="30%" viewBox="0 0 30 40"',
        "transform": f'{box} transform="rotate(10)"',
        "css-transform": f'{box} style="transform: translate(1cm, 0) rotate(.05turn)"',
        "overflow-visible": f'{box} overflow="visible"',
    }
    for name, attributes in variants.items():
        yield f"inner-{name}", svg(f"<svg {attributes}>{hop}</svg>"), "hop pea"
    deep = f'<svg {box}><g transform="scale(.5) rotate(20)"><svg x="3" y="4" width="50%" height="50%" viewBox="0 0 60 40">{hop}</svg></g></svg>'
    yield "inner-twice", svg(deep), "hop pea"
    yield (
        "inner-without-width",
        svg(f'<svg width="0" height="50">{hop}</svg><line id="end" x2="30" y2="40"/>'),
        "end",
    )
    yield (
        "inner-without-height",
        svg(f'<svg height="0%" viewBox="0 0 9 9">{hop}</svg><line id="end" x2="30"/>'),
        "end",
    )
    yield "inner-inherits", svg(f'<svg {box} stroke-width="3" stroke="green">{hop}</svg>'), "hop pea"


# --- groups, links, choices -------------------------------------------------------------------------------------


def groups() -> Iterator[Made]:
    """Groups, links and switches."""
    one, two, three = lines("hop"), lines("pea"), lines("bean")
    yield "group-order", svg(f'<g>{one}<g transform="translate(9)">{two}</g></g>{three}'), "hop pea bean"
    yield (
        "group-link",
        svg(f'<a href="#bed" transform="translate(5 5)" stroke-width="2">{one}<g>{two}</g></a>'),
        "hop pea",
    )
    yield "group-link-xlink", svg(f'<a xlink:href="#bed">{one}</a>'), "hop"
    yield "group-empty", svg(f"<g/><g><g></g></g><a/>{one}"), "hop"
    deep = "<g transform='translate(1 0)'>" * 60 + one + "</g>" * 60
    yield "group-deep", svg(deep), "hop"
    switch = {
        "first": (f"{one}{two}", "hop"),
        "language": (
            f'<g systemLanguage="de">{one}</g><g systemLanguage="en">{two}</g><g>{three}</g>',
            "pea",
        ),
        "language-region": (f'<g systemLanguage="en-US">{one}</g><g>{three}</g>', "hop"),
        "language-list": (f'<g systemLanguage="de, fr ,en">{one}</g><g>{three}</g>', "hop"),
        "no-language": (f'<g systemLanguage="">{one}</g><g>{three}</g>', "bean"),
        "otherwise": (
            f'<g systemLanguage="xx">{one}</g><g systemLanguage="yy">{two}</g><g>{three}</g>',
            "bean",
        ),
        "none-fits": (f'<g systemLanguage="xx">{one}</g>', ""),
        "extensions": (f'<g requiredExtensions="urn:garden">{one}</g><g>{two}</g>', "pea"),
        "empty-extensions": (f'<g requiredExtensions="">{one}</g><g>{two}</g>', "pea"),
        "features": (f'<g requiredFeatures="urn:nothing">{one}</g><g>{two}</g>', "hop"),
        "foreign-object": (
            f'<foreignObject requiredExtensions="urn:garden" width="9" height="9"/><g>{two}</g>',
            "pea",
        ),
        "shapes": (one.replace("/>", ' systemLanguage="xx"/>') + two + three, "pea"),
        "not-displayed": (f'<g display="none">{one}</g><g>{two}</g>', ""),
    }
    for name, (body, drawn) in switch.items():
        yield (
            f"switch-{name}",
            svg(f'<switch transform="translate(3 4)" stroke-width="2">{body}</switch>'),
            drawn,
        )
    yield (
        "switch-inner-svg",
        svg(f'<switch><svg x="9" width="90" height="90">{one}</svg><g>{two}</g></switch>'),
        "hop",
    )
    outside = f'<g systemLanguage="xx">{one}</g><g systemLanguage="en">{two}</g><g requiredExtensions="urn:x">{three}</g>'
    yield "conditions-outside-switch", svg(outside), "pea"


# --- copies -----------------------------------------------------------------------------------------------------


def copies() -> Iterator[Made]:
    """What ``use`` draws."""
    hop = f'<path id="hop" d="{HOP}"/>'
    defs = f'<defs>{hop}<g id="spray" transform="rotate(10)">{lines("pea", "bean")}</g></defs>'
    yield "use-shape", svg(f'{hop}<use href="#hop" x="30" y="50"/>'), "hop hop"
    yield "use-xlink", svg(f'{defs}<use xlink:href="#hop" x="30" y="50"/>'), "hop"
    yield "use-href-over-xlink", svg(f'{defs}<use href="#hop" xlink:href="#spray"/>'), "hop"
    yield "use-before", svg(f'<use href="#hop" x="30" y="50"/>{hop}'), "hop hop"
    yield (
        "use-group",
        svg(f'{defs}<use href="#spray" x="40"/><use href="#spray" y="40"/>'),
        "pea bean pea bean",
    )
    yield (
        "use-transform",
        svg(f'{defs}<use href="#hop" x="30" y="50" transform="rotate(20) scale(1.5)"/>'),
        "hop",
    )
    yield (
        "use-css-transform",
        svg(f'{defs}<use href="#hop" x="30" y="50" style="transform:rotate(20deg)"/>'),
        "hop",
    )
    placed = (
        f'<g id="bed"><path id="hop" d="{HOP}" transform="skewX(20)"/></g><use href="#bed" x="10" y="70"/>'
    )
    yield "use-own-transform", svg(f'<g transform="translate(9 9) scale(2)">{placed}</g>'), "hop hop"
    yield (
        "use-per-cent",
        svg(f'{defs}<use href="#hop" x="10%" y="20%"/><use href="#hop" x="5mm" y="1cm"/>'),
        "hop hop",
    )
    yield "use-style-place", svg(f'{defs}<use href="#hop" style="x:30px;y:50px"/>'), "hop"
    chain = '<use id="one" href="#hop" x="20"/><use id="two" href="#one" y="30" transform="scale(1.2)"/>'
    yield "use-chain", svg(f'{defs}{chain}<use id="three" href="#two" x="15" y="5"/>'), "hop hop hop"
    inside = '<g id="row"><use href="#hop"/><use href="#hop" y="40"/></g>'
    yield (
        "use-inside-used",
        svg(f'<defs>{hop}{inside}</defs><use href="#row" x="20" y="20"/><use href="#row" x="150" y="20"/>'),
        "hop hop hop hop",
    )
    sizes = f'{defs}<use href="#hop" width="9" height="9"/><use href="#spray" width="50%" height="200"/>'
    yield "use-size-of-others", svg(sizes), "hop pea bean"
    yield "use-inherits", svg(f'<defs>{hop}</defs><use href="#hop" stroke-width="4" stroke="green"/>'), "hop"
    own = f'<defs><path id="hop" d="{HOP}" stroke-width="2"/></defs><g stroke-width="7"><use href="#hop" stroke-width="4"/></g>'
    yield "use-own-width", svg(own), "hop"
    grouped = f'<g stroke-width="9"><path id="hop" d="{HOP}"/></g><use href="#hop"/>'
    yield "use-leaves-the-original-group", svg(grouped), "hop hop"
    yield (
        "use-of-hidden",
        svg(f'<path id="hop" d="{HOP}" display="none"/><use href="#hop"/>{lines("pea")}'),
        "pea",
    )
    yield "use-in-hidden-group", svg(f'<g display="none">{hop}</g><use href="#hop"/>'), "hop"
    yield "use-invisible", svg(f'<g visibility="hidden">{hop}</g><use href="#hop"/>'), "hop"
    yield (
        "use-not-displayed",
        svg(f'{hop}<use href="#hop" display="none"/><use href="#hop" visibility="hidden"/>'),
        "hop",
    )
    yield "use-of-missing", svg(f'<use href="#nothing"/><use/><use href=""/>{hop}'), "hop"
    clip = f'<clipPath id="edge">{hop}</clipPath><use href="#hop" y="30"/>'
    yield "use-from-clip-path", svg(clip), "hop"
    sheet = "<style>#row .vine { stroke-width: 5 } .vine { stroke-width: 2 } use { stroke-width: 8 }</style>"
    styled = f'{sheet}<g id="row"><path id="hop" class="vine" d="{HOP}"/></g><use href="#hop" y="50"/>{lines("pea")}'
    yield "use-and-sheets", svg(styled), "hop hop pea"
    linked = f'<defs><a id="link" href="#x">{hop}</a><switch id="choice"><g systemLanguage="xx">{lines("no")}</g>{lines("pea")}</switch></defs>'
    yield (
        "use-link-and-switch",
        svg(f'{linked}<use href="#link" x="9"/><use href="#choice" y="9"/>'),
        "hop pea",
    )
    percent = '<defs><circle id="pea" cx="10%" cy="10%" r="5%"/></defs>'
    yield (
        "use-per-cent-inside",
        svg(f'{percent}<svg width="100" height="80"><use href="#pea"/></svg><use href="#pea"/>'),
        "pea pea",
    )
    variables = '<defs><line id="hop" x2="50" y2="9" style="stroke-width:var(--wide)"/></defs>'
    yield (
        "use-variables",
        svg(f'{variables}<use href="#hop" style="--wide:3"/><use href="#hop" style="--wide:6" y="9"/>'),
        "hop hop",
    )
    opacity = f'<defs><g id="bed" opacity="0">{hop}</g></defs><use href="#bed"/>{lines("pea")}'
    yield "use-clear", svg(opacity), "pea"


def symbols() -> Iterator[Made]:
    """Symbols and inner svg elements, by ``use``."""
    hop = '<path id="hop" d="M3 5C10 30 20 -5 27 33"/><circle id="pea" cx="50%" cy="20" r="8"/>'
    box = f'<symbol id="bed" viewBox="0 0 30 40">{hop}</symbol>'
    uses = {
        "size": (box, 'x="20" y="10" width="60" height="60"'),
        "one-size": (box, 'x="20" y="10" width="60"'),
        "no-size": (box, 'x="20" y="10"'),
        "per-cent": (box, 'x="10%" y="10%" width="30%" height="50%"'),
        "transform": (box, 'x="20" y="10" width="60" height="60" transform="rotate(15)"'),
        "no-view-box": (f'<symbol id="bed">{hop}</symbol>', 'x="20" y="10" width="60" height="90"'),
        "no-view-box-no-size": (f'<symbol id="bed">{hop}</symbol>', 'x="20" y="10"'),
        "own-size": (
            f'<symbol id="bed" viewBox="0 0 30 40" width="90" height="60">{hop}</symbol>',
            'x="20" y="10"',
        ),
        "own-size-replaced": (
            f'<symbol id="bed" viewBox="0 0 30 40" width="90" height="60">{hop}</symbol>',
            'x="20" y="10" width="45"',
        ),
        "own-place": (
            f'<symbol id="bed" x="11" y="7" viewBox="0 0 30 40" width="90" height="60">{hop}</symbol>',
            'x="20" y="10"',
        ),
        "own-transform": (
            f'<symbol id="bed" viewBox="0 0 30 40" transform="rotate(10)">{hop}</symbol>',
            'width="90" height="90"',
        ),
        "aspect-none": (
            f'<symbol id="bed" viewBox="0 0 30 40" preserveAspectRatio="none">{hop}</symbol>',
            'width="90" height="60"',
        ),
        "aspect-slice": (
            f'<symbol id="bed" viewBox="0 0 30 40" preserveAspectRatio="xMaxYMin slice">{hop}</symbol>',
            'y="9" width="90" height="60"',
        ),
        "reference-point": (
            f'<symbol id="bed" viewBox="0 0 30 40" refX="15" refY="20">{hop}</symbol>',
            'x="90" y="90" width="60" height="80"',
        ),
        "svg": (
            f'<svg id="bed" viewBox="0 0 30 40" display="inline">{hop}</svg>',
            'x="20" y="10" width="60" height="60"',
        ),
        "svg-own-size": (
            f'<svg id="bed" x="3" y="4" width="90" height="60" viewBox="0 0 30 40">{hop}</svg>',
            'x="20" y="10"',
        ),
        "svg-size-replaced": (
            f'<svg id="bed" x="3" y="4" width="90" height="60" viewBox="0 0 30 40">{hop}</svg>',
            'x="20" y="10" width="120" height="80"',
        ),
    }
    for name, (definition, attributes) in uses.items():
        yield f"symbol-{name}", svg(f'<defs>{definition}</defs><use href="#bed" {attributes}/>'), "hop pea"
    yield "symbol-not-used", svg(f"{box}{lines('bean')}"), "bean"
    yield "symbol-without-room", svg(f'{box}<use href="#bed" width="0" height="9"/>{lines("bean")}'), "bean"
    nested = f'{box}<symbol id="garden" viewBox="0 0 100 100"><use href="#bed" x="10" y="20" width="50" height="30"/><use href="#bed" width="20%" height="20%"/></symbol>'
    yield (
        "symbol-in-symbol",
        svg(f'<defs>{nested}</defs><use href="#garden" x="40" width="150" height="150"/>'),
        "hop pea hop pea",
    )
    chain = f'{box}<g id="row"><use href="#bed" width="30" height="40"/></g>'
    yield (
        "symbol-chain",
        svg(f'<defs>{chain}</defs><use href="#row" x="20"/><use href="#row" y="90" width="7"/>'),
        "hop pea hop pea",
    )
    styled = f'<defs>{box}</defs><style>#bed path {{ stroke-width: 3 }} symbol {{ stroke-width: 2 }}</style><use href="#bed" width="60" height="80"/>'
    yield "symbol-style", svg(styled), "hop pea"


# --- transforms -------------------------------------------------------------------------------------------------


def transforms() -> Iterator[Made]:
    """The transform attribute in all its forms."""
    forms = {
        "none": "none",
        "empty": "",
        "translate": "translate(30 40)",
        "translate-one": "translate(30)",
        "scale": "scale(1.5 .5)",
        "scale-one": "scale(2)",
        "mirror": "translate(200) scale(-1 1)",
        "mirror-both": "translate(200,100)scale(-1)",
        "rotate": "translate(80) rotate(30)",
        "rotate-about": "rotate(-75, 50 40)",
        "rotate-far": "rotate(750 50,40)",
        "skew-x": "skewX(30)",
        "skew-y": "skewY(-20)",
        "matrix": "matrix(.8 .3 -.4 1.2 40 10)",
        "matrix-commas": "matrix( .8,.3 , -.4,1.2,40 ,10 )",
        "packed": "translate(30-.5)scale(1.5.5)",
        "list": "translate(50,20) , rotate(20) skewX(10)\n\tscale(.7,-1.3) translate(-9 -40)",
        "exponents": "translate(3e1 4E+1) scale(15e-1)",
        "blanks-before-bracket": "translate (30 40) scale\t(2)",
    }
    body = f'<path id="hop" d="{HOP}"/><circle id="pea" cx="40" cy="50" r="20"/>'
    for name, form in forms.items():
        yield f"transform-{name}", svg(f'<g transform="{form}">{body}</g>'), "hop pea"
    nested = '<g transform="rotate(15)"><g transform="skewX(-20) scale(1.2 .8)"><g transform="translate(60 10) scale(-1 1)">'
    yield "transform-nested", svg(f"{nested}{body}</g></g></g>"), "hop pea"
    arc = '<path id="hop" d="M40 40a18 9 30 1 1 20 4" transform="rotate(40) scale(-1.2 .9) skewY(15)"/>'
    yield "transform-mirrored-arc", svg(f'<g transform="translate(150 60)">{arc}</g>'), "hop"
    flat = '<line id="no" x2="50" transform="scale(0)"/><line id="flat" x2="50" transform="scale(1 0)"/>'
    yield "transform-flat", svg(flat + lines("hop")), "hop"
    flat_group = (
        f'<g transform="scale(0 1)">{lines("no")}</g><g transform="matrix(1 1 1 1 0 0)">{lines("nor")}</g>'
    )
    yield "transform-flat-group", svg(flat_group + lines("hop")), "hop"
    for tag, shape in {
        "rect": '<rect id="bed" x="20" y="10" width="60" height="30" rx="8"',
        "ellipse": '<ellipse id="bed" cx="50" cy="30" rx="30" ry="12"',
        "polygon": '<polygon id="bed" points="10,10 80,20 40,60"',
        "line": '<line id="bed" x1="10" y1="10" x2="80" y2="60"',
    }.items():
        yield (
            f"transform-on-{tag}",
            svg(f'{shape} transform="translate(90) rotate(25) scale(1.2 -.7)"/>'),
            "bed",
        )


def css_transforms() -> Iterator[Made]:
    """The transform property, where it turns about, and its single properties."""
    styles = {
        "px": "transform: translate(30px, 40px)",
        "units": "transform: translate(10mm, .25in) rotate(30deg)",
        "one": "transform: translate(30px)",
        "angles": "transform: translate(90px, 20px) rotate(.1turn) skewX(.2rad) skewY(10grad)",
        "axes": "transform: translateX(30px) translateY(1cm) scaleX(1.5) scaleY(.5)",
        "scale": "transform: scale(2, .5)",
        "scale-per-cent": "transform: scale(150%, 50%)",
        "skew": "transform: skew(20deg, 10deg)",
        "skew-one": "transform: skew(20deg)",
        "matrix": "transform: matrix(.8, .3, -.4, 1.2, 40, 10)",
        "none": "transform: none",
        "per-cent": "transform: translate(10%, 20%)",
        "over-attribute": "transform: rotate(10deg)",
        "origin": "transform: rotate(30deg); transform-origin: 50px 40px",
        "origin-units": "transform: rotate(30deg); transform-origin: 10mm .5in",
        "origin-per-cent": "transform: rotate(30deg); transform-origin: 25% 10%",
        "origin-center": "transform: rotate(30deg); transform-origin: center",
        "origin-keywords": "transform: scale(.5); transform-origin: bottom right",
        "origin-one": "transform: scale(.5); transform-origin: 100px",
        "origin-top": "transform: scale(.5); transform-origin: top",
        "origin-keyword-and-length": "transform: rotate(20deg); transform-origin: left 30px",
        "view-box": "transform: rotate(30deg); transform-origin: 50% 50%; transform-box: view-box",
        "translate-property": "translate: 30px 40px",
        "translate-property-one": "translate: 10%",
        "rotate-property": "rotate: 20deg; transform-origin: 50px 50px",
        "scale-property": "scale: 1.5 .5",
        "scale-property-one": "scale: 150%",
        "all-properties": "translate: 60px 5px; rotate: 20deg; scale: 1.2 -1; transform: skewX(10deg); transform-origin: 40px 40px",
        "upper-case": "TRANSFORM: Translate(30PX, 5px) ROTATE(10DEG)",
        "important": "transform: translate(30px, 40px) !important; transform: none",
        "zero-without-unit": "transform: translate(0, 40px) rotate(0)",
        "calc": "transform: translate(calc(10px + 5%), calc(2 * 1mm))",
    }
    for name, style in styles.items():
        body = f'<path id="hop" d="{HOP}" transform="translate(9 7)" style="{style}"/><g style="{style}">{lines("pea")}</g>'
        drawn = "hop pea"
        yield f"css-{name}", svg(body), drawn
    sheet = "<style>* { transform-box: fill-box; transform-origin: center } .t * { transform: rotate(30deg) }</style>"
    yield "css-fill-box-shapes", svg(f'{sheet}<g class="t">{ROUND_THE_BED}</g>'), "bed pea bean leaf hop vine"
    inner = f'<svg x="20" y="20" width="200" height="200" viewBox="10 10 400 300"><g style="transform:scale(.5);transform-origin:50% 50%">{ROUND_THE_BED}</g></svg>'
    yield "css-origin-in-inner-svg", svg(inner), "bed pea bean leaf hop vine"
    shifted = f'<g style="transform:scale(.5);transform-origin:50% 100%">{lines("hop")}</g>'
    yield (
        "css-origin-shifted-view-box",
        svg(shifted, 'width="4in" height="3in" viewBox="-40 -30 400 300"'),
        "hop",
    )
    yield (
        "css-origin-attribute",
        svg(f'<g transform="rotate(30)" transform-origin="50 40">{lines("hop")}</g>'),
        "hop",
    )
    yield (
        "css-origin-attribute-units",
        svg(f'<g transform="scale(.5)" transform-origin="center 10mm">{lines("hop")}</g>'),
        "hop",
    )
    both = f'<g transform="rotate(30)" style="transform-origin: 50px 40px">{lines("hop")}</g>'
    yield "css-origin-with-attribute", svg(both), "hop"


def transform_boxes() -> Iterator[Made]:
    """What a transform turns about, by transform-box, on shapes."""
    styles = {
        "fill-box": "transform: rotate(30deg); transform-origin: center; transform-box: fill-box",
        "fill-box-length": "transform: rotate(30deg); transform-origin: 10px 5px; transform-box: fill-box",
        "fill-box-zero": "transform: scale(1.5); transform-box: fill-box; transform-origin: 0 0",
        "fill-box-per-cent": "transform: translate(50%, 10%) rotate(30deg); transform-origin: 100% 0; transform-box: fill-box",
        "properties-fill-box": "rotate: 20deg; scale: .5; transform-box: fill-box; transform-origin: right bottom",
    }
    for name, style in styles.items():
        bean = f'<ellipse id="bean" cx="90" cy="60" rx="40" ry="15" style="{style}"/>'
        yield (
            f"css-{name}",
            svg(f'<path id="hop" d="{HOP}" transform="translate(9 7)" style="{style}"/>{bean}'),
            "hop bean",
        )


def css_beyond() -> Iterator[Made]:
    """Transforms that drawings hardly ever have: of groups about their own box, about lines' edges, in space."""
    turned = "transform:rotate(20deg);transform-origin:center;transform-box:"
    copied = f'<defs>{lines("hop")}</defs><use href="#hop" x="50" y="40" style="{turned}fill-box"/>'
    bodies = {
        "fill-box-group": (f'<g style="{turned}fill-box">{ROUND_THE_BED}</g>', "bed pea bean leaf hop vine"),
        "fill-box-use": (copied, "hop"),
        "content-box": (lines("hop", more=f'style="{turned}content-box"'), "hop"),
        "stroke-box": (lines("hop", more=f'style="{turned}stroke-box"'), "hop"),
        "flat-3d": (lines("hop", more='style="transform: translate3d(30px, 40px, 0) rotateZ(10deg)"'), "hop"),
        "display-contents": (
            f'<g style="display:contents" transform="translate(30)">{lines("hop")}</g>',
            "hop",
        ),
    }
    for name, (body, drawn) in bodies.items():
        yield f"css-{name}", svg(body), drawn


# --- styles -----------------------------------------------------------------------------------------------------


def sheets() -> Iterator[Made]:
    """Style sheets: what applies to what, and which weighs more."""
    rules = {
        "type": "line { stroke-width: 3 }",
        "universal": "* { stroke-width: 3 }",
        "class": ".vine { stroke-width: 3 }",
        "two-classes": ".vine.thin { stroke-width: .5 } .vine { stroke-width: 3 }",
        "id": "#pea { stroke-width: 3 }",
        "type-and-class": "line.vine { stroke-width: 3 } path.vine { stroke-width: 9 }",
        "descendant": ".row line { stroke-width: 3 }",
        "child": ".row > line { stroke-width: 3 } #bed>path{stroke-width:4}",
        "long-chain": "svg > .row g > .vine { stroke-width: 3 }",
        "list": "#hop, path , .none { stroke-width: 3 }",
        "specificity": "#hop { stroke-width: 6 } .vine { stroke-width: 5 } line { stroke-width: 4 } g line.vine { stroke-width: 7 }",
        "order": ".vine { stroke-width: 6 } .thin { stroke-width: 2 } .vine { stroke-width: 4 }",
        "important": ".vine { stroke-width: 6 !important } #hop { stroke-width: 3 } #pea { stroke-width: 2 ! important }",
        "attribute": '[class] { stroke-width: 2 } [id="pea"] { stroke-width: 4 } [class~=long] > * { stroke-width: 5 }',
        "attribute-parts": "[id^=h] { stroke-width: 2 } [id$='n'] { stroke-width: 4 } [id*=ee] { stroke-width: 6 }",
        "root": ":root { stroke-width: 3 } :root > line { stroke-width: 5 }",
        "first-child": "line:first-child { stroke-width: 3 } path:last-child { stroke-width: 5 }",
        "case": ".thin { stroke-width: 3 } .VINE { stroke-width: 8 } LINE { stroke-width: 7 }",
        "comments": "/* all */ .vine /* thin */ { /* a */ stroke-width /* b */ : 3 /* c */ } /* end */",
        "cdata": "<![CDATA[ .row > line { stroke-width: 3 } ]]>",
        "old-comment": "<!-- --> .vine { stroke-width: 3 }",
        "media-screen": "@media screen { .vine { stroke-width: 3 } }",
        "media-print": "@media print { .vine { stroke-width: 3 } } line { stroke-width: 2 }",
        "media-all": "@media all, print { .vine { stroke-width: 3 } } @media not screen { line { stroke-width: 9 } }",
        "media-dark": "@media (prefers-color-scheme: dark) { .vine { stroke-width: 3 } } line { stroke-width: 2 }",
        "media-light": "@media (prefers-color-scheme:light) { .vine { stroke-width: 3 } } @media not print { .thin { stroke-width: 5 } }",
        "media-motion": "@media screen and (prefers-reduced-motion: reduce), print { .vine { stroke-width: 3 } }",
        "media-only": "@media only screen { .vine { stroke-width: 3 } } @media only print { .thin { stroke-width: 5 } }",
        "harmless-rules": "@charset 'utf-8'; @font-face { font-family: x } @page { margin: 0 } .vine { stroke-width: 3 }",
        "broken-rule": ".vine { stroke-width: 3; stroke-width: ; colour } } .thin { stroke-width: 2 } path { stroke-width: 4 }",
        "broken-selector": ".vine, !! { stroke-width: 3 } path { stroke-width: 4 }",
        "no-end": ".vine { stroke-width: 3",
        "hover": ".vine:hover { stroke-width: 8 } line { stroke-width: 3 }",
        "pseudo-element": "line::before { stroke-width: 8 } path { stroke-width: 3 }",
        "escapes": "#h\\6f p { stroke-width: 3 } .v\\69ne { stroke-dasharray: 1 }",
        "hide": ".thin { display: none } #hop { visibility: hidden } path { stroke: none }",
        "geometry": "line { x2: 9px } path { d: path('M1 2L30 40') } ",
    }
    drawn = {"hide": "leek"}
    for name, rule in rules.items():
        if name == "old-comment":
            rule = "<![CDATA[<!-- .thin { stroke-width: 3 } -->]]>"  # noqa: PLW2901
        elif "CDATA" not in rule:
            rule = rule.replace("&", "&amp;")  # noqa: PLW2901
        yield f"sheet-{name}", svg(f"<style>{rule}</style>{BED}"), drawn.get(name, "hop pea bean leek")
    yield "sheet-after", svg(BED + "<style>.vine { stroke-width: 3 }</style>"), "hop pea bean leek"
    before, after = "<style>.vine { stroke-width: 3 }</style>", "<style>.thin { stroke-width: 5 }</style>"
    yield "sheet-several", svg(f"{before}{BED}<defs>{after}</defs>"), "hop pea bean leek"
    yield (
        "sheet-type-attribute",
        svg(
            f'<style type="text/css">.vine {{stroke-width:3}}</style><style type="text/garden">line {{stroke-width:9}}</style>{BED}'
        ),
        "hop pea bean leek",
    )
    yield (
        "sheet-media-attribute",
        svg(
            f'<style media="print">.vine {{stroke-width:3}}</style><style media="screen">path {{stroke-width:4}}</style>{BED}'
        ),
        "hop pea bean leek",
    )
    attributes = '<style>line { stroke-width: 3 }</style><line id="hop" x2="50" y2="9" stroke-width="6"/>'
    attributes += '<line id="pea" x2="50" stroke-width="6" style="stroke-width:4"/><path id="bean" d="M0 9h9" stroke-width="6"/>'
    yield "sheet-and-attributes", svg(attributes), "hop pea bean"
    style = (
        '<style>line { stroke-width: 3 !important }</style><line id="hop" x2="50" style="stroke-width:6"/>'
    )
    style += '<line id="pea" x2="50" style="stroke-width:4 !important"/>'
    yield "sheet-important-and-style", svg(style), "hop pea"
    inner = f"<svg width='200' height='100'><style>.vine {{ stroke-width: 3 }}</style></svg>{BED}"
    yield "sheet-in-inner-svg", svg(inner), "hop pea bean leek"
    yield (
        "sheet-import",
        svg(f"<style>@import url(nothing.css); .vine {{ stroke-width: 3 }}</style>{BED}"),
        "hop pea bean leek",
    )
    yield (
        "sheet-transform",
        svg(f"<style>.vine {{ transform: translate(20px, 1mm) rotate(5deg) }}</style>{BED}"),
        "hop pea bean leek",
    )
    yield (
        "sheet-namespace",
        svg(
            f"<style>@namespace s url(http://www.w3.org/2000/svg); s|line {{ stroke-width: 3 }} *|path {{ stroke-width: 4 }}</style>{BED}"
        ),
        "hop pea bean leek",
    )


def sheets_beyond() -> Iterator[Made]:
    """Style sheets with what drawings hardly ever have: selectors of place, and rules that hold others."""
    rules = {
        "nth-child": "line:nth-child(2n+1) { stroke-width: 3 }",
        "not": "line:not(.vine) { stroke-width: 3 }",
        "is-and-where": ":is(#nothing, .thin) { stroke-width: 3 } :where(#hop) { stroke-width: 4 } line { stroke-width: 2 }",
        "siblings": "line + g { stroke-width: 3 } line ~ path { stroke-width: 5 }",
        "supports": "@supports (stroke-width: 1px) { .vine { stroke-width: 3 } }",
        "layers": "@layer low, high; @layer high { line { stroke-width: 3 } } @layer low { #hop { stroke-width: 5 } }",
        "nested-rules": ".row { stroke-width: 2; > line { stroke-width: 3 } & path { stroke-width: 4 } }",
    }
    for name, rule in rules.items():
        shown = rule.replace("&", "&amp;")
        yield f"sheet-{name}", svg(f"<style>{shown}</style>{BED}"), "hop pea bean leek"


def invalid_values() -> Iterator[Made]:
    """Values that are none: a browser passes over them, and what stood there before holds."""
    sheet = "line { stroke-width: 3 } .vine { stroke-width: wide } .thin { stroke-width: -2 }"
    words = '<line id="hop" x2="50" stroke="greenish"/><g stroke="none"><line id="no" x2="9" stroke="x"/></g>'
    bodies = {
        "style": (
            '<line id="hop" x2="50" stroke-width="4" style="stroke-width:wide;stroke:!;opacity:x"/>',
            "hop",
        ),
        "attribute": (
            '<g stroke-width="4"><line id="hop" x2="50" stroke-width="wide" stroke="12"/></g>',
            "hop",
        ),
        "later": (
            (
                '<line id="hop" x2="50" style="stroke: green; stroke: greenish; stroke-width: 4; stroke-width: wide"/>'
                '<line id="no" x2="9" stroke="red" style="display: none; display: seen"/>'
                '<line id="pea" x2="9" y2="9" stroke="red" style="visibility: visible; visibility: no"/>'
            ),
            "hop pea",
        ),
        "upper-case": (
            (
                '<line id="no" x2="9" stroke="red" display="NONE"/><line id="nor" x2="9" stroke="NONE"/>'
                '<line id="neither" x2="9" stroke="red" style="VISIBILITY: Hidden"/>'
                '<g stroke="BLUE"><line id="hop" x2="50" stroke="Inherit" style="Display: INLINE"/></g>'
            ),
            "hop",
        ),
        "negative-width": ('<g stroke-width="4"><line id="hop" x2="50" stroke-width="-2"/></g>', "hop"),
        "revert": (
            '<g stroke-width="3"><line id="hop" x2="50" y2="9" style="stroke-width:revert"/></g>',
            "hop",
        ),
        "colour": (words, "hop"),
        "sheet": (f"<style>{sheet}</style>{BED}", "hop pea bean leek"),
        "css-transform": (
            f'<g transform="scale(2)" style="transform: translate(30 40)">{lines("hop")}</g>',
            "hop",
        ),
        "transform": (f'<g transform="turn(30)">{lines("hop")}</g>', "hop"),
        "transform-without-end": (f'<g transform="translate(30 40">{lines("hop")}</g>', "hop"),
        "transform-commas": (f'<g transform="translate(5),,translate(5)">{lines("hop")}</g>', "hop"),
        "rect-rx": ('<rect id="bed" width="80" height="50" rx="-5" ry="9"/>', "bed"),
        "rect-size": (f'<rect id="no" width="-80" height="50"/>{lines("hop")}', "hop"),
        "rect-word": (f'<rect id="no" width="wide" height="50"/>{lines("hop")}', "hop"),
        "circle": (f'<circle id="no" r="-4"/>{lines("hop")}', "hop"),
        "ellipse": (f'<ellipse id="no" rx="-4" ry="0"/>{lines("hop")}', "hop"),
    }
    for name, (body, drawn) in bodies.items():
        yield f"invalid-{name}", svg(body), drawn


def styles() -> Iterator[Made]:
    """Style attributes, what is inherited, colours of nothing, variables."""
    bodies: dict[str, tuple[str, str]] = {
        "attribute": ('<line id="hop" x2="50" style="stroke-width:3;stroke:green"/>', "hop"),
        "over-attribute": ('<line id="hop" x2="50" stroke-width="7" style="stroke-width:3"/>', "hop"),
        "blanks": ('<line id="hop" x2="50" style=" ; STROKE-WIDTH : 3 ;; "/>', "hop"),
        "comments": ('<line id="hop" x2="50" style="/* wide */stroke-width/**/:3/**/"/>', "hop"),
        "important": ('<line id="hop" x2="50" style="stroke-width:3 !important;stroke-width:5"/>', "hop"),
        "twice": ('<line id="hop" x2="50" style="stroke-width:3;stroke-width:5"/>', "hop"),
        "inherited": (
            f'<g stroke-width="3" style="fill:none"><g stroke-width="inherit">{lines("hop")}</g></g>',
            "hop",
        ),
        "initial": ('<g stroke-width="3"><line id="hop" x2="50" style="stroke-width:initial"/></g>', "hop"),
        "unset": ('<g stroke-width="3"><line id="hop" x2="50" style="stroke-width:unset"/></g>', "hop"),
        "width-of-nothing": (
            '<line id="no" x2="50" stroke-width="0"/><line id="hop" x2="50" y2="9"/>',
            "hop",
        ),
        "fill-only": (
            '<path id="hop" d="M0 0H50V40Z" fill="green" stroke="none"/><path id="no" d="M0 0H9V9" stroke="none"/>',
            "hop",
        ),
        "line-is-not-filled": (
            '<line id="no" x2="50" y2="9" fill="green" stroke="none"/><line id="hop" x2="50"/>',
            "hop",
        ),
        "current-color": ('<g color="green"><line id="hop" x2="50" stroke="currentColor"/></g>', "hop"),
        "current-color-clear": (
            '<g color="transparent"><line id="no" x2="50" stroke="currentColor"/><line id="hop" x2="50" color="red" stroke="currentcolor"/></g>',
            "hop",
        ),
        "clear-colours": (
            (
                '<line id="no" x2="50" stroke="transparent"/><line id="nor" x2="50" stroke="rgba(0,0,0,0)"/>'
                '<line id="neither" x2="50" stroke="#abc0"/><line id="hop" x2="50" stroke="hsla(90,50%,50%,.5)"/>'
            ),
            "hop",
        ),
        "clear-modern": (
            '<line id="no" x2="50" stroke="rgb(9 9 9 / 0%)"/><line id="hop" x2="50" stroke="rgb(9 9 9 / 5%)"/>',
            "hop",
        ),
        "stroke-opacity": (
            (
                '<line id="no" x2="50" stroke-opacity="0"/><line id="hop" x2="50" stroke-opacity=".1"/>'
                '<line id="nor" x2="50" stroke-opacity="0%"/><path id="bean" d="M0 0H9V9" fill="red" fill-opacity="0"/>'
            ),
            "hop bean",
        ),
        "opacity": (
            f'<line id="no" x2="50" opacity="0"/><g opacity="0">{lines("nor")}</g><line id="hop" x2="9" style="opacity:.01"/>',
            "hop",
        ),
        "opacity-negative": (
            '<line id="no" x2="50" opacity="-1"/><line id="hop" x2="50" opacity="7"/>',
            "hop",
        ),
        "gradient": (
            (
                '<linearGradient id="sky"><stop/></linearGradient><path id="hop" d="M0 0L50 40" stroke="url(#sky)"/>'
                '<line id="pea" x2="50" y2="9" stroke="url(#nothing) red"/><line id="no" x2="50" stroke="url(#nothing)"/>'
                '<line id="nor" x2="50" stroke="url(#nothing) none"/>'
            ),
            "hop pea",
        ),
        "variables": (
            '<g style="--wide:3;--ink:green"><line id="hop" x2="50" style="stroke-width:var(--wide);stroke:var(--ink)"/></g>',
            "hop",
        ),
        "variables-otherwise": (
            '<line id="hop" x2="50" style="stroke-width:var(--none, 4)"/><g style="--a:var(--b);--b:2"><line id="pea" x2="9" style="stroke-width:calc(var(--a) * 2px)"/></g>',
            "hop pea",
        ),
        "variables-missing": (
            '<g stroke-width="6"><line id="hop" x2="50" stroke-width="4" style="stroke-width:var(--none)"/></g>',
            "hop",
        ),
        "display": (
            f'<g display="none">{lines("no")}<line id="nor" x2="9" display="inline"/></g><line id="hop" x2="50" display="block"/>',
            "hop",
        ),
        "display-style": (
            '<line id="hop" x2="50" display="none" style="display:inline"/><line id="no" x2="9" style="display:none"/>',
            "hop",
        ),
        "visibility": (
            (
                '<g visibility="hidden"><line id="no" x2="50"/><line id="hop" x2="50" visibility="visible"/>'
                '<g visibility="collapse"><line id="nor" x2="9"/></g></g>'
            ),
            "hop",
        ),
        "paint-order": (
            '<path id="hop" d="M0 0L50 40" style="paint-order:stroke;mix-blend-mode:multiply"/>',
            "hop",
        ),
        "dashes": ('<line id="hop" x2="50" y2="20" stroke-dasharray="5 3" stroke-linecap="round"/>', "hop"),
        "content-visibility": ('<g style="content-visibility:visible"><line id="hop" x2="50"/></g>', "hop"),
        "first-class": (
            '<line id="hop" x2="50" class=" a  b "/><style>.b { stroke-width: 3 }</style>',
            "hop",
        ),
    }
    for name, (body, drawn) in bodies.items():
        yield f"style-{name}", svg(body), drawn
    yield "style-no-paint", svg('<line id="no" x2="50"/><path id="hop" d="M0 0H50V40"/>', PAGE, ""), "hop"


def stroke_widths() -> Iterator[Made]:
    """How wide lines are at true size."""
    bodies = {
        "scale": f'<g transform="scale(2.5)">{wide("3")}</g>',
        "turned": f'<g transform="rotate(30) translate(20 10)">{wide("3")}</g>',
        "stretched": f'<g transform="scale(3 .5)">{wide("3")}</g>',
        "skewed": f'<g transform="skewX(40) scale(-2 1)">{wide("3")}</g>',
        "non-scaling": f'<g transform="scale(2.5)">{wide("3", "non-scaling-stroke")}</g>',
        "non-scaling-style": lines("hop", more='style="vector-effect:non-scaling-stroke;stroke-width:2mm"'),
        "non-scaling-not-inherited": f'<g vector-effect="non-scaling-stroke" stroke-width="3">{lines("hop")}</g>',
        "non-scaling-rotation": lines("hop", more='vector-effect="non-rotation" stroke-width="3"'),
        "per-cent": lines("hop", more='stroke-width="2%"'),
        "per-cent-inner": f'<svg width="200" height="50" viewBox="0 0 30 40">{wide("2%")}</svg>',
        "per-cent-inherited": f'<g stroke-width="2%"><svg width="80" height="60">{lines("hop")}</svg></g>',
        "mm": lines("hop", more='stroke-width="2mm"'),
        "inner-aspect-none": f'<svg width="300" height="50" viewBox="0 0 30 40" preserveAspectRatio="none">{lines("hop")}</svg>',
        "exponent": lines("hop", more='stroke-width="25e-1"'),
        "large": lines("hop", more='stroke-width="60"'),
    }
    for name, body in bodies.items():
        yield f"stroke-{name}", svg(body), "hop"


# --- what is not drawn ------------------------------------------------------------------------------------------


def not_drawn() -> Iterator[Made]:
    """Templates, clips, masks, markers, patterns and everything that is no line."""
    no, hop = lines("no", "nor"), f'<path id="hop" d="{HOP}"/>'
    for tag in (
        "defs",
        "clipPath",
        "mask",
        "marker",
        "pattern",
        "symbol",
        "linearGradient",
        "filter",
        "metadata",
        "desc",
        "title",
    ):
        yield (
            f"not-drawn-{tag}",
            svg(f'<{tag} id="x">{no}<g display="inline">{no.replace("id=", "class=")}</g></{tag}>{hop}'),
            "hop",
        )
    effects = (
        '<clipPath id="c"><rect width="50" height="90"/></clipPath><mask id="m"><rect width="300" height="300" fill="white"/></mask>'
        '<marker id="k" markerWidth="9" markerHeight="9"><path d="M0 0L9 9"/></marker>'
        '<pattern id="p" width="9" height="9" patternUnits="userSpaceOnUse"><path d="M0 0L9 9"/></pattern>'
    )
    shapes = (
        f'<path id="hop" d="{HOP}" clip-path="url(#c)"/><path id="pea" d="{SCROLL}" mask="url(#m)"/>'
        '<path id="bean" d="M9 90H60L80 120" marker-start="url(#k)" marker-mid="url(#k)" marker-end="url(#k)"/>'
        '<rect id="bed" x="9" y="130" width="60" height="40" fill="url(#p)"/>'
    )
    yield "not-drawn-effects", svg(effects + shapes), "hop pea bean bed"
    other = (
        '<text x="9" y="20">beans</text><image width="9" height="9" href="data:,"/><foreignObject width="9" height="9">'
        f'<p xmlns="http://www.w3.org/1999/xhtml">peas</p></foreignObject><view id="v"/><script>0</script>{hop}'
    )
    yield "not-drawn-text-and-pictures", svg(other), "hop"
    inside = f'<path id="hop" d="{HOP}"><title>a hop</title><animate attributeName="x"/><line id="no" x2="9"/></path>'
    yield "not-drawn-inside-a-shape", svg(inside), "hop"
    defs = f'<defs><g><svg width="90" height="90">{no}</svg></g></defs><g><defs display="block">{no.replace("id=", "class=")}</defs>{hop}</g>'
    yield "not-drawn-deep-in-defs", svg(defs), "hop"
    lost = '<path id="a"/><path id="b" d=""/><path id="c" d="M9 9"/><path id="e" d="M9 9Z"/><line id="f" x1="9" x2="9"/>'
    lost += '<polyline id="g" points=""/><polygon id="h" points="9,9"/><rect id="i"/><rect id="j" width="9"/><rect id="k" width="9" height="0"/>'
    lost += '<circle id="l"/><circle id="m" r="0"/><ellipse id="n" rx="5" ry="0"/><path id="o" d="none"/>'
    yield "not-drawn-no-length", svg(lost + hop), "hop"


# --- basic shapes -----------------------------------------------------------------------------------------------


def rectangles() -> Iterator[Made]:
    """Rectangles, and the rules of their corners."""
    corners = {
        "sharp": "",
        "both": 'rx="12" ry="7"',
        "rx-only": 'rx="12"',
        "ry-only": 'ry="12"',
        "rx-auto": 'rx="3" style="rx:auto;ry:9px"',
        "ry-auto": 'rx="9" style="ry:auto"',
        "both-auto": 'rx="4" ry="3" style="rx:auto;ry:auto"',
        "rx-zero": 'rx="0" ry="9"',
        "ry-zero": 'rx="9" ry="0"',
        "clamped-rx": 'rx="90" ry="7"',
        "clamped-ry": 'rx="7" ry="90"',
        "clamped-both": 'rx="900" ry="900"',
        "rx-only-clamps-ry": 'rx="30"',
        "per-cent": 'rx="5%" ry="5%"',
        "rx-per-cent-only": 'rx="5%"',
        "units": 'rx="3mm" ry=".1in"',
        "style": 'rx="3" style="rx:12px;ry:6px"',
        "half": 'rx="40" ry="25"',
    }
    for name, attributes in corners.items():
        yield (
            f"rect-{name}",
            svg(f'<rect id="bed" x="20" y="15" width="80" height="50" {attributes}/>'),
            "bed",
        )
    yield "rect-no-place", svg('<rect id="bed" width="80" height="50"/>'), "bed"
    yield "rect-negative-place", svg('<rect id="bed" x="-20" y="-10" width="80" height="50"/>'), "bed"
    yield "rect-size-in-style", svg('<rect id="bed" style="x:9px;y:8px;width:20%;height:50px"/>'), "bed"


def round_shapes() -> Iterator[Made]:
    """Circles and ellipses."""
    bodies = {
        "circle": ('<circle id="pea" cx="60" cy="50" r="40"/>', "pea"),
        "circle-no-place": ('<circle id="pea" r="40"/>', "pea"),
        "circle-large": ('<circle id="pea" cx="200" cy="150" r="190"/>', "pea"),
        "circle-tiny": ('<circle id="pea" cx="60" cy="50" r=".5" stroke-width=".1"/>', "pea"),
        "circle-per-cent": ('<circle id="pea" cx="50%" cy="50%" r="25%"/>', "pea"),
        "circle-style": ('<circle id="pea" cx="60" cy="50" r="4" style="r:20px;cx:80px"/>', "pea"),
        "ellipse": ('<ellipse id="bean" cx="60" cy="50" rx="40" ry="20"/>', "bean"),
        "ellipse-rx-only": ('<ellipse id="bean" cx="60" cy="50" rx="40"/>', "bean"),
        "ellipse-ry-only": ('<ellipse id="bean" cx="60" cy="50" ry="40"/>', "bean"),
        "ellipse-rx-auto": ('<ellipse id="bean" cx="60" cy="50" rx="7" style="rx:auto;ry:20px"/>', "bean"),
        "ellipse-both-auto": (
            '<ellipse id="no" cx="60" style="rx:auto;ry:auto"/><ellipse id="bean" rx="9" ry="5"/>',
            "bean",
        ),
        "ellipse-per-cent-auto": ('<ellipse id="bean" cx="50%" cy="50%" rx="10%" style="ry:auto"/>', "bean"),
        "ellipse-thin": ('<ellipse id="bean" cx="160" cy="50" rx="120" ry=".5"/>', "bean"),
    }
    for name, (body, drawn) in bodies.items():
        yield f"round-{name}", svg(body), drawn


def straight_shapes() -> Iterator[Made]:
    """Lines, polylines and polygons."""
    bodies = {
        "line": '<line id="hop" x1="10" y1="20" x2="90" y2="70"/>',
        "line-partial": '<line id="hop" x2="90"/>',
        "line-style-does-not-place": '<line id="hop" x2="90" y2="20" style="x2:9px;y1:50px"/>',
        "polyline": '<polyline id="hop" points="10,10 50,20 60,70 20,40"/>',
        "polyline-written-tight": '<polyline id="hop" points="10-10.5.5,50 -20+30\n40\t5e1,"/>',
        "polyline-odd": '<polyline id="hop" points="10,10 50,20 60"/>',
        "polyline-closed-by-hand": '<polyline id="hop" points="10,10 50,20 60,70 10,10"/>',
        "polyline-repeated-point": '<polyline id="hop" points="10,10 50,20 50,20 60,70"/>',
        "polyline-back-and-forth": '<polyline id="hop" points="10,10 50,20 10,10 50,20"/>',
        "polygon": '<polygon id="hop" points="10,10 50,20 60,70 20,40"/>',
        "polygon-closed-by-hand": '<polygon id="hop" points="10,10 50,20 60,70 10,10"/>',
        "polygon-two-points": '<polygon id="hop" points="10,10 50,20"/>',
        "polygon-crossing": '<polygon id="hop" points="10,10 90,80 90,10 10,80"/>',
    }
    for name, body in bodies.items():
        yield f"straight-{name}", svg(body), "hop"


def paths() -> Iterator[Made]:
    """Path data: every command, every way to write it, and broken."""
    data = {
        "lines": "M10 10L50 20l10 50",
        "across-and-down": "M10 10H50V40h-20v10H5",
        "close": "M10 10L50 20L60 70Z",
        "close-lower-case": "m10 10l40 10l10 50z",
        "cubic": "M10 20C30 60 70 -20 90 40",
        "cubic-relative": "m10 20c20 40 60-40 80 20",
        "cubic-repeated": "M10 20C30 60 70 -20 90 40 100 60 120 90 140 20",
        "smooth-cubic": "M10 20C30 60 50 60 70 20S110 -20 130 20s40 20 50-10",
        "smooth-cubic-first": "M10 20S50 60 70 20",
        "smooth-cubic-after-line": "M10 20L30 30S50 60 70 20S90 0 120 50",
        "smooth-cubic-after-quadratic": "M10 20Q30 60 50 20S70 60 90 20",
        "quadratic": "M10 20Q50 90 90 20q10 -40 60 0",
        "smooth-quadratic": "M10 20Q30 60 50 20T90 20t40 10T150 90",
        "smooth-quadratic-first": "M10 20T50 60T90 20",
        "smooth-quadratic-after-cubic": "M10 20C20 60 30 60 50 20T90 40",
        "arc": "M10 40A25 15 0 0 1 50 40",
        "arc-large": "M30 40A20 12 0 1 0 50 40",
        "arc-four": "M60 40a20 10 0 0 0 20 10M60 90a20 10 0 0 1 20 10M120 40a20 10 0 1 0 20 10M120 90a20 10 0 1 1 20 10",
        "arc-turned": "M30 40a25 10 -30 0 1 20 -20",
        "arc-turned-far": "M30 40a25 10 400 0 1 20 -20",
        "arc-too-small": "M10 40A1 1 0 0 1 40 40l10 0a5 10 30 0 0 20 20",
        "arc-radius-zero": "M10 40A0 9 0 0 1 50 60A9 0 0 0 1 90 20",
        "arc-negative-radii": "M10 40A-20 -12 0 0 1 40 40",
        "arc-ends-meet": "M10 40A20 12 0 1 1 10 40L50 60",
        "arc-packed-flags": "M10 40a20 12 0 0140 0a9 9 0 1120 0a9,9,0,01.5.5 9 9 0 00-5 5",
        "arc-repeated": "M10 40a10 10 0 0 1 20 0 10 10 0 0 0 20 0",
        "arc-half-turns": "M20 40a15 15 0 1 0 30 0a15 15 0 1 0 -30 0z",
        "arc-nearly-whole": "M40 40a15 15 0 1 1 -.01 0",
        "implicit-lines": "M10 10 50 20 60 70m10 10 20 0 0 20",
        "implicit-everything": "m10 10h10 10v10 10l5 5 5-5t10 10 10 0q5 5 10 0 5-5 10 0",
        "packed": "M10-5.5.5.5L20.25.75-3e1-2E1+.5+1.5",
        "commas": "M 10 , 10 L 50,20 , 60 , 70",
        "newlines": "\n\tM 10\n10\r\nL50\t20\f60 70\n",
        "exponents": "M1e1 1E+1L5.0e1 200e-1",
        "several": "M10 10L50 20M60 10L90 20M10 40H90",
        "several-closed": "M10 10H50V40ZM60 10H90V40ZM100 10q20 5 0 30z",
        "closed-and-open": "M10 10H50V40ZM60 10H90V40",
        "after-close": "M10 10H50V40ZL20 60H70",
        "after-close-relative": "m10 10h40v30zm60 0h30v30zl5 50",
        "close-twice": "M10 10H50V40ZZL30 60",
        "moves-only-between": "M10 10M20 20L60 30M90 90",
        "moves-then-closed": "M10 10ZM20 20L60 30",
        "empty-pieces": "M10 10L10 10L60 30L60 30C60 30 60 30 60 30H90",
        "doubled-back": "M10 10H60H30",
        "cusp": "M10 10C90 80 10 80 90 10",
        "loop": "M10 10C150 80 -50 80 90 10",
        "straight-cubic": "M10 10C30 10 50 10 90 10",
        "closed-by-hand": "M10 10L50 20L60 70L10 10",
        "same-end-twice": "M10 10L50 20L60 70L10 10Z",
        "broken-number": "M10 10L50 20L60,x70L90 90",
        "broken-command": "M10 10L50 20X60 70",
        "broken-pair": "M 10,10 L 20,20,30",
        "broken-curve": "M10 10C30 60 70 -20 90 40 100 60 120",
        "broken-flag": "M10 40a20 12 0 0 1 30 0a20 12 0 2 1 30 0",
        "broken-start": "M10 10L50 20 M",
        "broken-comma-first": "M10 10L50 20L,60 70",
        "broken-comma-last": "M10 10L50 20,",
        "broken-two-commas": "M10 10L50 20L60,,70",
        "broken-close-number": "M10 10H50V40Z9",
        "broken-trailing-dot": "M10 10L50 20L60. 70",
        "broken-unit": "M10 10L50 20L60px 70",
        "broken-exponent": "M10 10L50 20L60e 70",
    }
    for name, text in data.items():
        shown = text.replace("\r", "&#13;").replace("\t", "&#9;").replace("\f", " ").replace("\n", "&#10;")
        yield f"path-{name}", svg(f'<path id="hop" d="{shown}"/>'), "hop"
    for name, text in {
        "no-move": "L50 20L60 70",
        "comma-after-command": "M,10 10L50 20",
        "number-first": "10 10L50 20",
    }.items():
        yield f"path-nothing-{name}", svg(f'<path id="no" d="{text}"/>{lines("hop")}'), "hop"
    yield (
        "path-in-style",
        svg("<path id='hop' d='M0 0H9' style=\"d: path('M10 10C30 60 70 -20 90 40')\"/>"),
        "hop",
    )
    yield (
        "path-none-in-style",
        svg('<path id="no" d="M0 0H9" style="d: none"/><path id="hop" d="M0 0H90"/>'),
        "hop",
    )
    long = "M10 150" + "".join(f"t{5 if k % 3 else 4} {'-' if k % 2 else ''}{k % 7}" for k in range(60))
    yield "path-long", svg(f'<path id="hop" d="{long}"/>'), "hop"
    yield "path-length-attribute", svg(f'<path id="hop" d="{HOP}" pathLength="7"/>'), "hop"


GROUPS: tuple[Callable[[], Iterator[Made]], ...] = (
    *(page_sizes, page_aspects, files, percentages, units, inner_svgs, groups, copies, symbols),
    *(
        transforms,
        css_transforms,
        transform_boxes,
        css_beyond,
        sheets,
        sheets_beyond,
        invalid_values,
        styles,
        stroke_widths,
        not_drawn,
    ),
    *(rectangles, round_shapes, straight_shapes, paths),
)


def _cases() -> dict[str, Case]:
    found: dict[str, Case] = {}
    for group in GROUPS:
        for made in group():
            name, text, drawn = made[:3]
            data = text.encode() if isinstance(text, str) else text
            window = made[3] if len(made) == 4 else None
            if name in found:
                msg = f"two cases are called {name}"
                raise ValueError(msg)
            found[name] = Case(group.__name__, name, data, tuple(drawn.split()), window)
    return found


CASES = _cases()

# What is not read as a browser draws it, but told: an error, or a note on what was left out. A value that cannot be is
# an error here, where a browser goes on with another: who drew it should know.
TOLD = frozenset(
    {
        *("units-calc", "css-calc", "style-variables-otherwise"),
        *("css-fill-box-group", "css-fill-box-use", "css-stroke-box", "css-flat-3d"),
        *(name for name, case in CASES.items() if case.group == "sheets_beyond"),
        *(
            name
            for name, case in CASES.items()
            if case.group == "invalid_values"
            and name not in {f"invalid-{k}" for k in ("colour", "later", "sheet", "style", "upper-case")}
        ),
    }
)
