"""What can be drawn, in millimetres, and how each kind looks.

In: points, lines, arcs and texts, each with a kind such as "ridge". Out: marks that every writer
knows.

    strokes            the marks and the drawing that holds them in named groups
    styles             colour, width and dash of every kind, one table for all formats
    dashes             the dashes of a style as they fit one line
    key                a sample of each kind with its meaning
    labels             the size of a text before it is drawn
    label_placement    labels put where no two touch (Christensen, Marks and Shieber 1995)
    names              parts by name, or by numbers with a list where there are many
    lines              the same drawing as lines alone, none drawn twice, for plotters
"""
