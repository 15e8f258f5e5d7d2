"""A joined file: bookmarks, metadata, the wish not to be scaled."""

from __future__ import annotations

import io

import pikepdf

from buildsheets.print.join import bookmark
from buildsheets.print.render import PageInfo, Printed


def test_metadata_bookmarks_and_the_wish_not_to_be_scaled(rendered: Printed) -> None:
    with pikepdf.open(io.BytesIO(rendered.pdf)) as pdf:
        assert pdf.Root.ViewerPreferences.PrintScaling == "/None"
        assert pdf.Root.Lang == "en"
        assert pdf.docinfo["/Title"] == "Kiosk cards"
        assert pdf.docinfo["/Author"] == "Tin Roof Kiosk"
        assert pdf.docinfo["/Edition"] == "2026-3"
        assert "/CreationDate" not in pdf.docinfo
        with pdf.open_outline() as outline:
            titles = [str(item.title) for item in outline.root]
    assert titles[0].startswith("RCT-M  Roasted cloud tea")
    assert titles == [bookmark(page) for page in rendered.pages]


def test_a_part_is_named_in_its_bookmark() -> None:
    assert bookmark(PageInfo("A1", "Tea", 1, 1, 2, 3, 20.0)) == "A1  Tea 2/3"
