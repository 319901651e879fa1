"""How a browser draws an SVG file: its shapes with their lengths, points along them and widths of lines, in mm.

Chromium is driven over its debugging pipe, with the standard library alone. Each file is opened as a document of its
own, never inside a page. Copies that ``use`` makes live in trees no script of a page can reach; the debugging
protocol hands them out, so they are measured on the browser's own elements too, not on clones of ours.

What is asked of the browser, and how it becomes figures:

- *Which shapes are drawn.* What has a box, is visible, is painted, has not an opacity of 0 on it or above it, is not
  flattened by its transforms, is not in an inner ``svg`` or ``symbol`` without a size, and has a length. Markers,
  patterns, masks and clipping paths have boxes inside of them that are no shapes of the drawing.
- *Outlines.* ``getPathData`` for paths, ``points`` for polygons, the box (``getBBox``) for circles, ellipses and
  rectangles, whose corners are then found with ``isPointInFill``. That an outline is the browser's is checked with 31
  points of its ``getPointAtLength``. Lengths are integrated here: ``getTotalLength`` adds up chords that stray up to
  half a user unit from the curve (it gives 5.66 for a circle of radius 1).
- *Place.* ``getScreenCTM``. For copies it leaves out ``x`` and ``y`` of the ``use`` and the ``viewBox`` of a
  ``symbol``, so there the way to the screen is that of three points put beside the copy and measured where they lie.
- *Widths.* The computed ``stroke-width`` times the root of what the transform makes of an area; one in per cent is
  measured with ``isPointInStroke``. Lines that do not scale keep their px.

Known of the browser: it draws the arcs of paths as cubics, each a quarter turn at most and up to 0.027 % of the
radius outside; the page is laid out in steps of 1/64 px, 0.0041 mm. Drawings to be compared keep their arcs small.

Run as a command, it records the figures of all cases anew.
"""

from __future__ import annotations

import json
import os
import re
import select
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import numpy as np
from svg_cases import CASES, Case
from svg_figures import RECORDED, STEPS, Seen, Sight, digest, to_json

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from types import TracebackType

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["Browser", "BrowserError", "find_browser", "look_at"]

MM_PER_PX = 25.4 / 96
_PATIENCE = 60.0  # seconds for any one answer
_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--lang=en-US",
    "--enable-blink-features=SVGPathDataAPI",
    "--remote-debugging-pipe",
)
_WINDOW = (1600, 1200)
_SHAPES = frozenset({"path", "line", "polyline", "polygon", "rect", "circle", "ellipse"})
_TEMPLATES = frozenset(
    {"defs", "clipPath", "mask", "marker", "pattern", "linearGradient", "radialGradient", "filter"}
)

