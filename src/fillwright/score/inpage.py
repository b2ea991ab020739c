"""Engraved pages made safe and fit to stand inside an HTML page.

Only the elements and attributes an engraved page is made of pass; anything else, such as
scripts, style sheets, links and event handlers, is left out. Ids get a prefix, so that
several drawings can stand on one page. The rules of the engraver's style sheet are in the
page's own (``score.css``), because a strict Content-Security-Policy allows no other.
"""

from __future__ import annotations

from lxml import etree

__all__ = ["for_page"]

Element = etree._Element
_SVG = "http://www.w3.org/2000/svg"

_ELEMENTS = frozenset({"svg", "g", "defs", "path", "rect", "ellipse", "polygon", "polyline",
                       "line", "circle", "use", "text", "tspan", "symbol"})
_ATTRIBUTES = frozenset({
    "id", "class", "d", "x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "r", "rx", "ry", "width",
    "dx", "dy", "height", "points", "transform", "viewBox", "fill", "fill-opacity", "stroke",
    "stroke-width", "stroke-opacity", "stroke-linecap", "stroke-linejoin", "stroke-dasharray",
    "font-family", "font-size", "font-style", "font-weight", "text-anchor", "overflow", "color",
    "href", "data-gap", "data-bar", "data-onset", "data-text"})


def for_page(svg: str, prefix: str) -> str:
    """A clean copy whose ids begin with `prefix`. Raises ValueError for what is no SVG."""
    try:
        root = etree.fromstring(svg.encode("utf-8"), etree.XMLParser(
            resolve_entities=False, no_network=True, remove_comments=True, remove_pis=True,
            huge_tree=True))
    except etree.XMLSyntaxError as error:
        raise ValueError("not an SVG") from error
    if root.tag != f"{{{_SVG}}}svg":
        raise ValueError("not an SVG")
    _clean(root, prefix)
    root.set("class", "score")
    for name in ("overflow", "width", "height"):
        if name in root.attrib:
            del root.attrib[name]
    etree.cleanup_namespaces(root)
    return str(etree.tostring(root, encoding="unicode"))


def _clean(element: Element, prefix: str) -> None:
    for name, value in list(element.attrib.items()):
        key, text = str(name), str(value)
        if key not in _ATTRIBUTES or (key == "href" and not text.startswith("#")) or (
                "url(" in text.lower()):
            del element.attrib[name]
        elif key == "id":
            element.set("id", prefix + text)
        elif key == "href":
            element.set("href", f"#{prefix}{text[1:]}")
        elif key == "color" or (key in ("fill", "stroke") and text == "black"):
            element.set(key, "currentColor")
    for child in list(element):
        if not isinstance(child.tag, str) or etree.QName(child).namespace != _SVG or (
                etree.QName(child).localname not in _ELEMENTS) or (
                "placeholder" in (child.get("class") or "")):
            _drop(element, child)
        else:
            _clean(child, prefix)


def _drop(parent: Element, child: Element) -> None:
    """Remove an element but keep the text after it, which belongs to the parent."""
    tail = child.tail or ""
    before = child.getprevious()
    parent.remove(child)
    if before is not None:
        before.tail = (before.tail or "") + tail
    elif tail.strip():
        parent.text = (parent.text or "") + tail
