"""What a reader of papers by ear finds in a PDF, read from its structure."""

from __future__ import annotations

import io
from collections import defaultdict
from typing import Any

import pypdf

import pdf_text


def faults(pdf: bytes) -> list[str]:
    """What is wrong with the tags of a PDF; ISO 14289-1:2014 (PDF/UA-1), clauses 5, 7.1 to 7.5, from memory of it."""
    read = pypdf.PdfReader(io.BytesIO(pdf))
    root, found = read.trailer["/Root"], defaultdict(list)
    _walk(root["/StructTreeRoot"], found)
    tables = [_kinds_in(one) for one in found["/Table"]]
    checks = {
        "not tagged": not root["/MarkInfo"]["/Marked"],
        "no language": not root.get("/Lang"),
        "no title": not (read.metadata and read.metadata.title),
        "title not shown": not root.get("/ViewerPreferences", {}).get("/DisplayDocTitle"),
        "does not say that it is PDF/UA-1": b"<pdfuaid:part>1</pdfuaid:part>" not in root["/Metadata"].get_data(),
        "no first heading": not found["/H1"],
        "a figure without words": not all(one.get("/Alt") for one in found["/Figure"]),
        "a table without heads": not all("/TH" in kinds for kinds in tables),
        "nothing to read": not pdf_text.pages(pdf)[0],
    }
    return [name for name, is_wrong in checks.items() if is_wrong]


def _walk(node: Any, found: dict[str, list[Any]]) -> None:
    node = node.get_object() if hasattr(node, "get_object") else node
    if isinstance(node, list):
        for one in node:
            _walk(one, found)
    elif isinstance(node, dict):
        if "/S" in node:
            found[node["/S"]].append(node)
        if "/K" in node:
            _walk(node["/K"], found)


def _kinds_in(node: Any) -> set[str]:
    found: dict[str, list[Any]] = defaultdict(list)
    _walk(node, found)
    return set(found)
