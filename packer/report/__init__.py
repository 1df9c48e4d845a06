"""Results as tables and sentences, shared by commands and pages.

In: packings, comparisons, plans, patterns, grids. Out: rows of text with their heads, sentences,
and pages of HTML.

    packing_table, plan_table, grid_table    one result as rows
    compare_table, levels_table              many results as rows
    settling_table, order_table              what settling changed; the order of folding
    sections                                 tables and sentences of a page, from results
    html_report, report_page                 the page that says all about a packing
    guide_page, guide_table                  a fold guide as a page, and in a few rows
"""
