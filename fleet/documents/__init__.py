"""Printed documents: one template with head, cautions and "page x of y". Plain Python."""

from fleet.documents.blocks import (
    Heading,
    arranged,
    bullets,
    caution_box,
    data_table,
    facts,
    figure_line,
    marked,
    marked_cell,
    photograph,
    picture,
    side_by_side,
    struck,
    text,
    title_block,
)
from fleet.documents.paper import CAUTION, Paper, build_pdf, count_pages
from fleet.documents.small import small_pdf
from fleet.documents.tags import tagged, untagged

__all__ = [
    "CAUTION",
    "Heading",
    "Paper",
    "arranged",
    "build_pdf",
    "bullets",
    "caution_box",
    "count_pages",
    "data_table",
    "facts",
    "figure_line",
    "marked",
    "marked_cell",
    "photograph",
    "picture",
    "side_by_side",
    "small_pdf",
    "struck",
    "tagged",
    "text",
    "title_block",
    "untagged",
]