# Runs in the page, with the shapes of a document as its arguments; ``this`` is the document.
_MEASURE = r"""
function (...shapes) {
  const numbers = m => [m.a, m.b, m.c, m.d, m.e, m.f];
  const above = e => e.parentNode instanceof ShadowRoot ? e.parentNode.host : e.parentNode;
  const isElement = e => e instanceof Element;

  // Where a point of the user space inside a container of a copy lies on the screen.
  function place(container, x, y) {
    const dot = document.createElementNS('http://www.w3.org/2000/svg', 'path');
    dot.setAttribute('style', `all:initial!important;d:path("M${x} ${y}h0")!important;fill:none!important`);
    container.appendChild(dot);
    const box = dot.getBoundingClientRect();
    dot.remove();
    return new DOMPoint(box.x, box.y);
  }

  function userSpace(container) {
    const far = 1024, o = place(container, 0, 0), x = place(container, far, 0), y = place(container, 0, far);
    return new DOMMatrix([(x.x - o.x) / far, (x.y - o.y) / far, (y.x - o.x) / far, (y.y - o.y) / far, o.x, o.y]);
  }

  function matrixOf(shape) {
    const own = DOMMatrix.fromMatrix(shape.getScreenCTM());
    if (!(shape.getRootNode() instanceof ShadowRoot)) return own;
    let container = shape.parentNode;
    while (container instanceof Element && container.localName === 'switch') container = container.parentNode;
    const outer = container instanceof ShadowRoot ? container.host : container;
    const within = DOMMatrix.fromMatrix(outer.getScreenCTM()).inverse().multiply(own);
    return userSpace(container).multiply(within);
  }

  // The last number for which a test holds that holds below it and not above.
  function border(test, high) {
    let low = 0;
    for (let k = 0; k < 60; k++) {
      const middle = (low + high) / 2;
      if (test(middle)) low = middle; else high = middle;
    }
    return low;
  }

  function measuredWidth(shape) {
    const s = shape.getTotalLength() / 2, p = shape.getPointAtLength(s), q = shape.getPointAtLength(s * 1.1);
    const length = Math.hypot(q.x - p.x, q.y - p.y), nx = -(q.y - p.y) / length, ny = (q.x - p.x) / length;
    return 2 * border(d => shape.isPointInStroke(new DOMPoint(p.x + d * nx, p.y + d * ny)), 1e4);
  }

  function corner(shape, box) {
    const rx = shape.getPointAtLength(0).x - box.x;
    if (!(rx > 0)) return [0, 0];
    // Half way round the turn the outline is this share of the radius inside either edge.
    const share = 1 - Math.SQRT1_2;
    const outside = d => !shape.isPointInFill(new DOMPoint(box.x + share * rx, box.y + d));
    return [rx, border(outside, box.height / 2) / share];
  }

  // What a style says a path is, getPathData does not know.
  function pathData(shape) {
    const other = document.createElementNS('http://www.w3.org/2000/svg', 'path');
    other.setAttribute('d', shape.getAttribute('d') || '');
    const styled = /^path\("(.*)"\)$/.exec(getComputedStyle(shape).d);
    if (styled && other.getTotalLength() !== shape.getTotalLength()) other.setAttribute('d', styled[1]);
    return other.getPathData({normalize: true});
  }

  function outline(shape) {
    const box = shape.getBBox();
    switch (shape.localName) {
      case 'path': return pathData(shape).map(s => [s.type, ...s.values]);
      case 'polygon': case 'polyline': return [...shape.points].map(p => [p.x, p.y]);
      case 'line': return [0, shape.getTotalLength()].map(s => shape.getPointAtLength(s)).map(p => [p.x, p.y]);
      case 'rect': return [box.x, box.y, box.width, box.height, ...corner(shape, box)];
      default: return [box.x, box.y, box.width, box.height];
    }
  }

  function isPainted(paint, opacity) {
    const [, id, fallback] = /^url\("?#([^")]*)"?\)\s*(.*)$/.exec(paint) || [];
    if (id !== undefined) {
      const server = document.getElementById(id);
      const known = server && /^(linearGradient|radialGradient|pattern)$/.test(server.localName);
      if (!known) return fallback !== '' && isPainted(fallback, opacity);
    }
    if (paint === 'none' || parseFloat(opacity) === 0) return false;
    const alpha = /(?:^rgba\([^)]*,|\/)\s*([\d.e+-]+)\s*\)$/.exec(paint);
    return alpha === null || parseFloat(alpha[1]) > 0;
  }

  function opacityOf(shape) {
    let product = 1;
    for (let e = shape; isElement(e); e = above(e)) product *= parseFloat(getComputedStyle(e).opacity || '1');
    return product;
  }

  // Inner svg elements, and symbols that are drawn, without a width or height draw nothing.
  function hasNoRoom(shape) {
    for (let e = above(shape); isElement(e) && e !== document.documentElement; e = above(e)) {
      if (e.localName !== 'svg' && e.localName !== 'symbol') continue;
      const style = getComputedStyle(e);
      const sides = [[style.width, e.width], [style.height, e.height]];
      const used = ([styled, own]) => parseFloat(styled === 'auto' && own ? own.baseVal.value : styled);
      if (sides.some(side => used(side) === 0)) return true;
    }
    return false;
  }

  function outermost(shape) {
    let e = shape;
    while (e.getRootNode() instanceof ShadowRoot) e = e.getRootNode().host;
    return e;
  }

  function measure(shape) {
    const style = getComputedStyle(shape), matrix = matrixOf(shape), s = shape.getTotalLength();
    const along = Array.from({length: 33}, (_, k) => shape.getPointAtLength(s * k / 32));
    const onScreen = along.map(p => new DOMPoint(p.x, p.y).matrixTransform(matrix));
    return {
      matrix: numbers(matrix), outline: outline(shape), along: along.map(p => [p.x, p.y]), opacity: opacityOf(shape),
      visible: style.visibility === 'visible', room: !hasNoRoom(shape),
      stroked: isPainted(style.stroke, style.strokeOpacity), filled: isPainted(style.fill, style.fillOpacity),
      width: style.strokeWidth.endsWith('px') ? parseFloat(style.strokeWidth) : measuredWidth(shape),
      fixed: style.vectorEffect === 'non-scaling-stroke',
      inside: onScreen.filter(p => p.x > 0 && p.y > 0 && p.x < width && p.y < height).length,
      hits: onScreen.filter(p => document.elementsFromPoint(p.x, p.y).includes(outermost(shape))).length,
    };
  }

  // The page itself: a transform on the root moves what is on it.
  const page = getComputedStyle(document.documentElement);
  const root = {width: parseFloat(page.width), height: parseFloat(page.height)};
  const width = Math.min(root.width, innerWidth), height = Math.min(root.height, innerHeight);
  const drawn = shapes.map(e => e.getClientRects().length > 0 && e.getTotalLength() > 0);
  return {size: [root.width, root.height], shapes: shapes.map((e, k) => drawn[k] ? measure(e) : null)};
}
"""


