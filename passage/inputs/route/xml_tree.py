"""Untrusted XML, read into a small tree with line numbers.

Document type declarations, entities and external references are refused before
they can do anything; depth and number of elements are bounded.
"""

from __future__ import annotations

import io
import re
import xml.sax
from dataclasses import dataclass, field
from xml.sax.handler import ContentHandler, feature_namespaces
from xml.sax.xmlreader import AttributesNSImpl

from defusedxml.common import DefusedXmlException
from defusedxml.expatreader import DefusedExpatParser

from passage.errors import Problem, RouteError

MAX_DEPTH = 40
MAX_ELEMENTS = 200_000
MAX_ATTRIBUTES = 100
#: A tag longer than this is found before it is parsed, attribute by attribute.
_LONG_TAG = re.compile(rb"<[^!<>][^<>]{20000}")


@dataclass
class Node:
    """One element; its namespace is kept apart from its names."""

    tag: str
    namespace: str
    line: int
    attributes: dict[str, str]
    text: str = ""
    children: list[Node] = field(default_factory=list)

    def all(self, *tags: str) -> list[Node]:
        """Children of these names, in document order."""
        return [child for child in self.children if child.tag in tags]

    def first(self, *tags: str) -> Node | None:
        """First child of these names."""
        return next((child for child in self.children if child.tag in tags), None)

    def words(self, tag: str) -> str:
        """Text of the first child of this name, or nothing."""
        child = self.first(tag)
        return child.text.strip() if child else ""


class _TooMuch(Exception):
    """Deeper, longer or wider than any route."""


class _Builder(ContentHandler):
    def __init__(self) -> None:
        super().__init__()
        self.root: Node | None = None
        self._open: list[Node] = []
        self._count = 0
        self._locator: xml.sax.xmlreader.Locator | None = None

    def setDocumentLocator(self, locator: xml.sax.xmlreader.Locator) -> None:
        self._locator = locator

    def startElementNS(
        self, name: tuple[str | None, str], qname: str | None, attrs: AttributesNSImpl
    ) -> None:
        self._count += 1
        if (
            self._count > MAX_ELEMENTS
            or len(self._open) >= MAX_DEPTH
            or len(attrs) > MAX_ATTRIBUTES
        ):
            raise _TooMuch
        line = self._locator.getLineNumber() if self._locator else 0
        node = Node(
            tag=name[1],
            namespace=name[0] or "",
            line=line or 0,
            attributes={key[1]: value for key, value in attrs.items() if not key[0]},
        )
        if self._open:
            self._open[-1].children.append(node)
        else:
            self.root = node
        self._open.append(node)

    def endElementNS(self, name: tuple[str | None, str], qname: str | None) -> None:
        self._open.pop()

    def characters(self, content: str) -> None:
        node = self._open[-1]
        # Names are short; longer text is left out on purpose.
        if len(node.text) < 2000:
            node.text += content


def parse_xml(data: bytes, file: str) -> Node:
    """The root of an XML file.

    Raises
    ------
    RouteError
        Not well-formed, with a document type or entities, in an encoding that
        cannot be read, or too deep or long.
    """
    parser = DefusedExpatParser(forbid_dtd=True, forbid_entities=True, forbid_external=True)
    builder = _Builder()
    too_much = (
        f"is nested deeper than {MAX_DEPTH}, longer than {MAX_ELEMENTS} elements or wider than "
        f"{MAX_ATTRIBUTES} attributes"
    )
    if _LONG_TAG.search(data):
        raise _refused(file, "", too_much, "Is it a route file?")
    parser.setFeature(feature_namespaces, True)
    parser.setContentHandler(builder)
    try:
        parser.parse(io.BytesIO(data))
    except DefusedXmlException as err:
        raise _refused(
            file,
            "",
            "has a document type or entities, which a route does not need and which can be harmful",
            "Remove the DOCTYPE part, or export the route again.",
        ) from err
    except xml.sax.SAXParseException as err:
        raise _refused(
            file,
            str(err.getLineNumber() or ""),
            f"is not well-formed XML: {err.getMessage()}",
            "The file may be cut short; export or fetch it again.",
        ) from err
    except (_TooMuch, LookupError, ValueError) as err:
        what = too_much if isinstance(err, _TooMuch) else "cannot be decoded"
        raise _refused(file, "", what, "Is it a route file?") from err
    if builder.root is None:
        raise _refused(file, "", "holds no XML element", "Is it a route file?")
    return builder.root


def _refused(file: str, place: str, what: str, fix: str) -> RouteError:
    return RouteError(str(Problem(file=file, place=place, what=what, fix=fix)))
