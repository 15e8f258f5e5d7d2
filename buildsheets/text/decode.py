"""Nodes to records: a node and a record type go in, a record or findings come out."""

from __future__ import annotations

from buildsheets.core.quantity import Quantity
from buildsheets.text.shapes import BySize, Id, Kinds, Named, Record, Ref, Words, about

__all__ = ["BySize", "Id", "Kinds", "Named", "Quantity", "Record", "Ref", "Words", "about"]
