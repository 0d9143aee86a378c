"""Printed matter: a template with data and charts becomes a tagged PDF, the same bytes every time.

`typeset("run_sheet", data, title="Run sheet")` sets `templates/run_sheet.typ`. A template begins with
`#import "base.typ": *` and `#show: sheet`; it finds its data under the name `data` and shows charts with
`picture("name")`. Text from data is text: nothing in it is ever taken for layout.
"""

from __future__ import annotations

from calmday.reports.print.typesetting import PAPERS, Paper, Picture, picture_of, typeset

__all__ = ["PAPERS", "Paper", "Picture", "picture_of", "typeset"]