class BrowserError(RuntimeError):
    """The browser does not answer, or not as it should."""


def find_browser() -> str | None:
    """Return where Chromium is, or None."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


class Browser:
    """One start of Chromium, to open any number of files in; a context manager."""

    def __init__(self) -> None:
        program = find_browser()
        if program is None:
            msg = "there is no chromium on the PATH"
            raise BrowserError(msg)
        self._folder = Path(tempfile.mkdtemp(prefix="browser-"))
        profile = f"--user-data-dir={self._folder / 'profile'}"
        # It reads commands from file 3 and answers on file 4.
        self._process = subprocess.Popen(
            [
                "sh",
                "-c",
                'exec "$@" 3<&0 4>&1 0</dev/null 1>&2',
                "sh",
                program,
                *_FLAGS,
                profile,
                "about:blank",
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        self._count = 0
        self._rest = b""
        self._events: list[str] = []
        self._session = ""

    def __enter__(self) -> Self:
        try:
            self.version: str = self.ask("Browser.getVersion")["product"]
            targets = self.ask("Target.getTargets")["targetInfos"]
            page = next(target["targetId"] for target in targets if target["type"] == "page")
            self._session = self.ask("Target.attachToTarget", targetId=page, flatten=True)["sessionId"]
            self.ask("Page.enable")
        except BaseException:
            self.close()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """End the browser and remove what it has written."""
        try:
            self._session = ""
            self.ask("Browser.close")
            self._process.wait(10)
        except (BrowserError, OSError, subprocess.TimeoutExpired):
            self._process.kill()
            self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                pipe.close()
        shutil.rmtree(self._folder, ignore_errors=True)

    def ask(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Send a command and return its result."""
        self._count += 1
        message = {"id": self._count, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        assert self._process.stdin is not None
        self._process.stdin.write(json.dumps(message).encode() + b"\0")
        self._process.stdin.flush()
        while True:
            answer = self._receive()
            if answer.get("id") == self._count:
                break
            self._events.append(answer.get("method", ""))
        if "error" in answer:
            msg = f"{method}: {answer['error'].get('message')}"
            raise BrowserError(msg)
        result: dict[str, Any] = answer["result"]
        return result

    def _receive(self) -> dict[str, Any]:
        assert self._process.stdout is not None
        pipe, until = self._process.stdout.fileno(), time.monotonic() + _PATIENCE
        while b"\0" not in self._rest:
            ready, _, _ = select.select([pipe], [], [], max(until - time.monotonic(), 0))
            data = os.read(pipe, 1 << 20) if ready else b""
            if not data:
                msg = "the browser does not answer"
                raise BrowserError(msg)
            self._rest += data
        text, _, self._rest = self._rest.partition(b"\0")
        answer: dict[str, Any] = json.loads(text)
        return answer

    def open(self, path: Path, window: tuple[int, int]) -> None:
        """Open a file in a window of this size in px, and wait until it is loaded."""
        width, height = window
        self.ask(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=False,
        )
        self._events.clear()
        problem = self.ask("Page.navigate", url=path.as_uri()).get("errorText")
        if problem:
            msg = f"{path.name}: {problem}"
            raise BrowserError(msg)
        while "Page.loadEventFired" not in self._events:
            self._events.append(self._receive().get("method", ""))

    def look(self, case: Case) -> Sight:
        """Return what is drawn of a case."""
        path = self._folder / f"{case.name}.svg"
        path.write_bytes(case.data)
        self.open(path, case.window or _WINDOW)
        nodes = list(_shape_nodes(self.ask("DOM.getDocument", depth=-1, pierce=True)["root"], (), False))
        measured = self._measure([node for node, _, _ in nodes])
        shapes = []
        for (node, tag, copied), raw in zip(nodes, measured["shapes"], strict=True):
            seen = _seen(node, tag, copied, raw) if raw is not None else None
            if seen is not None:
                _check_hits(case.name, seen, raw)
                shapes.append(seen)
        width, height = measured["size"]
        return Sight((width * MM_PER_PX, height * MM_PER_PX), tuple(shapes))

    def _measure(self, nodes: list[dict[str, Any]]) -> dict[str, Any]:
        page = self.ask("Runtime.evaluate", expression="document")["result"]["objectId"]
        handles = [
            self.ask("DOM.resolveNode", backendNodeId=node["backendNodeId"])["object"] for node in nodes
        ]
        answer = self.ask(
            "Runtime.callFunctionOn",
            objectId=page,
            functionDeclaration=_MEASURE,
            arguments=[{"objectId": handle["objectId"]} for handle in handles],
            returnByValue=True,
        )
        if "exceptionDetails" in answer:
            raise BrowserError(answer["exceptionDetails"]["exception"].get("description", "a script failed"))
        value: dict[str, Any] = answer["result"]["value"]
        return value


def _shape_nodes(
    node: dict[str, Any], above: tuple[str, ...], copied: bool
) -> Iterator[tuple[dict[str, Any], str, bool]]:
    """Yield the shapes of a document in drawing order, the copies inside ``use`` where they are drawn."""
    tag = node["localName"]
    attributes = node.get("attributes", [])
    if tag in _SHAPES:
        yield (
            node | {"id": dict(zip(attributes[::2], attributes[1::2], strict=True)).get("id", "")},
            tag,
            copied,
        )
    # A symbol right inside a copy is drawn; anywhere else it is a template.
    if tag in _TEMPLATES or (tag == "symbol" and above[-1:] != ("use",)):
        return
    copies = [copy for root in node.get("shadowRoots", []) for copy in root["children"]]
    for child in copies:
        yield from _shape_nodes(child, (*above, tag), True)
    for child in node.get("children", []) if not copies else []:
        yield from _shape_nodes(child, (*above, tag), copied)


def _seen(node: dict[str, Any], tag: str, copied: bool, raw: dict[str, Any]) -> Seen | None:
    """Return a shape as it is drawn, or None if nothing of it is."""
    a, b, c, d, e, f = raw["matrix"]
    area = abs(a * d - b * c)
    stroke = raw["width"] * (1.0 if raw["fixed"] else np.sqrt(area)) * MM_PER_PX if raw["stroked"] else 0.0
    filled = raw["filled"] and tag != "line"
    shown = raw["visible"] and raw["room"] and raw["opacity"] > 0 and area > 0
    if not shown or not (stroke or filled):
        return None
    local = _outline(tag, raw["outline"])
    if not local:
        return None
    _check_outline(node["id"], local, np.array(raw["along"]))
    subpaths = [(part @ np.array([[a, b], [c, d]]) + (e, f)) * MM_PER_PX for part in local]
    length, points = _along(subpaths)
    return Seen(node["id"], tag, copied, length, points, float(stroke) or None, filled)


# --- outlines: a list of subpaths, each cubic Beziers (n, 4, 2) in user units -----------------------------------


def _outline(tag: str, raw: list[Any]) -> list[Array]:
    if tag == "path":
        subpaths = _path(raw)
    elif tag in {"line", "polyline", "polygon"}:
        corners = np.array(raw, dtype=np.float64).reshape(-1, 2)
        subpaths = [_lines(np.concatenate([corners, corners[:1]]) if tag == "polygon" else corners)]
    elif tag == "rect":
        subpaths = [_rectangle(*raw)]
    else:
        x, y, width, height = raw
        if width == 0 or height == 0:  # the browser still has a length for it, but paints nothing
            return []
        quarters = [_arc(x + width / 2, y + height / 2, width / 2, height / 2, 90 * k) for k in range(4)]
        subpaths = [np.concatenate(quarters)]
    return [part for part in subpaths if len(part) and np.ptp(part, axis=(0, 1)).max() > 0]


def _lines(corners: Array) -> Array:
    start, end = corners[:-1], corners[1:]
    return np.stack([start, (2 * start + end) / 3, (start + 2 * end) / 3, end], axis=1)


def _arc(cx: float, cy: float, rx: float, ry: float, begin: float) -> Array:
    """Return a quarter of an ellipse, clockwise as seen, from an angle in degrees; exact to 1e-9 of its radius."""
    pieces = 8
    angles = np.radians(begin + np.linspace(0, 90, pieces + 1))
    reach = 4 / 3 * np.tan(np.pi / 2 / pieces / 4)
    on = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    ahead = reach * np.stack([-np.sin(angles), np.cos(angles)], axis=1)
    unit = np.stack([on[:-1], (on + ahead)[:-1], (on - ahead)[1:], on[1:]], axis=1)
    arc: Array = unit * (rx, ry) + (cx, cy)
    return arc


def _rectangle(x: float, y: float, width: float, height: float, rx: float, ry: float) -> Array:
    right, bottom = x + width, y + height
    if width == 0 or height == 0:
        return np.empty((0, 4, 2))
    if rx == 0 or ry == 0:
        return _lines(np.array([(x, y), (right, y), (right, bottom), (x, bottom), (x, y)]))
    turns = [
        _arc(right - rx, y + ry, rx, ry, -90),
        _arc(right - rx, bottom - ry, rx, ry, 0),
        _arc(x + rx, bottom - ry, rx, ry, 90),
        _arc(x + rx, y + ry, rx, ry, 180),
    ]
    pieces = []
    for before, turn in zip([turns[-1], *turns], turns, strict=False):
        pieces += [_lines(np.array([before[-1, 3], turn[0, 0]])), turn]
    return np.concatenate(pieces)


def _path(commands: Iterable[list[Any]]) -> list[Array]:
    """Return the subpaths of path data that has only moves, lines, cubics and closings, in absolute numbers."""
    subpaths: list[list[Array]] = []
    start = at = np.zeros(2)
    for letter, *numbers in commands:
        points = np.array(numbers, dtype=np.float64).reshape(-1, 2)
        if letter == "M":
            start = at = points[0]
            subpaths.append([])
            continue
        if not subpaths:
            msg = f"path data begins with {letter}"
            raise BrowserError(msg)
        if letter == "Z":
            subpaths[-1].append(_lines(np.stack([at, start]))[0])
            subpaths.append([])
            at = start
            continue
        piece = _lines(np.stack([at, points[0]]))[0] if letter == "L" else np.stack([at, *points])
        subpaths[-1].append(piece)
        at = piece[-1]
    return [np.array(pieces) for pieces in subpaths if pieces]


# --- lengths ----------------------------------------------------------------------------------------------------

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(8)
_FINE = 32  # parts of a segment


def _at(controls: Array, t: Array) -> Array:
    """Return points (k, 2) of cubics (k, 4, 2), each at its own parameter."""
    u = t[:, None]
    a, b, c, d = (controls[:, k] for k in range(4))
    point: Array = (1 - u) ** 3 * a + 3 * u * (1 - u) ** 2 * b + 3 * u**2 * (1 - u) * c + u**3 * d
    return point


def _partial(controls: Array, begin: Array, end: Array) -> Array:
    """Return the lengths of cubics (k, 4, 2), each between two parameters of its own."""
    half = (end - begin)[:, None] / 2
    t = (begin[:, None] + half * (1 + _NODES))[..., None]
    legs = 3 * np.diff(controls, axis=1)
    a, b, c = (legs[:, k, None] for k in range(3))
    speed = np.linalg.norm((1 - t) ** 2 * a + 2 * t * (1 - t) * b + t**2 * c, axis=-1)
    length: Array = (half * _WEIGHTS * speed).sum(axis=1)
    return length


def _along(subpaths: list[Array]) -> tuple[float, Array]:
    """Return the length of some subpaths, and 33 points along them at equal distances."""
    segments = np.repeat(np.concatenate(subpaths), _FINE, axis=0)
    begin = np.tile(np.arange(_FINE) / _FINE, len(segments) // _FINE)
    ends = np.cumsum(_partial(segments, begin, begin + 1 / _FINE))
    wanted = np.linspace(0, ends[-1], STEPS + 1)
    part = np.minimum(np.searchsorted(ends, wanted), len(ends) - 1)
    segments, begin, rest = segments[part], begin[part], wanted - np.where(part > 0, ends[part - 1], 0)
    low, high = begin, begin + 1 / _FINE
    for _ in range(30):
        middle = (low + high) / 2
        short = _partial(segments, begin, middle) < rest
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return float(ends[-1]), _at(segments, low)


# --- the browser against itself ---------------------------------------------------------------------------------


def _check_outline(name: str, subpaths: list[Array], points: Array) -> None:
    """Raise an error unless points the browser puts on a shape lie on the outline found for it."""
    t = np.linspace(0, 1, 101)
    basis = np.stack([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3], axis=1)
    fine = np.concatenate([basis @ segment for part in subpaths for segment in part]).reshape(-1, 101, 2)
    start, step = fine[:, :-1].reshape(-1, 2), np.diff(fine, axis=1).reshape(-1, 2)
    squares = np.maximum((step**2).sum(axis=1), 1e-300)
    between = points[1:-1, None] - start  # the first may be that of a move that draws nothing
    share = np.clip((between * step).sum(axis=-1) / squares, 0, 1)
    off = np.linalg.norm(share[..., None] * step - between, axis=-1).min(axis=1)
    if off.max() > 5e-4 * max(float(np.ptp(fine, axis=(0, 1)).max()), 1e-6):
        msg = f"{name}: the browser puts {points[1 + off.argmax()]} on it, {off.max()} from the outline found"
        raise BrowserError(msg)


def _check_hits(case: str, seen: Seen, raw: dict[str, Any]) -> None:
    """Raise an error where a line counts as drawn, but the browser does not find it under a pointer anywhere."""
    if raw["stroked"] and (seen.stroke_width or 0) > 0.2 and raw["inside"] > 3 and not raw["hits"]:
        msg = f"{case}: {seen.name} counts as drawn, but is nowhere under a pointer"
        raise BrowserError(msg)


def look_at(cases: Iterable[Case]) -> tuple[str, dict[str, Sight]]:
    """Return the browser's name and version, and what it draws of each case."""
    with Browser() as browser:
        return re.sub(r"\s+", " ", browser.version), {case.name: browser.look(case) for case in cases}


def _record() -> int:
    version, sights = look_at(CASES.values())
    text = to_json(sights, {name: digest(case.data) for name, case in CASES.items()}, version)
    RECORDED.write_text(text, encoding="utf-8")
    count = sum(len(sight.shapes) for sight in sights.values())
    sys.stdout.write(f"{len(sights)} drawings, {count} shapes, {len(text)} bytes, seen by {version}\n")
    return 0


if __name__ == "__main__":
    sys.exit(_record())
