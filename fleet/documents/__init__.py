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
    photograph,
    picture,
    side_by_side,
    struck,
    text,
    title_block,
)
from fleet.documents.paper import CAUTION, Paper, build_pdf, count_pages

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
    "photograph",
    "picture",
    "side_by_side",
    "struck",
    "text",
    "title_block",
]
