"""One module for each format a drawing is written in.

In: a `Drawing`. Out: text or bytes, the same for the same drawing every time.

    svg              named groups, true millimetres
    png, settings    by matplotlib, whatever its user's settings are
    tiled_pdf        fold sheets at true size: tiling (arithmetic), page_marks (what joins pages)
    plotter, dxf     lines alone in a short order, for a scoring plotter
    html             pages that load nothing, every text escaped
"""
