"""Many PDFs as one, each written out before the next is read, so that memory does not grow with their number.

Faces that several of them embed alike are written once.
"""

from __future__ import annotations

import hashlib
from array import array
from collections.abc import Mapping
from io import BytesIO
from typing import BinaryIO

from pypdf import PdfReader
from pypdf.generic import (
    ArrayObject,
    DictionaryObject,
    IndirectObject,
    NameObject,
    NumberObject,
    PdfObject,
    StreamObject,
    TextStringObject,
)

_HEADER = b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n"
_ROOT, _PAGES, _INFO = 1, 2, 3
_RESOURCES, _FACES = "/Resources", "/Font"
_LEFT_OUT = ("/Parent", "/Annots")
"""Of a page: its place among others, and links to pages that have other numbers here."""


class PdfMerge:
    """A PDF in the making. ``add`` puts all pages of another one behind those that are there, under a bookmark."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._offsets = array("Q", [0] * (_INFO + 1))
        self._faces = dict[bytes, int]()
        self._place = 0
        self._groups: list[tuple[int, int]] = []
        self._bookmarks: list[tuple[str, int]] = []
        self._write(_HEADER)

    @property
    def pages(self) -> int:
        """Number of pages so far."""
        return sum(count for _, count in self._groups)

    def add(self, pdf: bytes, bookmark: str) -> None:
        """Put all pages of a PDF behind the others."""
        with PdfReader(BytesIO(pdf)) as reader:
            self._add(reader, bookmark)

    def _add(self, reader: PdfReader, bookmark: str) -> None:
        group, known, kids = self._number(), dict[int, int](), ArrayObject()
        for page in reader.pages:
            number, copied = self._number(), DictionaryObject()
            for key in page:
                if key not in _LEFT_OUT:
                    copied[NameObject(key)] = self._copy(page.raw_get(key), known, key == _RESOURCES)
            copied[NameObject("/Parent")] = _reference(group)
            self._object(number, copied)
            kids.append(_reference(number))
        self._object(group, _page_list(kids, len(kids), _PAGES))
        self._groups.append((group, len(kids)))
        if kids:
            self._bookmarks.append((bookmark, kids[0].idnum))

    def close(self, title: str) -> None:
        """Write what holds the pages together; nothing can be added after it."""
        kids = ArrayObject(_reference(group) for group, _ in self._groups)
        self._object(_PAGES, _page_list(kids, self.pages, None))
        root = {"/Type": NameObject("/Catalog"), "/Pages": _reference(_PAGES)}
        if self._bookmarks:
            root |= {"/Outlines": _reference(self._outline()), "/PageMode": NameObject("/UseOutlines")}
        self._object(_ROOT, _dictionary(root))
        told = {"/Title": TextStringObject(title), "/Creator": TextStringObject("railgen")}
        self._object(_INFO, _dictionary(told))
        self._cross_reference()

    def _outline(self) -> int:
        """Write one bookmark for each PDF; returns the number of their root."""
        root = self._number()
        numbers = [self._number() for _ in self._bookmarks]
        for place, (title, page) in enumerate(self._bookmarks):
            target = ArrayObject([_reference(page), NameObject("/Fit")])
            item: dict[str, PdfObject] = {"/Title": TextStringObject(title), "/Parent": _reference(root)}
            item["/Dest"] = target
            if place:
                item["/Prev"] = _reference(numbers[place - 1])
            if place + 1 < len(numbers):
                item["/Next"] = _reference(numbers[place + 1])
            self._object(numbers[place], _dictionary(item))
        ends = {"/First": _reference(numbers[0]), "/Last": _reference(numbers[-1])}
        kind = {"/Type": NameObject("/Outlines"), "/Count": NumberObject(len(numbers))}
        self._object(root, _dictionary(kind | ends))
        return root

    def _copy(self, value: PdfObject, known: dict[int, int], resource: bool = False, face: bool = False) -> PdfObject:
        """A value with its references renumbered; what they lead to is written once. `known`: new numbers by old.

        ``resource``: it holds a page's resources; ``face``: it belongs to a face among them.
        """
        if isinstance(value, IndirectObject):
            if value.idnum not in known:
                found = value.get_object()
                copied = self._copy(found, known, resource, face) if found is not None else NumberObject(0)
                known[value.idnum] = self._face(copied) if face else self._new(copied)
            return _reference(known[value.idnum])
        if isinstance(value, ArrayObject):
            return ArrayObject(self._copy(item, known, face=face) for item in value)
        if isinstance(value, DictionaryObject):
            # A stream keeps its bytes in itself; its reader is this method's own, and read once.
            copied = value if isinstance(value, StreamObject) else DictionaryObject()
            for key in list(value):
                is_face = face or (resource and key == _FACES)
                copied[NameObject(key)] = self._copy(value.raw_get(key), known, face=is_face)
            return copied
        return value

    def _face(self, value: PdfObject) -> int:
        """The number of an object of a face, which is written unless one like it was."""
        digest = hashlib.sha256(_plain(value)).digest()
        if digest not in self._faces:
            self._faces[digest] = self._new(value)
        return self._faces[digest]

    def _new(self, value: PdfObject) -> int:
        number = self._number()
        self._object(number, value)
        return number

    def _number(self) -> int:
        self._offsets.append(0)
        return len(self._offsets) - 1

    def _object(self, number: int, value: PdfObject) -> None:
        self._offsets[number] = self._place
        self._write(b"%d 0 obj\n" % number + _plain(value) + b"\nendobj\n")

    def _cross_reference(self) -> None:
        start, size = self._place, len(self._offsets)
        self._write(b"xref\n0 %d\n0000000000 65535 f \n" % size)
        for number in range(1, size):
            self._write(b"%010d 00000 n \n" % self._offsets[number])
        self._write(b"trailer\n<< /Size %d /Root %d 0 R /Info %d 0 R >>\n" % (size, _ROOT, _INFO))
        self._write(b"startxref\n%d\n%%%%EOF\n" % start)

    def _write(self, content: bytes) -> None:
        self._stream.write(content)
        self._place += len(content)


def _plain(value: PdfObject) -> bytes:
    buffer = BytesIO()
    value.write_to_stream(buffer)
    return buffer.getvalue()


def _reference(number: int) -> IndirectObject:
    return IndirectObject(number, 0, None)


def _dictionary(values: Mapping[str, PdfObject]) -> DictionaryObject:
    return DictionaryObject({NameObject(key): value for key, value in values.items()})


def _page_list(kids: ArrayObject, count: int, parent: int | None) -> DictionaryObject:
    values: dict[str, PdfObject] = {"/Type": NameObject("/Pages"), "/Kids": kids, "/Count": NumberObject(count)}
    return _dictionary(values if parent is None else values | {"/Parent": _reference(parent)})
